//! Which trial comes next: every point in turn, a batch of trials each, or more until its
//! interval is narrow enough.

use std::collections::VecDeque;

use super::deal::SharePoints;
use super::error::KeepError;
use super::intervals::exact_interval;
use super::journal::{Journal, KeptPoint};
use super::setup::{Part, UntilWidth};

/// One trial of a study.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Task {
    /// Point.
    pub point: usize,
    /// Strategy.
    pub strategy: usize,
    /// Trial.
    pub trial: u32,
}

/// What a schedule answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Next {
    /// Do this trial.
    Do(Task),
    /// Ask again once a trial in flight is done.
    Wait,
    /// Nothing is left.
    Done,
}

/// Chooses trials. What it chooses depends on finished trials only, never on the order in which
/// they finish.
pub trait Schedule: Send {
    /// The next trial; kept trials of an earlier run are looked up in `journal`.
    ///
    /// # Errors
    ///
    /// Where the journal cannot be read.
    fn next(&mut self, journal: &mut Journal) -> Result<Next, KeepError>;

    /// Takes note of a finished trial.
    fn record(&mut self, task: Task, success: bool);

    /// Takes note of a point that cannot be built.
    fn refuse(&mut self, point: usize);

    /// Whether a point with a trial in flight is known not to be built.
    fn is_refused(&self, point: usize) -> bool;

    /// A trial in flight came back without a result, its point being refused.
    fn give_back(&mut self) {}
}

/// Confidence of the interval that is to be narrow.
const CONFIDENCE: f64 = 0.95;

/// Every point of a share in turn.
#[derive(Debug)]
pub struct InTurn {
    /// Points to open.
    points: SharePoints,
    strategies: usize,
    batch: u32,
    until: Option<UntilWidth>,
    open: Vec<Open>,
}

/// A point with trials to do.
#[derive(Debug)]
struct Open {
    point: usize,
    pending: VecDeque<Task>,
    in_flight: usize,
    tallies: Vec<Tally>,
}

/// Trials of one strategy at a point.
#[derive(Debug, Clone, Default)]
struct Tally {
    /// Trials wanted so far.
    goal: u32,
    done: u32,
    successes: u32,
}

impl InTurn {
    /// The schedule of a part of a study.
    #[must_use]
    pub fn new(part: &Part) -> Self {
        Self {
            points: part.points(),
            strategies: part.setup.strategies.len(),
            batch: part.setup.trials,
            until: part.setup.until_width,
            open: Vec::new(),
        }
    }

    /// Opens the next point; `None` where there is none.
    fn open_next(&mut self, journal: &mut Journal) -> Result<Option<()>, KeepError> {
        let Some(point) = self.points.next() else {
            return Ok(None);
        };
        let kept = journal.kept(point)?;
        if kept.refused.is_some() {
            return Ok(Some(()));
        }
        let mut open = Open {
            point,
            pending: VecDeque::new(),
            in_flight: 0,
            tallies: vec![Tally::default(); self.strategies],
        };
        for strategy in 0..self.strategies {
            self.extend(&mut open, strategy, &kept);
        }
        if !open.pending.is_empty() {
            self.open.push(open);
        }
        Ok(Some(()))
    }

    /// Wants more trials of a strategy, as long as those wanted are all done and too few.
    fn extend(&self, open: &mut Open, strategy: usize, kept: &KeptPoint) {
        loop {
            let tally = &mut open.tallies[strategy];
            if tally.done < tally.goal || !self.too_few(tally) {
                return;
            }
            let from = tally.goal;
            tally.goal = match self.until {
                None => self.batch,
                Some(until) => (from + self.batch).min(until.most_trials),
            };
            for trial in from..tally.goal {
                match kept.success(strategy, trial) {
                    Some(success) => {
                        tally.done += 1;
                        tally.successes += u32::from(success);
                    }
                    None => open.pending.push_back(Task {
                        point: open.point,
                        strategy,
                        trial,
                    }),
                }
            }
        }
    }

    fn too_few(&self, tally: &Tally) -> bool {
        match self.until {
            _ if tally.goal == 0 => true,
            None => false,
            Some(until) => {
                let trials = f64::from(tally.done);
                let rate = f64::from(tally.successes) / trials.max(1.0);
                let (low, high) = exact_interval(rate, trials, CONFIDENCE);
                high - low > until.width && tally.goal < until.most_trials
            }
        }
    }
}

impl Schedule for InTurn {
    fn next(&mut self, journal: &mut Journal) -> Result<Next, KeepError> {
        loop {
            for open in &mut self.open {
                if let Some(task) = open.pending.pop_front() {
                    open.in_flight += 1;
                    return Ok(Next::Do(task));
                }
            }
            if self.open_next(journal)?.is_none() {
                return Ok(if self.open.is_empty() {
                    Next::Done
                } else {
                    Next::Wait
                });
            }
        }
    }

    fn record(&mut self, task: Task, success: bool) {
        let Some(index) = self.open.iter().position(|o| o.point == task.point) else {
            return;
        };
        let mut open = self.open.swap_remove(index);
        open.in_flight -= 1;
        let tally = &mut open.tallies[task.strategy];
        tally.done += 1;
        tally.successes += u32::from(success);
        // Trials beyond the goal are new: none of them is kept from an earlier run.
        self.extend(&mut open, task.strategy, &KeptPoint::default());
        if !open.pending.is_empty() || open.in_flight > 0 {
            self.open.push(open);
            self.open.sort_by_key(|open| open.point);
        }
    }

    fn refuse(&mut self, point: usize) {
        self.open.retain(|open| open.point != point);
    }

    fn is_refused(&self, point: usize) -> bool {
        self.open.iter().all(|open| open.point != point)
    }
}
