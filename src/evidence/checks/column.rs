//! Euler's column: critical loads `pi² B/(K L)²` (closed form; Euler 1744), with `K = 2` for
//! fixed-free and `K = 0.6991556596` (`tan x = x`) for fixed-pinned ends.

use nalgebra::Vector3;

use crate::evidence::scenes::{
    Stiffness, bisect, clamped, is_stable, order, settle_stiff, straight,
};
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::solve::{Body, Load, Newton};

const LENGTH: f64 = 10.0;
const BEND: f64 = 50.0;

struct Ends {
    name: &'static str,
    /// Critical load times L²/B.
    critical: f64,
    /// Whether the tip may move across.
    free: bool,
}

const ENDS: [Ends; 2] = [
    Ends {
        name: "fixed-free",
        critical: 2.467_401_100_272_34,
        free: true,
    },
    Ends {
        name: "fixed-pinned",
        critical: 20.190_728_556_426_63,
        free: false,
    },
];

/// A straight column along x; the tip's motion along x is held where `pushed`.
fn column(edges: usize, ends: &Ends, pushed: bool) -> Body<'static> {
    let mut body = clamped(straight(
        edges,
        LENGTH,
        Stiffness::inextensible(BEND, 1.3, LENGTH),
    ));
    let tip = 4 * edges;
    if pushed {
        body.fixed.push(tip);
    }
    if !ends.free {
        body.fixed.extend([tip + 1, tip + 2]);
    }
    body
}

/// Load at which the straight column stops being a minimum of the potential.
fn load_by_inertia(edges: usize, ends: &Ends) -> Result<f64, Broken> {
    let unit = BEND / (LENGTH * LENGTH);
    bisect(0.5 * ends.critical, 2.0 * ends.critical, |load| {
        let mut body = column(edges, ends, false);
        let edge = body.rod.edges[1];
        let h = edge.rest_length * (1.0 - load * unit / edge.axial_stiffness);
        let root = body.rod.node(1);
        for i in 2..=edges {
            body.rod
                .set_node(i, &(root + Vector3::x() * (h * (i as f64 - 1.0))));
        }
        body.rod.refresh();
        // Along a straight column and across it, the Hessian falls into two parts. The part along
        // is that of a spring; without its large numbers the other is judged more sharply.
        body.fixed = (0..=edges).map(|i| 4 * i).chain(body.fixed).collect();
        body.fixed.sort_unstable();
        body.fixed.dedup();
        is_stable(&mut body)
    })
}

/// Shortenings over L at which the push force is read, equally spaced from 0.
const SHORTENINGS: [f64; 4] = [0.005, 0.01, 0.015, 0.02];
/// Side load that seeds the plane, over the critical load.
const IMPERFECTION: f64 = 1e-6;

/// Push force of the buckled column, times L²/B, carried back along a cubic through four
/// shortenings to none.
fn load_by_push(edges: usize, ends: &Ends) -> Result<f64, Broken> {
    let unit = BEND / (LENGTH * LENGTH);
    let mut body = column(edges, ends, true);
    // The buckled column may turn about its axis at no cost: hold its plane.
    body.fixed.extend((2..edges).map(|i| 4 * i + 2));
    if ends.free {
        body.fixed.push(4 * edges + 2);
    }
    body.fixed.sort_unstable();
    body.loads = vec![Load {
        unknown: 4 * (edges / 2) + 1,
        force: IMPERFECTION * ends.critical * unit,
    }];
    let mut newton = Newton::default();
    let mut push = Vec::new();
    for shortening in SHORTENINGS {
        // Ten steps of push to each reading.
        let from = body.rod.node(edges).x;
        let to = LENGTH * (1.0 - shortening);
        for k in 1..=10 {
            let mut tip = body.rod.node(edges);
            tip.x = from + (to - from) * f64::from(k) / 10.0;
            body.rod.set_node(edges, &tip);
            body.rod.refresh();
            settle_stiff(&mut newton, &mut body, 1e-6)?;
        }
        push.push(-newton.gradient[4 * edges] / unit);
    }
    Ok(4.0 * push[0] - 6.0 * push[1] + 4.0 * push[2] - push[3])
}

/// Edges with which the column is pushed, and meshes on which the loss of stability is looked for.
const EDGES: usize = 60;
const ORDER: [usize; 3] = [15, 30, EDGES];

pub const CHECK: Check = Check {
    name: "column",
    question: "At which load does a pushed rod give way sideways (the tip load of a wire)?",
    origin: Origin::ClosedForm,
    source: "Euler 1744: pi² B/(K L)², K = 2 and 0.6992 (tan x = x)",
    scene: "A straight rod held at one end, the other free or on a pin, pushed along; 60 edges",
    carries: &[Rests::Push, Rests::Tip, Rests::Outcome],
    set: Set::Short,
    covers: || vec![Covered::over(Input::Stiffness, &[BEND])],
    measure,
};

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    for ends in &ENDS {
        let load = load_by_push(EDGES, ends)?;
        readings.share(
            format!("{}, push force carried back to buckling", ends.name),
            load / ends.critical - 1.0,
            1e-2,
        );
        let mut errors = Vec::new();
        for edges in ORDER {
            errors.push(load_by_inertia(edges, ends)? / ends.critical - 1.0);
        }
        let name = ends.name;
        readings.share(format!("{name}, loss of stability"), errors[2], 1e-2);
        readings.order(format!("{name}, loss of stability"), order(&errors), 1.8);
    }
    Ok(())
}
