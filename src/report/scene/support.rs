//! Support catheters and their techniques in words.

use super::text::{degrees, fixed, pairs, significant};
use crate::scenario::model::{CatheterSpec, PlanSpec};

/// The section on support catheters.
pub(super) fn section(catheters: &[CatheterSpec]) -> String {
    let lines: Vec<(&str, String)> = catheters
        .iter()
        .map(|catheter| (catheter.name.as_str(), described(catheter)))
        .collect();
    pairs(&lines)
}

fn described(catheter: &CatheterSpec) -> String {
    let stiffness: Vec<String> = catheter
        .stiffness
        .iter()
        .map(|(c, b)| format!("{} N mm² at {} mm", significant(b / 1e3), significant(*c)))
        .collect();
    let tip = match catheter.tip {
        None => "straight tip".to_owned(),
        Some(tip) => match tip.range_rad {
            None => format!(
                "last {} mm bent by {} deg",
                significant(tip.length_mm),
                degrees(tip.angle_rad)
            ),
            Some((low, high)) => format!(
                "last {} mm steerable from {} to {} deg",
                significant(tip.length_mm),
                degrees(low),
                degrees(high)
            ),
        },
    };
    format!(
        "{} mm outside ({} French), {} mm inside; {tip}; bending stiffness {}; GJ/EI {}; friction {}",
        fixed(catheter.outer_diameter_mm, 3),
        fixed(3.0 * catheter.outer_diameter_mm, 2),
        fixed(catheter.inner_diameter_mm, 3),
        stiffness.join(", "),
        fixed(catheter.torsion_ratio, 3),
        significant(catheter.friction),
    )
}

/// A technique that uses a catheter, in words; empty for others.
pub(super) fn in_words(plan: &PlanSpec, catheters: &[CatheterSpec]) -> String {
    let name = plan
        .catheter()
        .and_then(|index| catheters.get(index))
        .map_or("", |catheter| catheter.name.as_str());
    let follows = |depth: Option<f64>| {
        depth.map_or_else(String::new, |mm| {
            format!("; then feed the catheter until it is {mm} mm beyond the ostium")
        })
    };
    match *plan {
        PlanSpec::Support {
            behind_tip_mm,
            stride_mm,
            before_ostium_mm,
            attempts,
            withdraw_to_mm,
            turn_rad,
            follow_mm,
            ..
        } => format!(
            "catheter {name:?} follows the wire to {behind_tip_mm} mm behind its tip each time the \
             wire is {stride_mm} mm further, and stays {before_ostium_mm} mm before the ostium; when \
             the wire is astray or stopped withdraw it to {withdraw_to_mm} mm before the ostium, turn \
             {}, feed again; {attempts} attempts at most{}",
            super::turn_in_words(turn_rad),
            follows(follow_mm)
        ),
        PlanSpec::AngledSupport {
            before_ostium_mm,
            lead_mm,
            steer_rad,
            attempts,
            beyond_rad,
            follow_mm,
            ..
        } => format!(
            "bring catheter {name:?} to {before_ostium_mm} mm before the ostium with the wire \
             {lead_mm} mm ahead, draw the wire into it{}, turn its hub until the bend is seen to point \
             to the side of the branch, feed the wire; when it goes astray or stops draw it back, \
             aim {} deg further to one side or the other; {attempts} attempts at most{}",
            steer_rad.map_or_else(String::new, |a| format!(
                ", steer its tip to {} deg",
                degrees(a)
            )),
            degrees(beyond_rad),
            follows(follow_mm)
        ),
        _ => String::new(),
    }
}
