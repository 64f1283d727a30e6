//! Tip loads of coronary wires.

use super::{Experiment, Pair, Says};
use crate::assay::tip_load::drive;
use crate::device::{HELD_BEHIND_TIP_MM, buckling_load};
use crate::evidence::Broken;
use crate::evidence::scenes::list_wire;
use crate::scenario::model::EndCondition;
use crate::units::{gram_force_to_mn, mn_to_gram_force};

pub const EXPERIMENT: Experiment = Experiment {
    name: "tip-load",
    question: "Does a wire of a stated tip load give that load on the bench?",
    source: "softest coronary wires about 0.3 gf, workhorses 0.5 to 1 gf, stiff ones 3 gf and more (common practice, no \
             source); no standard defines the test",
    scene: "A straight wire as stiff as each stated load asks for with its tip on a pin, pressed against a plate on \
            which the tip does not slide, held 10 mm behind it",
    unknown: &[
        "how makers hold the tip: a pinned and a free one differ eightfold",
        "the spread of a maker's value",
    ],
    unknown_decides: true,
    compare,
};

/// Stated loads in gf.
const STATED: [f64; 4] = [0.3, 0.5, 1.0, 3.0];

fn compare() -> Result<Vec<Pair>, Broken> {
    STATED.iter().map(|&gf| pair(gf)).collect()
}

fn pair(gf: f64) -> Result<Pair, Broken> {
    let stated = gram_force_to_mn(gf);
    let unit = buckling_load(1.0, HELD_BEHIND_TIP_MM, EndCondition::FixedPinned);
    let wire = list_wire(stated / unit, 0.3556, 0.0)?;
    // No sliding: more friction than any push along the plate.
    let driven = drive(&wire, HELD_BEHIND_TIP_MM, 1.0, 2.0, 0.25)?;
    let found = mn_to_gram_force(driven.peak_mn);
    Ok(Pair {
        what: format!("load at which the tip gives way (gf), stated {gf}"),
        published: format!("{gf}, spread not stated"),
        simulated: format!("{found:.2}"),
        says: Says::CannotTell,
    })
}
