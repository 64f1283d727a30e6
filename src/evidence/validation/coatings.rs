//! Friction of coated wires.

use super::{Experiment, Pair};
use crate::contact::WalledLumen;
use crate::evidence::Broken;
use crate::evidence::scenes::{BendTube, guide_tip, list_wire};
use crate::solve::{Assembly, Start, StepSettings};

pub const EXPERIMENT: Experiment = Experiment {
    name: "coatings",
    question: "By how much do coatings lower the force of sliding through a bend?",
    source: "Schroeder 1993, Cardiovasc. Intervent. Radiol. 16:93 (abstract): PTFE half, hydrophilic about a sixth of \
             steel",
    scene: "A wire of 50 mN mm² fed 30 mm through a quarter circle of 10 mm radius with friction 0.18, 0.09 and 0.03, \
            and with none: what the friction adds to the push",
    unknown: &[
        "the path and the load of the measurement",
        "its spread: it is taken as 20 % here",
        "whether it is a test at all: the ratios are those of the frictions that went in",
    ],
    unknown_decides: true,
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
    let pair = |name: &str, found: f64, published: f64| {
        let ratio = found / added[0];
        Pair::of_ranges(
            format!("what {name} adds over what steel adds"),
            (
                format!("{published:.2}"),
                [published * (1.0 - SPREAD), published * (1.0 + SPREAD)],
            ),
            (
                format!("{ratio:.3}"),
                [ratio * (1.0 - MESH), ratio * (1.0 + MESH)],
            ),
        )
    };
    Ok(vec![
        pair("PTFE", added[1], 1.0 / 2.0),
        pair("a hydrophilic surface", added[2], 1.0 / 6.0),
    ])
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
    let lumen = WalledLumen::new(&tube, 300.0);
    let settings = StepSettings::default();
    let mut wire = Assembly::straight(&wire, lumen, guide_tip(), settings, start)?;
    let mut work = 0.0;
    for _ in 0..60 {
        wire.feed(0.5)?;
        work += 0.5 * wire.push_force();
    }
    Ok(work)
}
