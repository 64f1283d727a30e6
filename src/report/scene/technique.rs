//! What the hands do and what they bring along, in words.

use std::fmt::Write as _;

use super::support;
use super::text::{degrees, pairs};
use crate::hands::BEYOND_AIM_RAD;
use crate::scenario::model::{AidsSpec, GuideAimSpec, PlanSpec, Scenario};
use crate::scenario::view::SightSpec;
use crate::shown::counted;

pub(super) fn technique_table(scenario: &Scenario) -> String {
    let lines: Vec<(&str, String)> = scenario
        .techniques
        .iter()
        .map(|technique| {
            let plan = match (technique.plan, technique.sight) {
                (PlanSpec::Push, SightSpec::Full) => "feed at the drawn roll".to_owned(),
                (PlanSpec::Push, SightSpec::Projected(view)) => {
                    format!("feed at the drawn roll; seen in {view} alone")
                }
                (
                    PlanSpec::Redirect {
                        attempts,
                        withdraw_to_mm,
                        turn_rad,
                        ..
                    },
                    SightSpec::Projected(view),
                ) => format!(
                    "seen in {view} alone: feed to {withdraw_to_mm} mm before the ostium, turn the \
                     bend to its side as seen, feed; when seen astray or stopped withdraw, aim {} \
                     deg further to one side or the other, feed again; {} at most",
                    degrees(turn_rad.unwrap_or(BEYOND_AIM_RAD)),
                    tries(attempts)
                ),
                (
                    PlanSpec::Redirect {
                        attempts,
                        withdraw_to_mm,
                        turn_rad,
                        rock_rad,
                    },
                    SightSpec::Full,
                ) => {
                    let turn = turn_in_words(turn_rad);
                    let rock = if rock_rad > 0.0 {
                        format!(", turning {} deg to and fro", degrees(rock_rad))
                    } else {
                        String::new()
                    };
                    format!(
                        "feed{rock}; when astray or stopped withdraw to {withdraw_to_mm} mm before the \
                         ostium, turn {turn}, feed again; {} at most",
                        tries(attempts)
                    )
                }
                (
                    PlanSpec::LoopedBack {
                        fold,
                        past_mm,
                        attempts,
                        turn_rad,
                        carrier,
                    },
                    _,
                ) => format!(
                    "fold the wire back {} mm behind its tip ({} mm long, keeps {} deg){}; feed the \
                     fold ahead until the tip is {past_mm} mm past the branching; withdraw until it \
                     drops in, feed on; else turn {}, try again; {} at most",
                    fold.from_tip_mm + 0.5 * fold.length_mm,
                    fold.length_mm,
                    degrees(fold.angle_rad),
                    carrier.map_or_else(String::new, |c| support::carried(&c, scenario)),
                    turn_in_words(turn_rad),
                    tries(attempts)
                ),
                (plan, _) => support::in_words(&plan, technique, scenario),
            };
            (technique.name.as_str(), format!("{plan}{}", aids(&technique.aids)))
        })
        .collect();
    pairs(&lines)
}

/// A number of attempts.
pub(super) fn tries(attempts: u32) -> String {
    let count = usize::try_from(attempts).unwrap_or(usize::MAX);
    counted(count, "attempt", "attempts")
}

/// What a technique brings along, as the end of a sentence.
fn aids(aids: &AidsSpec) -> String {
    let mut out = String::new();
    if let Some(b) = &aids.balloon {
        let _ = write!(
            out,
            "; a balloon of {} x {} mm blocks the way straight on from {} mm beyond the branching \
             ({} mN/mm for each mm of wire)",
            b.diameter_mm, b.length_mm, b.beyond_mm, b.stiffness_mn_per_mm2
        );
        if let Some(shaft) = b.shaft {
            let _ = write!(out, ", its shaft of {} mm in the lumen", shaft.diameter_mm);
        }
    }
    if let Some(e) = &aids.exchange {
        let _ = write!(out, "; after {} with wire {:?}", tries(e.after), e.wire);
    }
    if !aids.guide_aims.is_empty() {
        let aims: Vec<String> = aids.guide_aims.iter().map(guide_aim).collect();
        let _ = write!(
            out,
            "; before each further attempt the guide is pointed in turn {}",
            aims.join(", ")
        );
    }
    out
}

fn guide_aim(aim: &GuideAimSpec) -> String {
    let mut words = Vec::new();
    if aim.tilt_rad.abs() > 0.0 {
        words.push(format!(
            "{} deg off in plane {} deg",
            degrees(aim.tilt_rad),
            degrees(aim.plane_rad)
        ));
    }
    if aim.deeper_mm > 0.0 {
        words.push(format!("{} mm deeper", aim.deeper_mm));
    }
    if words.is_empty() {
        return "as at the beginning".into();
    }
    words.join(" and ")
}

pub(super) fn turn_in_words(turn_rad: Option<f64>) -> String {
    turn_rad.map_or_else(
        || "by any angle".to_owned(),
        |turn| format!("by {} deg", degrees(turn)),
    )
}
