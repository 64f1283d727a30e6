//! The search for the best point: all candidates run on the same draws, and those that are worse
//! beyond doubt drop out.
//!
//! A candidate is a point with a strategy. After every batch the leader (most successes) is
//! compared with each other candidate on the same trials, by the pairs in which only one of the
//! two succeeded. A candidate drops out where the exact one-sided sign test on these pairs
//! (McNemar's) gives a p value of at most (1 - confidence) / ((candidates - 1) · looks).
//!
//! The best candidate can only be lost if some other one is wrongly found better than it at some
//! look; there are at most candidates - 1 others and `looks` looks, so by the union bound it stays
//! with the stated confidence, whichever leader the comparisons choose. The scheme is that of a
//! Hoeffding race (O. Maron and A. W. Moore, Adv Neural Inf Process Syst 6:59-66, 1994), with an
//! exact paired test in place of Hoeffding's bound. The winner is then measured on new draws, which
//! its selection has not seen.

use std::collections::VecDeque;

use statrs::distribution::{Binomial, DiscreteCDF};

use super::findings::{Confirmed, RaceResult, Standing};
use crate::scenario::sweep::model::SearchSpec;
use crate::study::intervals::exact_interval;
use crate::study::journal::{Journal, KeptPoint};
use crate::study::schedule::{Next, Schedule, Task};
use crate::study::{KeepError, Point, StudySetup};
use crate::trial::result::{Outcome, TrialRow};

/// Confidence of the winner's interval.
const INTERVAL: f64 = 0.95;

/// A candidate in the race.
#[derive(Debug, Clone, Default)]
struct Candidate {
    /// Success by trial; trials beyond the race have numbers from its most on.
    results: Vec<Option<bool>>,
    /// Looks after which it dropped out.
    dropped_after: Option<u32>,
    refused: bool,
    /// Unresolved trials among those kept, by number of the trial.
    unresolved: Vec<u32>,
}

impl Candidate {
    fn successes(&self, trials: u32) -> u32 {
        let results = self.results.iter().take(trials as usize);
        count(results.filter(|r| **r == Some(true)))
    }

    /// Unresolved trials among those with these numbers.
    fn unresolved(&self, trials: std::ops::Range<u32>) -> u32 {
        count(
            self.unresolved
                .iter()
                .filter(|trial| trials.contains(trial)),
        )
    }
}

fn count<T>(items: impl Iterator<Item = T>) -> u32 {
    u32::try_from(items.count()).unwrap_or(u32::MAX)
}

/// A race.
#[derive(Debug)]
pub struct Race {
    points: usize,
    strategies: usize,
    search: SearchSpec,
    candidates: Vec<Candidate>,
    loaded: bool,
    pending: VecDeque<Task>,
    in_flight: usize,
    /// Trials that every candidate in the race has, once nothing is pending or in flight.
    raced: u32,
    looks: u32,
    over: bool,
    confirming: bool,
}

impl Race {
    /// The race of all points with all strategies.
    #[must_use]
    pub fn new(setup: &StudySetup, search: &SearchSpec) -> Self {
        let strategies = setup.strategies.len();
        Self {
            points: setup.points,
            strategies,
            search: search.clone(),
            candidates: vec![Candidate::default(); setup.points * strategies],
            loaded: false,
            pending: VecDeque::new(),
            in_flight: 0,
            raced: 0,
            looks: 0,
            over: false,
            confirming: false,
        }
    }

    fn load(&mut self, journal: &mut Journal) -> Result<(), KeepError> {
        for point in 0..self.points {
            let KeptPoint { refused, trials } = journal.kept(point)?;
            if refused.is_some() {
                self.refuse(point);
            }
            for ((strategy, _), trial) in trials {
                self.see(point, strategy, &trial.row);
            }
        }
        self.loaded = true;
        Ok(())
    }

    fn see(&mut self, point: usize, strategy: usize, row: &TrialRow) {
        let (trial, outcome) = (row.trial, row.outcome);
        self.set(point, strategy, trial, outcome == Outcome::Reached);
        let candidate = self.candidates.get_mut(point * self.strategies + strategy);
        if let (Outcome::Unresolved, Some(candidate)) = (outcome, candidate) {
            candidate.unresolved.push(trial);
        }
    }

