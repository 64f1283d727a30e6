//! Newton iterations: how many a cantilever takes, and what one costs.

use bendwise::contact::{Contact, Surface};
use bendwise::evidence::scenes::{Stiffness, end_loaded, settle};
use bendwise::rod::{Edge, Hinge, Rod};
use bendwise::scenario::model::{PieceSpec, VesselSpec};
use bendwise::solve::{Banded, Body, Factor, Newton, NewtonOptions, Update};
use bendwise::vessel::Tree;
use nalgebra::Vector3;

use super::{Limit, Line, by_clock};

const EDGE_MM: f64 = 0.25;
const BENDING: f64 = 50.0;

pub fn lines() -> Vec<Line> {
    let mut lines = vec![iteration()];
    for (what, load) in [
        ("iterations, cantilever, P L²/EI = 3 in one step", 3.0),
        ("iterations, cantilever, P L²/EI = 10 in one step", 10.0),
    ] {
        lines.push(Line {
            what,
            measured: cantilever(load),
            limit: (12.0, Limit::AtMost),
        });
    }
    lines
}

/// Iterations of a cantilever of 60 edges that strains by 1e-3 under a load of 10.
fn cantilever(load: f64) -> f64 {
    const LENGTH_MM: f64 = 10.0;
    let unit = BENDING / (LENGTH_MM * LENGTH_MM);
    let stiffness = Stiffness {
        bend: BENDING,
        twist: BENDING / 1.3,
        stretch: 1e4 * unit,
    };
    let mut body = end_loaded(60, LENGTH_MM, stiffness);
    body.loads[0].force = load * unit;
    let found = settle(&mut Newton::default(), &mut body, 1e-6);
    found.map_or(f64::INFINITY, f64::from)
}

/// Seconds of a factorisation with its solution, for a rod of so many nodes.
pub fn factor_and_solve(nodes: usize) -> f64 {
    let tube = winding_tube();
    let mut body = resting(&tube, nodes);
    let (mut gradient, mut hessian) = (Vec::new(), Banded::default());
    body.assemble(&mut gradient, &mut hessian);
    let scale = hessian.largest_diagonal();
    for &i in &body.fixed {
        hessian.fix(i, scale);
        gradient[i] = 0.0;
    }
    const TIMES: u32 = 50;
    let mut factor = Factor::default();
    let mut step = gradient.clone();
    let all = by_clock(21, || {
        for _ in 0..TIMES {
            assert!(std::hint::black_box(&hessian).factorise(0.0, &mut factor));
            step.copy_from_slice(&gradient);
            factor.solve(&mut step);
        }
    });
    all / f64::from(TIMES)
}

/// A whole iteration of the search on the potential, of a wire in contact with 200 nodes.
fn iteration() -> Line {
    const NODES: usize = 200;
    const TIMES: usize = 20;
    let tube = winding_tube();
    let body = resting(&tube, NODES);
    let options = NewtonOptions::with_tolerance(1e-9);
    let mut newton = Newton::default();
    let mut taken = Vec::new();
    for _ in 0..21 {
        let mut copies = vec![body.clone(); TIMES];
        taken.push(by_clock(1, || {
            for body in &mut copies {
                let _ = newton.assess(body, &options);
                std::hint::black_box(newton.step(body, &options));
            }
        }));
    }
    taken.sort_by(f64::total_cmp);
    Line {
        what: "an iteration on the potential over factor and solve, 200 nodes",
        measured: taken[10] / TIMES as f64 / factor_and_solve(NODES),
        limit: (2.0, Limit::AtMost),
    }
}

/// Bends of 60 degrees and 6 mm radius, one to the left and one to the right in turn.
fn winding_tube() -> Tree {
    let bends = (0..10).map(|_| PieceSpec::SBend {
        radius_mm: 6.0,
        angle_rad: 60f64.to_radians(),
        plane_rad: 0.0,
    });
    let spec = VesselSpec::single_tube(bends.collect(), 1.2);
    Tree::build(&spec).unwrap_or_else(|error| panic!("{error}"))
}

/// A wire of `nodes` nodes a quarter of a millimetre apart that has come to rest in the tube, held at its
/// end, and then a little off its equilibrium, as within a step.
fn resting(tube: &Tree, nodes: usize) -> Body<'_> {
    let line = &tube.branches()[0].centreline;
    let place = |i: usize| line.position(1.0 + EDGE_MM * i as f64);
    let places: Vec<_> = (0..nodes).rev().map(place).collect();
    let edge = Edge {
        rest_length: EDGE_MM,
        axial_stiffness: 5e4,
    };
    let hinge = Hinge::uniform(EDGE_MM, BENDING, BENDING / 1.3);
    let bent = hinge.curved([0.2, 0.0]);
    let hinges = (0..nodes).map(|i| if i < 16 { bent } else { hinge });
    let rod = Rod::new(
        &places,
        vec![edge; nodes - 1],
        hinges.collect(),
        Vector3::z(),
    );
    let surface = Surface {
        radius: 0.18,
        friction: 0.05,
        wall: 300.0.into(),
        spacing: EDGE_MM + 1e-9,
    };
    let contact = Contact::new(tube, surface, &rod, nodes - 2, true);
    let mut body = Body::new(rod).with_contact(contact);
    body.update = Update::FromLastNode;
    body.fix_node(nodes - 2);
    body.fix_node(nodes - 1);
    body.fix_rotation(nodes - 2);
    Newton::default()
        .equilibrate(&mut body, &NewtonOptions::with_tolerance(1e-4))
        .unwrap_or_else(|error| panic!("{error}"));
    body.settle();
    body.begin();
    let mut q = body.rod.q.clone();
    for i in 0..nodes - 2 {
        q[4 * i + 2] += 2e-5 * (0.3 * i as f64).sin();
    }
    body.move_to(&q);
    body
}
