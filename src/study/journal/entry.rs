//! What a journal holds: an entry for each finished trial, and what is kept of a point.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::study::missing;
use crate::study::schedule::Task;
use crate::study::setup::{Part, StudySetup};
use crate::study::store::FileMark;
use crate::trial::result::{Outcome, Pressed, TrialRecord, TrialRow};

/// A finished trial, or a point that cannot be built.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum JournalEntry {
    /// A trial.
    Trial {
        /// Point.
        point: usize,
        /// Strategy.
        strategy: usize,
        /// The numbers.
        #[serde(deserialize_with = "missing::row")]
        row: Box<TrialRow>,
        /// Where it pressed on the wall.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pressed: Vec<Pressed>,
        /// Its files as they were written.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        files: Vec<FileMark>,
    },
    /// A point without trials.
    Refused {
        /// Point.
        point: usize,
        /// Why.
        refused: String,
    },
}

impl JournalEntry {
    /// The entry of a finished trial with its files.
    #[must_use]
    pub fn finished(task: Task, record: TrialRecord, files: Vec<FileMark>) -> Self {
        Self::Trial {
            point: task.point,
            strategy: task.strategy,
            row: Box::new(record.row),
            pressed: record.pressed,
            files,
        }
    }

    /// The point.
    #[must_use]
    pub fn point(&self) -> usize {
        match self {
            Self::Trial { point, .. } | Self::Refused { point, .. } => *point,
        }
    }

    /// The number of the trial; 0 for a point without trials.
    pub(super) fn trial(&self) -> u32 {
        match self {
            Self::Trial { row, .. } => row.trial,
            Self::Refused { .. } => 0,
        }
    }
}

/// A trial in a journal.
#[derive(Debug, Clone, PartialEq)]
pub struct Finished {
    /// The numbers.
    pub row: TrialRow,
    /// Where it pressed on the wall.
    pub pressed: Vec<Pressed>,
    /// Its files as they were written.
    pub files: Vec<FileMark>,
    /// Whether it was there when the journal was opened.
    pub is_earlier: bool,
}

/// The trials of a point by strategy, in their order.
#[derive(Debug, Clone, PartialEq)]
pub struct PointTrials {
    /// Why the point cannot be built.
    pub refused: Option<String>,
    /// The rows.
    pub rows: Vec<Vec<TrialRow>>,
    /// Where each trial pressed on the wall.
    pub pressed: Vec<Vec<Vec<Pressed>>>,
}

/// What is kept of one point.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct KeptPoint {
    /// Why it cannot be built.
    pub refused: Option<String>,
    /// Finished trials by strategy and trial.
    pub trials: BTreeMap<(usize, u32), Finished>,
}

impl KeptPoint {
    /// Whether a kept trial succeeded.
    #[must_use]
    pub fn success(&self, strategy: usize, trial: u32) -> Option<bool> {
        let trial = self.trials.get(&(strategy, trial))?;
        Some(trial.row.outcome == Outcome::Reached)
    }

    /// What sinks see of it.
    #[must_use]
    pub fn into_trials(self, strategies: usize) -> PointTrials {
        let mut trials = PointTrials {
            refused: self.refused,
            rows: vec![Vec::new(); strategies],
            pressed: vec![Vec::new(); strategies],
        };
        for ((strategy, _), trial) in self.trials {
            trials.rows[strategy].push(trial.row);
            trials.pressed[strategy].push(trial.pressed);
        }
        trials
    }

    /// Adds an entry; false where it is there already.
    pub fn add(&mut self, entry: JournalEntry, is_earlier: bool) -> bool {
        match entry {
            JournalEntry::Refused { refused, .. } => self.refused.replace(refused).is_none(),
            JournalEntry::Trial {
                strategy,
                row,
                pressed,
                files,
                ..
            } => {
                let finished = Finished {
                    row: *row,
                    pressed,
                    files,
                    is_earlier,
                };
                let key = (strategy, finished.row.trial);
                self.trials.insert(key, finished).is_none()
            }
        }
    }
}

impl Part {
    /// Whether an entry is of this part: what it names exists.
    #[must_use]
    pub fn has(&self, entry: &JournalEntry) -> bool {
        let point = entry.point();
        point < self.setup.points && self.has_point(point) && self.setup.has_trial(entry)
    }
}

impl StudySetup {
    /// Whether the strategy and the number of an entry's trial are of this study.
    pub(in crate::study) fn has_trial(&self, entry: &JournalEntry) -> bool {
        match entry {
            JournalEntry::Refused { .. } => true,
            JournalEntry::Trial { strategy, row, .. } => {
                *strategy < self.strategies.len() && row.trial < self.most_trials()
            }
        }
    }
}
