//! A moment at its end bends a straight rod into a full circle: `M L/B = 2 pi` (closed form).

use std::f64::consts::TAU;

use nalgebra::Vector3;

use crate::evidence::scenes::{Stiffness, clamped, order, settle_stiff, straight};
use crate::evidence::{Broken, Check, Origin, Readings, Rests, Set};
use crate::rod::Rod;
use crate::solve::{Body, Load, Newton};

const LENGTH: f64 = 10.0;
const BEND: f64 = 50.0;
/// Load steps, and largest number of times the couple is turned after the edge in one.
const STEPS: u32 = 20;
const TURNS: u32 = 20;
/// Turn of the edge in rad under which the couple is at rest: the moment is then wrong by half of
/// its square.
const TURNED: f64 = 1e-5;

/// A moment about z on the last edge: a couple on its two nodes, across the edge.
fn couple(rod: &Rod, moment: f64) -> Vec<Load> {
    let last = rod.nodes() - 1;
    let force =
        Vector3::z().cross(&rod.tangent(last - 1)) * moment / rod.kinematics().length[last - 1];
    let on = |node: usize, sign: f64| {
        (0..2).map(move |c| Load {
            unknown: 4 * node + c,
            force: sign * force[c],
        })
    };
    on(last - 1, -1.0).chain(on(last, 1.0)).collect()
}

/// Brings the rod to equilibrium with a couple that follows the last edge.
fn follow(newton: &mut Newton, body: &mut Body<'_>, moment: f64) -> Result<(), Broken> {
    for _ in 0..TURNS {
        body.loads = couple(&body.rod, moment);
        let before = body.rod.tangent(body.rod.nodes() - 2);
        settle_stiff(newton, body, 1e-6)?;
        if (body.rod.tangent(body.rod.nodes() - 2) - before).norm() < TURNED {
            return Ok(());
        }
    }
    Err(Broken("the couple does not settle".into()))
}

/// Distance of the two ends of the rod over its length. The couple acts at the middle of the last
/// edge and the clamp at the middle of the first, so these are the ends.
fn gap(edges: usize) -> Result<f64, Broken> {
    // `straight` measures to the last node, half an edge beyond the end.
    let to_last_node = LENGTH * (edges as f64 - 0.5) / (edges as f64 - 1.0);
    let stiffness = Stiffness::inextensible(BEND, 1.3, LENGTH);
    let mut body = clamped(straight(edges, to_last_node, stiffness));
    // Two dead forces do not follow an edge that leaves the plane, and so let it: hold the plane.
    body.fixed = (0..body.rod.q.len())
        .filter(|k| k % 4 >= 2 || *k < 8)
        .collect();
    let mut newton = Newton::default();
    for step in 1..=STEPS {
        let moment = TAU * BEND / LENGTH * f64::from(step) / f64::from(STEPS);
        follow(&mut newton, &mut body, moment)?;
    }
    let middle = |i: usize| 0.5 * (body.rod.node(i) + body.rod.node(i + 1));
    Ok((middle(edges - 1) - middle(0)).norm() / LENGTH)
}

pub const CHECK: Check = Check {
    name: "circle",
    question: "Does a moment at its end bend a rod into a circle?",
    origin: Origin::ClosedForm,
    source: "M L/B = 2 pi (Euler's elastica)",
    scene: "A straight rod held at one end, a moment of 2 pi B/L at the other; 160 edges",
    carries: &[Rests::Push, Rests::Wall, Rests::Tip, Rests::Outcome],
    set: Set::Short,
    covers: || Vec::new(),
    measure,
};

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    let gaps = [40, 80, 160]
        .into_iter()
        .map(gap)
        .collect::<Result<Vec<_>, _>>()?;
    readings.share("gap between the ends over the length", gaps[2], 1e-3);
    readings.order("gap between the ends", order(&gaps), 1.8);
    Ok(())
}
