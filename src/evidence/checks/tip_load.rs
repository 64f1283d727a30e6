//! The bench test of tip load on wires as stiff as Euler's column asks for.

use crate::assay::tip_load::drive;
use crate::device::{HELD_BEHIND_TIP_MM, stiffness_from_tip_load};
use crate::evidence::scenes::list_wire;
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::scenario::model::EndCondition;
use crate::units::{gram_force_to_mn, mn_to_gram_force};

/// Stated loads in gf, and diameter of the wires in mm.
const STATED: [f64; 6] = [0.1, 0.3, 1.0, 3.0, 12.0, 20.0];
const WIRE_MM: f64 = 0.3556;
/// Travel of the chuck in mm once the tip touches, a hundredth of the held length: the load of a buckled column
/// rises by about as large a share.
const TRAVEL_MM: f64 = 0.1;

pub const CHECK: Check = Check {
    name: "tip-load",
    question: "Does a wire of a stated tip load give that load on the bench?",
    origin: Origin::ClosedForm,
    source: "Euler 1744: pi² B/(K L)², K = 0.6992 (tan x = x), L = 10 mm",
    scene: "Straight wires of stated tip loads of 0.1 to 20 gf, held 10 mm behind the tip, driven by 0.1 mm against a \
            plate on which the tip does not slide",
    carries: &[Rests::Push, Rests::Tip, Rests::Outcome],
    set: Set::Short,
    covers,
    measure,
};

fn covers() -> Vec<Covered> {
    let stiffness = STATED.map(stiffness);
    vec![
        Covered::over(Input::TipLoad, &STATED),
        Covered::over(Input::Stiffness, &stiffness),
    ]
}

/// Bending stiffness in mN mm² of a wire of that tip load in gf.
fn stiffness(stated_gf: f64) -> f64 {
    stiffness_from_tip_load(gram_force_to_mn(stated_gf), EndCondition::FixedPinned)
}

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    for stated in STATED {
        let wire = list_wire(stiffness(stated), WIRE_MM, 0.0)?;
        // No sliding: more friction than any push along the plate.
        let driven = drive(&wire, HELD_BEHIND_TIP_MM, TRAVEL_MM, 2.0, 0.25)?;
        let found = mn_to_gram_force(driven.tip_load_mn);
        readings.share(
            format!("stated {stated} gf: largest load"),
            found / stated - 1.0,
            2e-2,
        );
    }
    Ok(())
}