    /// Takes note of a point with all its trials.
    pub fn add(&mut self, point: &Point<'_>) {
        if point.refused.is_some() {
            self.refuse(point.number);
        }
        for (strategy, rows) in point.rows.iter().enumerate() {
            for row in rows {
                self.see(point.number, strategy, row);
            }
        }
    }

    fn set(&mut self, point: usize, strategy: usize, trial: u32, success: bool) {
        let index = point * self.strategies + strategy;
        if let Some(candidate) = self.candidates.get_mut(index) {
            let results = &mut candidate.results;
            if results.len() <= trial as usize {
                results.resize(trial as usize + 1, None);
            }
            results[trial as usize] = Some(success);
        }
    }

    fn racing(&self) -> impl Iterator<Item = usize> + '_ {
        let racing = |(index, c): (usize, &Candidate)| {
            (c.dropped_after.is_none() && !c.refused).then_some(index)
        };
        self.candidates.iter().enumerate().filter_map(racing)
    }

    /// The candidate in the race with most successes, the first of several.
    fn leader(&self) -> Option<usize> {
        self.racing().max_by(|&a, &b| {
            let successes = |index: usize| self.candidates[index].successes(self.raced);
            successes(a).cmp(&successes(b)).then(b.cmp(&a))
        })
    }

    /// Trials of the race in which only one of two candidates succeeded: only the first, only
    /// the second.
    fn discordant(&self, first: usize, second: usize) -> (u32, u32) {
        let results = |index: usize| self.candidates[index].results.iter();
        let pairs = results(first)
            .zip(results(second))
            .take(self.raced as usize);
        let only = |wanted: (bool, bool)| {
            count(
                pairs
                    .clone()
                    .filter(|(a, b)| (a.is_some_and(|a| a), b.is_some_and(|b| b)) == wanted),
            )
        };
        (only((true, false)), only((false, true)))
    }

    /// Looks at the race after a batch.
    fn look(&mut self) {
        self.looks += 1;
        let Some(leader) = self.leader() else {
            self.over = true;
            return;
        };
        let level = self.level();
        let hopeless: Vec<usize> = self
            .racing()
            .filter(|&other| {
                let (leads, lags) = self.discordant(leader, other);
                other != leader && sign_test(leads, lags) <= level
            })
            .collect();
        for other in hopeless {
            self.candidates[other].dropped_after = Some(self.looks);
        }
        self.over = self.racing().count() == 1 || self.raced >= self.search.most_trials;
    }

    /// Level of one test at one look.
    fn level(&self) -> f64 {
        let others = self.candidates.len().saturating_sub(1).max(1);
        let looks = self.search.most_trials.div_ceil(self.search.batch).max(1);
        (1.0 - self.search.confidence) / (others as f64 * f64::from(looks))
    }

    /// Asks for these trials of the candidates that do not have them yet.
    fn ask(&mut self, candidates: &[usize], trials: std::ops::Range<u32>) {
        for &index in candidates {
            for trial in trials.clone() {
                let known = self.candidates[index].results.get(trial as usize);
                if known.copied().flatten().is_none() {
                    self.pending.push_back(Task {
                        point: index / self.strategies,
                        strategy: index % self.strategies,
                        trial,
                    });
                }
            }
        }
    }

    /// How the race ended, once all points are added.
    #[must_use]
    pub fn result(mut self) -> RaceResult {
        // With all trials known, one question replays the race to its end.
        self.choose();
        let leader = self.leader();
        let runner = |index: usize| {
            let (only_best, only_this) =
                leader.map_or((0, 0), |leader| self.discordant(leader, index));
            Standing {
                point: index / self.strategies,
                strategy: index % self.strategies,
                trials: self.raced,
                reached: self.candidates[index].successes(self.raced),
                unresolved: self.candidates[index].unresolved(0..self.raced),
                only_best,
                only_this,
            }
        };
        let mut left: Vec<Standing> = self.racing().map(runner).collect();
        left.sort_by_key(|r| (u32::MAX - r.reached, r.point, r.strategy));
        let confirmed = leader.filter(|_| self.search.confirm > 0).map(|leader| {
            let beyond = self.candidates[leader]
                .results
                .iter()
                .skip(self.search.most_trials as usize);
            let trials = count(beyond.clone().flatten());
            let reached = count(beyond.flatten().filter(|success| **success));
            let rate = f64::from(reached) / f64::from(trials.max(1));
            let (low, high) = exact_interval(rate, f64::from(trials), INTERVAL);
            Confirmed {
                trials,
                reached,
                unresolved: self.candidates[leader].unresolved(self.search.most_trials..u32::MAX),
                rate,
                ci95: [low, high],
            }
        });
        let raced = |c: &Candidate| {
            let most = self.search.most_trials as usize;
            c.results.iter().take(most).flatten().count() as u64
        };
        let refused = self.candidates.iter().filter(|c| c.refused).count();
        RaceResult {
            candidates: self.candidates.len(),
            refused,
            trials: self.candidates.iter().map(raced).sum(),
            trials_without_dropping: (self.candidates.len() - refused) as u64
                * u64::from(self.search.most_trials),
            confidence: self.search.confidence,
            best: leader.map(runner),
            confirmed,
            decided: left.len() == 1,
            left,
        }
    }

    /// The next trial of what is known.
    fn choose(&mut self) -> Next {
        loop {
            if let Some(task) = self.pending.pop_front() {
                if self.is_refused(task.point) {
                    continue;
                }
                self.in_flight += 1;
                return Next::Do(task);
            }
            if self.in_flight > 0 {
                return Next::Wait;
            }
            if self.confirming {
                return Next::Done;
            }
            if self.raced > 0 && !self.over {
                self.look();
            }
            if self.over {
                self.confirming = true;
                let most = self.search.most_trials;
                let leader: Vec<usize> = self.leader().into_iter().collect();
                self.ask(&leader, most..most + self.search.confirm);
            } else {
                let from = self.raced;
                self.raced = (from + self.search.batch).min(self.search.most_trials);
                let racing: Vec<usize> = self.racing().collect();
                self.ask(&racing, from..self.raced);
            }
        }
    }
}

