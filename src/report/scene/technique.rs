//! What the hands do and what they bring along, in words.

use std::fmt::Write as _;

use super::text::{Flow, pairs};
use crate::scenario::model::{AidsSpec, GuideAimSpec, Scenario};
use crate::shown::degrees;
use crate::technique::tries;

pub(super) fn technique_table(scenario: &Scenario) -> Flow {
    let lines: Vec<(&str, String)> = scenario
        .techniques
        .iter()
        .map(|technique| {
            let plan = technique.plan.technique().words(technique, scenario);
            (
                technique.name.as_str(),
                format!("{plan}{}", aids(&technique.aids)),
            )
        })
        .collect();
    pairs(&lines)
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
