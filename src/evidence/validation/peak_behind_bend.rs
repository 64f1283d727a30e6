//! Where along a bend a device presses most while it is pushed in.

use super::{Experiment, Pair, Value};
use crate::contact::{WallSpec, WalledLumen};
use crate::evidence::scenes::{BendTube, guide_tip, list_wire};
use crate::evidence::{Broken, Covered, Input};
use crate::solve::{Assembly, Start, StepSettings};

pub const EXPERIMENT: Experiment = Experiment {
    name: "peak-behind-bend",
    question: "Where along a bend does a device press most on the wall while it is pushed in?",
    source: "Takashima 2023, J. Biomech. Sci. Eng. 18:22-00276 (seen): the contact force rises during insertion and \
             peaks just after a bend",
    scene: "A wire of 50 mN mm² with friction 0.05 fed through a quarter circle of 10 and of 20 mm radius, lumen 3 mm, \
            wall 300 mN/mm²: where its tip is when the forces on the wall add up to most, from the end of the bend on",
    uncertainty: "just after is taken as up to two diameters of the lumen (6 mm) behind the end of the bend; the \
                  simulated place is known to a step of 0.5 mm",
    unknown: &[
        "radius and angle of the measured bend",
        "stiffness and friction of the device",
        "how far behind the bend the peak was",
    ],
    says_little: "",
    covers: || {
        vec![Covered::over(
            Input::Curvature,
            &RADII_MM.map(|radius| 1.0 / radius),
        )]
    },
    compare,
};

const RADII_MM: [f64; 2] = [10.0, 20.0];
const LUMEN_MM: f64 = 3.0;
const LEAD_MM: f64 = 5.0;
const STEP_MM: f64 = 0.5;

fn compare() -> Result<Vec<Pair>, Broken> {
    let place = |radius: f64| {
        let what = format!("tip behind the end of the bend of {radius} mm at the peak (mm)");
        Ok(pair(&what, tip_at_peak(radius)?))
    };
    RADII_MM.into_iter().map(place).collect()
}

/// Holds a place of the tip, in mm behind the end of the bend, against the publication.
pub(super) fn pair(what: &str, behind_mm: f64) -> Pair {
    let published = Value::between(0.0, 2.0 * LUMEN_MM).said("just after the bend");
    Pair::new(what, published, Value::about(behind_mm, STEP_MM))
}

/// Where the tip is, in mm behind the end of the bend along its exit, when the wire presses most.
fn tip_at_peak(radius: f64) -> Result<f64, Broken> {
    let tube = BendTube {
        lead: LEAD_MM,
        bend: radius,
        angle: 90f64.to_radians(),
        radius: 0.5 * LUMEN_MM,
    };
    let start = Start {
        outside_mm: LEAD_MM,
        longest_mm: LEAD_MM + 4.0 * radius,
        roll_rad: 0.0,
    };
    let wire = list_wire(50.0, 0.36, 0.05)?;
    let lumen = WalledLumen::new(&tube, WallSpec::default());
    let settings = StepSettings::default();
    let mut wire = Assembly::straight(&wire, lumen, guide_tip(), settings, start)?;
    let (mut most, mut behind) = (0.0, f64::NAN);
    while wire.outside_mm() < LEAD_MM + 3.0 * radius {
        wire.feed(STEP_MM)?;
        let force = wire.contact().total_force;
        if force > most {
            // The exit leads along y from the end of the bend.
            (most, behind) = (force, wire.tip().y - radius);
        }
    }
    Ok(behind)
}
