//! Friction of coated wires.

use super::{Experiment, Pair, Value};
use crate::contact::{WallSpec, WalledLumen};
use crate::evidence::scenes::{BendTube, guide_tip, list_wire};
use crate::evidence::{Broken, Covered, Input};
use crate::solve::{Assembly, Start, StepSettings};

pub const EXPERIMENT: Experiment = Experiment {
    name: "coatings",
    question: "By how much do coatings lower the force of sliding through a bend?",
    source: "Schroeder 1993, Cardiovasc. Intervent. Radiol. 16:93 (abstract seen): PTFE half, hydrophilic about a sixth of \
             steel",
    scene: "A wire of 50 mN mm² fed 30 mm through a quarter circle of 10 mm radius with friction 0.18, 0.09 and 0.03, \
            and with none: what the friction adds to the push",
    uncertainty: "the published ratios are taken as known to 20 %, of which the abstract says nothing; the simulated \
                  ones to 2 % of their mesh",
    unknown: &["the path and the load of the measurement", "its spread"],
    says_little: "the ratios are those of the frictions that went in",
    covers: || vec![Covered::over(Input::Friction, &FRICTIONS)],
    compare,
};

/// Frictions of steel, PTFE and hydrophilic surfaces.
const FRICTIONS: [f64; 3] = [0.18, 0.09, 0.03];
/// Spread of the published ratios, of which nothing is said, and of the simulated ones.
const SPREAD: f64 = 0.2;
const MESH: f64 = 0.02;

fn compare() -> Result<Vec<Pair>, Broken> {
    let none = work(0.0)?;
    let mut added = Vec::new();
    for friction in FRICTIONS {
        added.push(work(friction)? - none);
    }
    Ok(vec![
        pair("PTFE", added[1] / added[0], 1.0 / 2.0),
        pair("a hydrophilic surface", added[2] / added[0], 1.0 / 6.0),
    ])
}

/// Holds what a surface adds, over what steel adds, against the published ratio.
pub(super) fn pair(name: &str, found: f64, published: f64) -> Pair {
    Pair::new(
        format!("what {name} adds over what steel adds"),
        Value::about(published, SPREAD * published),
        Value::about(found, MESH * found),
    )
}

/// Work of the hand in mN mm of a wire of that friction fed through the bend.
fn work(friction: f64) -> Result<f64, Broken> {
    let tube = BendTube {
        lead: 5.0,
        bend: 10.0,
        angle: 90f64.to_radians(),
        radius: 1.5,
    };
    let start = Start {
        outside_mm: 5.0,
        longest_mm: 60.0,
        roll_rad: 0.0,
    };
    let wire = list_wire(50.0, 0.36, friction)?;
    let lumen = WalledLumen::new(&tube, WallSpec::default());
    let settings = StepSettings::default();
    let mut wire = Assembly::straight(&wire, lumen, guide_tip(), settings, start)?;
    let mut work = 0.0;
    for _ in 0..60 {
        wire.feed(0.5)?;
        work += 0.5 * wire.push_force();
    }
    Ok(work)
}
