//! Newton iterations: how many a cantilever takes, and what one costs.

use bendwise::evidence::scenes::{Stiffness, end_loaded, settle};
use bendwise::solve::{Banded, Factor, Newton, NewtonOptions};

use super::resting_wire::{resting, winding_tube};
use super::{Limit, Line, by_clock};

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
