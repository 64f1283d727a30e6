//! A cantilever with a plastic core under an end force, up to near its collapse.
//!
//! Small deflection: `delta/delta_y = 3 int_0^1 khat(F/F_y x) x dx` with `khat` the inverse of the
//! section's closed curve; the numbers were computed independently in two ways that agree to 1e-7.

use nalgebra::Vector3;

use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::rod::{CoreCell, CoreLaw, Edge, Hinge, Rod, section};
use crate::solve::{Body, Load, Newton, NewtonOptions};

/// Force, deflection and residual deflection over those at first yield.
const TABLE: [[f64; 3]; 5] = [
    [1.0, 1.000_000, 0.000_000],
    [1.2, 1.204_488, 0.004_488],
    [1.4, 1.448_702, 0.048_702],
    [1.6, 1.855_093, 0.255_093],
    [1.68, 2.258_785, 0.578_785],
];

const LENGTH: f64 = 10.0;
const BEND: f64 = 50.0;
/// Curvature at first yield in 1/mm: small, so that deflections stay so.
const YIELD: f64 = 1e-3;
/// Edges; the plastic part of the length is cut into a third of them.
const EDGES: usize = 400;

/// The cantilever, held at both nodes of its first edge, in the middle of which the clamp is.
fn cantilever() -> Body<'static> {
    let h = LENGTH / (EDGES as f64 - 0.5);
    let nodes: Vec<_> = (0..=EDGES)
        .map(|i| Vector3::x() * ((i as f64 - 0.5) * h))
        .collect();
    let edge = Edge {
        rest_length: h,
        axial_stiffness: 1e2 * BEND / (LENGTH * LENGTH),
    };
    let mut hinges = vec![Hinge::uniform(h, BEND, BEND / 1.3); EDGES + 1];
    let core = CoreCell::new(CoreLaw::Plastic, YIELD * h, [0.0; 2], Vec::new());
    hinges[0] = Hinge::uniform(h, BEND, BEND / 1.3);
    let mut rod = Rod::new(&nodes, vec![edge; EDGES], hinges, Vector3::z());
    rod.core = vec![core; EDGES + 1];
    let mut body = Body::new(rod);
    body.fix_node(0);
    body.fix_node(1);
    body.fix_rotation(0);
    body.loads = vec![Load {
        unknown: 4 * EDGES + 1,
        force: 0.0,
    }];
    body
}

/// Puts the end force, over that at first yield, on and lets the cantilever flow; returns the
/// deflection over that at first yield.
fn load(body: &mut Body<'_>, force: f64) -> Option<f64> {
    let unit = BEND * YIELD / LENGTH;
    body.loads[0].force = force * unit;
    body.begin();
    let options = NewtonOptions {
        max_iterations: 300,
        small_step: 1e-12,
        ..NewtonOptions::with_tolerance(1e-6 * unit)
    };
    Newton::default().equilibrate(body, &options).ok()?;
    body.settle();
    let unit = unit * LENGTH.powi(3) / (3.0 * BEND);
    Some(body.rod.node(EDGES).y / unit)
}

pub const CHECK: Check = Check {
    name: "plastic-cantilever",
    question: "How far does a wire bend whose core yields, and what is left when it is let go?",
    origin: Origin::Computed,
    source: "small-deflection plasticity, integrated in two ways that agree to 1e-7",
    scene: "A cantilever with a plastic core under an end force up to 1.68 of that at first yield; 400 edges",
    carries: &[Rests::Set, Rests::Wall, Rests::Outcome],
    set: Set::Short,
    covers: || vec![Covered::over(Input::Stiffness, &[BEND])],
    measure,
};

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    let none = || Broken("no equilibrium below the force of collapse".into());
    for [force, deflection, residual] in TABLE {
        let mut body = cantilever();
        let found = load(&mut body, force).ok_or_else(none)?;
        readings.share(
            format!("force {force}: deflection"),
            found / deflection - 1.0,
            0.01,
        );
        let left = load(&mut body, 0.0).ok_or_else(none)?;
        let what = format!("force {force}: residual deflection");
        if residual > 0.0 {
            readings.share(what, left / residual - 1.0, 0.01);
        } else {
            readings.error(what, left, "", 1e-6);
        }
    }
    // By the law of small deflection the deflection grows without bound at collapse. Here geometry stops
    // it: the arm of the force shortens by as much as the force is above collapse.
    let below = load(&mut cantilever(), 0.995 * section::COLLAPSE).ok_or_else(none)?;
    let above = load(&mut cantilever(), 1.01 * section::COLLAPSE);
    readings.bound("0.5 % below collapse: deflection", below, "", 3.0);
    let grown = above.map_or(0.0, |above| 5.0 * below / above);
    let what = "1 % above collapse: 5 times the deflection below it, over the deflection";
    readings.bound(what, grown, "", 1.0);
    Ok(())
}
