//! Support catheters and their techniques in words.

use super::technique::tries;
use super::text::{degrees, fixed, pairs, significant};
use crate::scenario::model::{CarrierSpec, CatheterSpec, PlanSpec, Scenario, TechniqueSpec};

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
    let port = catheter.side_port.map_or_else(String::new, |port| {
        format!(
            "; side port {} mm behind the tip, leaving at {} deg",
            significant(port.behind_tip_mm),
            degrees(port.angle_rad)
        )
    });
    format!(
        "{} mm outside ({} French), {} mm inside; {tip}{port}; bending stiffness {}; GJ/EI {}; friction {}",
        fixed(catheter.outer_diameter_mm, 3),
        fixed(3.0 * catheter.outer_diameter_mm, 2),
        fixed(catheter.inner_diameter_mm, 3),
        stiffness.join(", "),
        fixed(catheter.torsion_ratio, 3),
        significant(catheter.friction),
    )
}

/// How a wire is carried by a catheter with a side port, as a part of a sentence.
pub(super) fn carried(carrier: &CarrierSpec, scenario: &Scenario) -> String {
    let catheter = scenario.catheters.get(carrier.catheter);
    let first = scenario.wires.get(carrier.first_wire);
    format!(
        " out of the side port of catheter {:?}, which rides over a first wire {:?} that lies {} mm \
         past the branching",
        catheter.map_or("", |c| c.name.as_str()),
        first.map_or("", |w| w.name.as_str()),
        carrier.first_wire_past_mm
    )
}

/// A technique that uses a catheter, in words; empty for others.
pub(super) fn in_words(plan: &PlanSpec, technique: &TechniqueSpec, scenario: &Scenario) -> String {
    let name = plan
        .catheter()
        .and_then(|index| scenario.catheters.get(index))
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
             {}, feed again; {} at most{}",
            super::technique::turn_in_words(turn_rad),
            tries(attempts),
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
             aim {} deg further to one side or the other; {} at most{}",
            steer_rad.map_or_else(String::new, |a| format!(
                ", steer its tip to {} deg",
                degrees(a)
            )),
            degrees(beyond_rad),
            tries(attempts),
            follows(follow_mm)
        ),
        PlanSpec::DualLumen {
            carrier,
            before_ostium_mm,
            attempts,
            beyond_rad,
        } => format!(
            "the wire comes{}; bring the port to {before_ostium_mm} mm before the ostium, turn the hub \
             until it is seen to point to the side of the branch, feed the wire; when it goes astray \
             or stops draw it back, turn it by any angle, aim {} deg further to one side or the \
             other; {} at most",
            carried(&carrier, scenario),
            degrees(beyond_rad),
            tries(attempts)
        ),
        PlanSpec::LoopInVessel {
            carrier,
            before_ostium_mm,
            hold_mm,
            slack_mm,
            past_mm,
            attempts,
            beyond_rad,
        } => format!(
            "the wire comes{}; bring the port to {before_ostium_mm} mm before branch {:?}, aim it as \
             there, feed the wire {hold_mm} mm into that branch (else turn it by any angle, aim {} deg further; {tried} \
             at most); feed catheter and wire on, {slack_mm} mm more of the wire, until its \
             tip is out and {past_mm} mm past the target's branching; withdraw both until the tip \
             drops in, feed the wire on; else turn the hub by any angle, try again as often",
            carried(&carrier, scenario),
            technique
                .aids
                .anchor
                .as_ref()
                .map_or("", |a| a.branch.as_str()),
            degrees(beyond_rad),
            tried = tries(attempts)
        ),
        _ => String::new(),
    }
}
