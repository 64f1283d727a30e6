//! A pull test of three surfaces: a wire drawn between plates, and round a bend.

use std::f64::consts::PI;

use nalgebra::Vector3;

use super::cord::{BEND_MM, DEAD_LOAD, EDGE_MM, LUMEN_MM, cord, draw, may_be_off, planar};
use crate::evidence::scenes::{BendTube, Cord, Floor, Pulled};
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};

/// Friction coefficients of a steel, a PTFE-coated and a hydrophilic wire in the ratio 6 : 3 : 1
/// of Schroeder, *Cardiovasc. Intervent. Radiol.* 16:93, 1993.
const SURFACES: [f64; 3] = [0.18, 0.09, 0.03];

pub const CHECK: Check = Check {
    name: "surfaces",
    question: "Does a pull test find the ratio of friction of coated wires that went in?",
    origin: Origin::Published,
    source: "Schroeder 1993, Cardiovasc. Intervent. Radiol. 16:93: steel : PTFE : hydrophilic = 6 : 3 : 1 \
             (abstract); the coefficients themselves are inputs",
    scene: "A wire drawn between plates that press it with 0.5 mN/mm, and round a right-angled bend",
    carries: &[Rests::Push, Rests::Torque],
    set: Set::Short,
    covers: || vec![Covered::over(Input::Friction, &SURFACES)],
    measure,
};

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    between_plates(readings)?;
    round_a_bend(readings)
}

/// A wire pressed onto a plane by a given load, half a mN per mm, and drawn along.
fn between_plates(readings: &mut Readings) -> Result<(), Broken> {
    let nodes: Vec<_> = (0..=40)
        .map(|i| Vector3::new(-0.5 * f64::from(i), 0.0, 0.18))
        .collect();
    // The plane is exact: what is left is the residual allowed at each node.
    let residuals = nodes.len() as f64 * cord(0.0).tolerance;
    for friction in SURFACES {
        let cord = Cord {
            radius: 0.18,
            bending: 50.0,
            ..cord(friction)
        };
        let mut wire = Pulled::new(&cord, &Floor, &nodes, 0, 1.0);
        for i in 0..=40 {
            wire.load(i, 2, if i == 0 || i == 40 { -0.125 } else { -0.25 });
        }
        for _ in 0..20 {
            wire.pull(0.05)?;
        }
        let what = format!("between plates, friction {friction}: force off mu N");
        readings.error(what, wire.force() - friction * 10.0, "mN", residuals);
    }
    Ok(())
}

/// Through a right-angled bend at a tenth of the friction, where the capstan law is all but linear: what
/// the friction adds to the dead load.
fn round_a_bend(readings: &mut Readings) -> Result<(), Broken> {
    let tube = BendTube {
        lead: 8.0,
        bend: BEND_MM,
        angle: 0.5 * PI,
        radius: LUMEN_MM,
    };
    let nodes = planar(0.5 * PI, EDGE_MM);
    let mut added = Vec::new();
    for friction in SURFACES.map(|mu| 0.1 * mu) {
        let (wire, _) = draw(&cord(friction), &tube, &nodes, 1, 1.0)?;
        let more = wire.force() - DEAD_LOAD;
        let exact = (friction * 0.5 * PI).exp_m1();
        readings.error(
            format!(
                "round a bend, friction {friction:.3}: off the dead load times exp(mu phi) - 1"
            ),
            more - DEAD_LOAD * exact,
            "mN",
            DEAD_LOAD * (exact + 1.0) * may_be_off(&cord(friction), 0.5 * PI),
        );
        added.push(more);
    }
    // To first order in the friction the ratio is larger by `mu phi / 2`.
    for (surface, ratio) in [(0, 6.0), (1, 3.0)] {
        let mu_phi = 0.1 * SURFACES[surface] * 0.5 * PI;
        let off = DEAD_LOAD * may_be_off(&cord(0.1 * SURFACES[surface]), 0.5 * PI);
        readings.share(
            format!("round a bend: ratio to the hydrophilic surface, off {ratio}"),
            added[surface] / added[2] / ratio - 1.0,
            0.5 * mu_phi + off / added[surface] + off / added[2],
        );
    }
    Ok(())
}
