//! The tip load that a description states against the one that its stiffness gives.

use super::Wire;
use super::tip_load::HELD_BEHIND_TIP_MM;
use crate::scenario::model::{EndCondition, StiffnessSpec, WireSpec};
use crate::units::{STANDARD_GRAVITY_M_PER_S2, mn_to_gram_force};

/// How far the tip load that a wire's stiffness gives may lie from the one that is stated, over the
/// stated one. Catalogues round to 0.1 gf or less, and ten loads of one wire scatter by about a
/// tenth (common practice, no source).
pub const TIP_LOAD_TOLERANCE: f64 = 0.25;

/// Factor by which a core's radius taken for its diameter changes the stiffness.
const RADIUS_FOR_DIAMETER: f64 = 16.0;

/// What is wrong between the tip load that a wire's description states and the one that its
/// stiffness gives, in words; `None` where they agree within [`TIP_LOAD_TOLERANCE`] or none is
/// stated.
///
/// The load given is that of [`Wire::tip_load_mn`] under the stated end condition. The words name
/// both loads and the likely reason.
#[must_use]
pub fn tip_load_off(spec: &WireSpec, wire: &Wire) -> Option<String> {
    let (stated, end) = spec.stiffness.tip_load_mn()?;
    let given = wire.tip_load_mn(end);
    if (given / stated - 1.0).abs() <= TIP_LOAD_TOLERANCE {
        return None;
    }
    let other = wire.tip_load_mn(end.other());
    let gf = |mn: f64| format!("{:.3} gf", mn_to_gram_force(mn));
    Some(format!(
        "the stiffness of the wire \"{}\" gives a tip load of {} {}, and {} is stated: {:.2} times \
         as much, where {:.0} % off is tolerated; held {} it would be {}. {}",
        spec.name,
        gf(given),
        end.words(),
        gf(stated),
        given / stated,
        100.0 * TIP_LOAD_TOLERANCE,
        end.other().words(),
        gf(other),
        likely_reason(&spec.stiffness, stated, given, other, end)
    ))
}

/// Why a tip load of `given` mN is found where `stated` is said; `other` is the load for the other
/// end condition.
fn likely_reason(
    stiffness: &StiffnessSpec,
    stated: f64,
    given: f64,
    other: f64,
    end: EndCondition,
) -> String {
    let near = |ratio: f64| (ratio - 1.0).abs() <= TIP_LOAD_TOLERANCE;
    let factor = (given / stated).max(stated / given);
    if near(other / stated) {
        return format!(
            "Likely reason: the stated load was measured {}, or the stiffness was derived from it as \
             if it were; the two ways differ about eightfold, so say end_condition",
            end.other().words()
        );
    }
    if near(factor / STANDARD_GRAVITY_M_PER_S2) {
        return "Likely reason: a force in mN read as gf, or gf as mN; 1 gf is 9.81 mN".to_owned();
    }
    if near(factor / RADIUS_FOR_DIAMETER) {
        return "Likely reason: a core's radius taken for its diameter, which changes the stiffness \
                16-fold"
            .to_owned();
    }
    let first = match stiffness {
        StiffnessSpec::List { values, .. } | StiffnessSpec::ListWithTipLoad { values, .. } => {
            values.first().map_or(0.0, |&(station, _)| station)
        }
        StiffnessSpec::TipLoad { .. } | StiffnessSpec::Grind { .. } => 0.0,
    };
    if first > 0.5 * HELD_BEHIND_TIP_MM {
        return format!(
            "Likely reason: the list begins {first} mm from the tip, and its first value holds from \
             there to the tip; add stations within the last 10 mm"
        );
    }
    "Likely reason: the stiffness of the last 10 mm, which alone decides it; compare it with the \
     stated load and its end_condition (fixed-pinned and fixed-free differ about eightfold)"
        .to_owned()
}
