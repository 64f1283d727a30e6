//! Does the search keep the best candidate, drop the hopeless ones, and say how sure it is?
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use std::sync::{Arc, Mutex};

use crate::sweep_common::{chance, listed, quietly, row, run, search, setup};
use bendwise::scenario::sweep::model::DesignKind;
use bendwise::study::sweep::{Race, RaceResult};
use bendwise::study::{KeepError, Making, Part, Point, Sink, StudySetup, Task};
use bendwise::trial::result::{Outcome, TrialRow};

/// Replays a race from the points of a finished sweep.
struct Replay(Arc<Mutex<Option<Race>>>);

impl Sink for Replay {
    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        self.0.lock().unwrap().as_mut().unwrap().add(point);
        Ok(Vec::new())
    }
}

/// Runs a search on so many threads.
fn result(
    setup: StudySetup,
    threads: usize,
    trial: impl Fn(Task) -> TrialRow + Sync,
) -> RaceResult {
    let race = Race::new(&setup, setup.search.as_ref().unwrap());
    let race = Arc::new(Mutex::new(Some(race)));
    let folder = tempfile::tempdir().unwrap();
    let options = quietly(&folder.path().join("out"), threads, None);
    let sinks = Box::new(Replay(race.clone()));
    run(&Part::whole(setup), &options, |_| None, trial, vec![sinks]).unwrap();
    let race = race.lock().unwrap().take().unwrap();
    race.result()
}

/// A race between candidates with these success rates; half of the luck of a trial is shared by
/// all candidates.
fn race(rates: &[f64], seed: u64, threads: usize) -> RaceResult {
    let mut setup = setup(DesignKind::Grid, vec![listed("rate", rates)], 8, seed);
    setup.search = Some(search(8, 128, 64));
    result(setup, threads, |task| {
        let trial = u64::from(task.trial);
        let shared = chance(seed, trial, 0) < 0.5;
        let own = if shared { 1 } else { 2 + task.point as u64 };
        row(task.trial, chance(seed, trial, own) < rates[task.point])
    })
}

#[test]
fn the_best_is_kept_as_often_as_stated() {
    let rates = [0.1, 0.3, 0.5, 0.6, 0.7, 0.9, 0.75, 0.2];
    let races = 40;
    let kept = (0..races)
        .filter(|&seed| race(&rates, seed, 1).left.iter().any(|r| r.point == 5))
        .count();
    // Stated are 95 %; fewer than 35 of 40 would come about by chance once in 60 such tests.
    println!("the best was kept in {kept} of {races} races");
    assert!(kept >= 35);
}

#[test]
fn hopeless_candidates_drop_out_early_and_the_winner_is_measured_anew() {
    let rates = [0.02, 0.05, 0.95, 0.1, 0.04, 0.06];
    let result = race(&rates, 3, 2);
    assert!(result.decided);
    let best = result.best.clone().unwrap();
    assert_eq!(best.point, 2);
    assert!(
        result.trials < result.trials_without_dropping / 3,
        "{result:?}"
    );
    let confirmed = result.confirmed.unwrap();
    assert_eq!(confirmed.trials, 64);
    assert!(confirmed.ci95[0] < 0.95 && confirmed.ci95[1] > 0.9);
}

#[test]
fn equal_candidates_are_not_told_apart() {
    let result = race(&[0.5; 6], 11, 2);
    assert!(!result.decided);
    assert!(result.left.len() > 1);
    assert_eq!(result, race(&[0.5; 6], 11, 1));
}

/// Every eighth trial of the worse candidate, and one new draw of the winner, find no equilibrium.
#[test]
fn unresolved_trials_of_a_race_are_counted() {
    let rates = vec![listed("rate", &[0.4, 0.5])];
    let mut setup = setup(DesignKind::Grid, rates, 8, 1);
    setup.search = Some(search(8, 16, 16));
    let result = result(setup, 1, |task| {
        let is_second = task.point == 1;
        let mut row = row(task.trial, task.trial.is_multiple_of(2) == is_second);
        if !is_second && task.trial % 8 == 1 || task.trial == 20 {
            row.outcome = Outcome::Unresolved;
        }
        row
    });
    let confirmed = result.confirmed.unwrap();
    assert_eq!((confirmed.trials, confirmed.unresolved), (16, 1));
    let unresolved: Vec<(usize, u32)> = result
        .left
        .iter()
        .map(|r| (r.point, r.unresolved))
        .collect();
    assert_eq!(unresolved, [(1, 0), (0, 2)]);
}
