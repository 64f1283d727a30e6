//! Tip loads of coronary wires.

use super::{Experiment, Pair, Value};
use crate::assay::tip_load::drive;
use crate::device::{HELD_BEHIND_TIP_MM, buckling_load};
use crate::evidence::scenes::list_wire;
use crate::evidence::{Broken, Covered, Input};
use crate::scenario::model::EndCondition;
use crate::units::{gram_force_to_mn, mn_to_gram_force};

pub const EXPERIMENT: Experiment = Experiment {
    name: "tip-load",
    question: "Does a wire of a stated tip load give that load on the bench?",
    source: "softest coronary wires about 0.3 gf, workhorses 0.5 to 1 gf, stiff ones 3 to 12 gf (common practice, from \
             memory: no publication and no standard of the test was seen)",
    scene: "A straight wire as stiff as each stated load asks for with its tip on a pin, pressed against a plate on \
            which the tip does not slide, held 10 mm behind it",
    uncertainty: "a stated load is taken as known to 25 % (common practice, no source); the simulated one, the largest \
                  force on the plate, to 5 %: a column goes on to carry a little more once it has given way, so that it \
                  lies above the load at which it does (check tip-load)",
    unknown: &[
        "how makers hold the tip: a pinned and a free one differ eightfold",
        "the spread of a maker's value",
    ],
    says_little: "the stiffness was worked out from the stated load with the tip on a pin; with a free tip it would be \
                  eightfold",
    covers: || vec![Covered::over(Input::TipLoad, &STATED)],
    compare,
};

/// Stated loads in gf.
const STATED: [f64; 5] = [0.3, 0.5, 1.0, 3.0, 12.0];
/// Uncertainty of a stated load and of a simulated one, as shares.
const STATED_TO: f64 = 0.25;
const SIMULATED_TO: f64 = 0.05;

fn compare() -> Result<Vec<Pair>, Broken> {
    let found = |&gf: &f64| Ok(pair(gf, bench(gf)?));
    STATED.iter().map(found).collect()
}

/// Holds a load in gf that was found on the bench against the stated one.
pub(super) fn pair(stated: f64, found: f64) -> Pair {
    Pair::new(
        format!("load at which the tip gives way (gf), stated {stated}"),
        Value::about(stated, STATED_TO * stated),
        Value::about(found, SIMULATED_TO * found),
    )
}

/// The load in gf at which a wire of that stated load gives way.
fn bench(gf: f64) -> Result<f64, Broken> {
    let stated = gram_force_to_mn(gf);
    let unit = buckling_load(1.0, HELD_BEHIND_TIP_MM, EndCondition::FixedPinned);
    let wire = list_wire(stated / unit, 0.3556, 0.0)?;
    // No sliding: more friction than any push along the plate.
    let driven = drive(&wire, HELD_BEHIND_TIP_MM, 1.0, 2.0, 0.25)?;
    Ok(mn_to_gram_force(driven.tip_load_mn))
}
