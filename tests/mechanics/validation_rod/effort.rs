//! How many Newton iterations a cantilever takes.

use bendwise::evidence::scenes::{Stiffness, end_loaded, settle};
use bendwise::solve::{Body, Newton};

use super::at_most;

const LENGTH: f64 = 10.0;
const BEND: f64 = 50.0;
const TOLERANCE: f64 = 1e-6;

/// Puts on a load in units of B/L².
fn set_load(body: &mut Body<'_>, load: f64) {
    body.loads[0].force = load * BEND / (LENGTH * LENGTH);
}

/// A rod that strains by 1e-3 under the largest load, the most that is allowed in use.
fn ordinary() -> Stiffness {
    Stiffness {
        bend: BEND,
        twist: BEND / 1.3,
        stretch: 1e4 * BEND / (LENGTH * LENGTH),
    }
}

#[test]
fn newton_needs_few_iterations_for_a_cantilever() {
    let mut body = end_loaded(60, LENGTH, ordinary());
    let mut newton = Newton::default();
    let mut most = 0;
    for step in 1..=20 {
        set_load(&mut body, 0.5 * f64::from(step));
        most = most.max(settle(&mut newton, &mut body, TOLERANCE).expect("an equilibrium"));
    }
    at_most(
        "Newton iterations, cantilever in 20 steps, most in a step",
        f64::from(most),
        5.0,
    );

    for load in [3.0, 10.0] {
        let mut body = end_loaded(60, LENGTH, ordinary());
        set_load(&mut body, load);
        at_most(
            &format!("Newton iterations, cantilever under {load} B/L² in one step"),
            f64::from(settle(&mut newton, &mut body, TOLERANCE).expect("an equilibrium")),
            12.0,
        );
    }
}
