//! Parts of sentences that several techniques say.

use crate::scenario::model::{CarrierSpec, Scenario};
use crate::shown::{counted, degrees};

/// A number of attempts.
pub(crate) fn tries(attempts: u32) -> String {
    let count = usize::try_from(attempts).unwrap_or(usize::MAX);
    counted(count, "attempt", "attempts")
}

/// A turn in rad between attempts; `None` is drawn from the whole circle.
pub(super) fn turn(turn_rad: Option<f64>) -> String {
    turn_rad.map_or_else(
        || "by any angle".to_owned(),
        |turn| format!("by {} deg", degrees(turn)),
    )
}

/// The name of catheter number `index`.
pub(super) fn catheter(scenario: &Scenario, index: usize) -> &str {
    let catheter = scenario.catheters.get(index);
    catheter.map_or("", |catheter| catheter.name.as_str())
}

/// How a wire is carried by a catheter with a side port, as a part of a sentence.
pub(super) fn carried(carrier: &CarrierSpec, scenario: &Scenario) -> String {
    let first = scenario.wires.get(carrier.first_wire);
    format!(
        " out of the side port of catheter {:?}, which rides over a first wire {:?} that lies {} mm \
         past the branching",
        catheter(scenario, carrier.catheter),
        first.map_or("", |w| w.name.as_str()),
        carrier.first_wire_past_mm
    )
}

/// How far a catheter follows the wire beyond the ostium, as the end of a sentence.
pub(super) fn follows(follow_mm: Option<f64>) -> String {
    follow_mm.map_or_else(String::new, |mm| {
        format!("; then feed the catheter until it is {mm} mm beyond the ostium")
    })
}