impl Schedule for Race {
    fn next(&mut self, journal: &mut Journal) -> Result<Next, KeepError> {
        if !self.loaded {
            self.load(journal)?;
        }
        Ok(self.choose())
    }

    fn record(&mut self, task: Task, success: bool) {
        self.in_flight -= 1;
        self.set(task.point, task.strategy, task.trial, success);
    }

    fn refuse(&mut self, point: usize) {
        for strategy in 0..self.strategies {
            if let Some(candidate) = self.candidates.get_mut(point * self.strategies + strategy) {
                candidate.refused = true;
            }
        }
    }

    fn is_refused(&self, point: usize) -> bool {
        self.candidates
            .get(point * self.strategies)
            .is_some_and(|candidate| candidate.refused)
    }

    fn give_back(&mut self) {
        self.in_flight -= 1;
    }
}

/// One-sided exact p value that a candidate with `leads` of `leads + lags` decided pairs is no
/// better: P(X ≥ leads), X ~ Bin(leads + lags, ½).
fn sign_test(leads: u32, lags: u32) -> f64 {
    let pairs = u64::from(leads) + u64::from(lags);
    match Binomial::new(0.5, pairs) {
        Ok(binomial) if leads > 0 => binomial.sf(u64::from(leads) - 1),
        _ => 1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Counted by hand: 8 of 8 is 2^-8; 9 or more of 10 is (10 + 1) / 1024.
    #[test]
    fn the_sign_test_equals_the_closed_sums() {
        assert_abs_diff_eq!(sign_test(8, 0), 1.0 / 256.0, epsilon = 1e-12);
        assert_abs_diff_eq!(sign_test(9, 1), 11.0 / 1024.0, epsilon = 1e-12);
        assert_abs_diff_eq!(sign_test(0, 0), 1.0);
    }
}
