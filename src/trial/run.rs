//! Runs one trial: the plan looks and moves, the wire answers, until something is decided.

use super::drawn::DrawnTrial;
use super::prepared::{Prepared, Strategy};
use super::result::TrialRecord;
use super::stepped::SteppedTrial;
use crate::hands::{Movement, Plan, Turns};
use crate::technique::plan;

/// Movements after which a plan is stopped that comes to no end by itself, because it withdraws as much as
/// it feeds: 40 m of wire, many times what any technique needs.
const MOST_MOVEMENTS: u32 = 100_000;

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
    drive(&mut trial, &mut *plan, &mut drawn.turns(), MOST_MOVEMENTS);
    trial.record(plan.attempts())
}

/// Lets a plan work a trial to its end, or stops it after `most` movements.
fn drive(trial: &mut SteppedTrial<'_>, plan: &mut dyn Plan, turns: &mut dyn Turns, most: u32) {
    let mut made = 0;
    while let Some(view) = trial.look() {
        trial.count_attempts(plan.attempts());
        let movement = if made == most {
            Movement::Stop
        } else if trial.has_reached() {
            plan.after_reaching(&view).unwrap_or(Movement::Stop)
        } else {
            plan.next(&view, turns)
        };
        trial.make(movement);
        made += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hands::View;
    use crate::trial::result::Outcome;
    use crate::trial::strategies;

    /// Feeds and withdraws by turns.
    struct ToAndFro(bool);

    impl Plan for ToAndFro {
        fn next(&mut self, _: &View, _: &mut dyn Turns) -> Movement {
            self.0 = !self.0;
            if self.0 {
                Movement::Feed
            } else {
                Movement::Withdraw
            }
        }

        fn attempts(&self) -> u32 {
            1
        }
    }

    #[test]
    fn a_plan_that_withdraws_as_much_as_it_feeds_is_stopped() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/side-branch.toml");
        let scenario = crate::scenario::load(path.as_ref()).unwrap().scenario;
        let prepared = Prepared::new(&scenario).unwrap();
        let strategies = strategies(&scenario);
        let drawn = DrawnTrial::new(&prepared, &strategies[0], 0);
        let setup = drawn.setup();
        let mut trial = SteppedTrial::begin(&drawn, &setup, false);
        drive(&mut trial, &mut ToAndFro(false), &mut drawn.turns(), 30);
        let row = trial.record(1).row;
        assert_eq!(row.outcome, Outcome::Stalled, "{}", row.why);
        assert!((row.travel_mm - 30.0 * crate::hands::FEED_MM).abs() < 1e-9);
    }
}
