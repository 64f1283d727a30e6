//! Runs one trial: the plan looks and moves, the wire answers, until something is decided.

use super::drawn::DrawnTrial;
use super::prepared::{Prepared, Strategy};
use super::result::TrialRecord;
use super::stepped::SteppedTrial;
use crate::hands::Movement;
use crate::technique::plan;

/// Runs trial number `trial` of a strategy. The result depends on nothing but the scenario, the
/// strategy, the study seed and the number.
#[must_use]
pub fn run_trial(
    prepared: &Prepared,
    strategy: &Strategy,
    trial: u32,
    record: bool,
) -> TrialRecord {
    let drawn = DrawnTrial::new(prepared, strategy, trial);
    let setup = drawn.setup();
    let mut trial = SteppedTrial::begin(&drawn, &setup, record);
    let mut plan = plan(drawn.technique());
    let mut turns = drawn.turns();
    while let Some(view) = trial.look() {
        trial.count_attempts(plan.attempts());
        let movement = if trial.has_reached() {
            plan.after_reaching(&view).unwrap_or(Movement::Stop)
        } else {
            plan.next(&view, &mut turns)
        };
        trial.make(movement);
    }
    trial.record(plan.attempts())
}
