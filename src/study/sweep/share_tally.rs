//! How the trials of a share ended, kept in its description so that thousands of shares can be looked at
//! without their rows.

use serde::{Deserialize, Serialize};

use crate::study::journal::JournalEntry;
use crate::study::store::record;
use crate::trial::result::Outcome;

/// A tally with its checksum.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Sealed {
    pub(super) crc32: String,
    #[serde(flatten)]
    pub(super) tally: ShareTally,
}

impl Sealed {
    pub(super) fn new(seed: u32, tally: ShareTally) -> serde_json::Result<Self> {
        let crc32 = format!(
            "{:08x}",
            record::checksum(seed, &serde_json::to_vec(&tally)?)
        );
        Ok(Self { crc32, tally })
    }
}

/// How the trials of a share ended, by strategy.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct ShareTally {
    /// Points that could not be built.
    pub refused: usize,
    /// Trials.
    pub trials: Vec<usize>,
    /// Of them, those that reached the target.
    pub reached: Vec<usize>,
    /// Of them, those that found no equilibrium.
    pub unresolved: Vec<usize>,
}

impl ShareTally {
    /// A tally of nothing.
    #[must_use]
    pub fn new(strategies: usize) -> Self {
        Self {
            refused: 0,
            trials: vec![0; strategies],
            reached: vec![0; strategies],
            unresolved: vec![0; strategies],
        }
    }

    /// Counts a trial.
    pub fn count(&mut self, strategy: usize, outcome: Outcome) {
        let counts = [
            (&mut self.trials, true),
            (&mut self.reached, outcome == Outcome::Reached),
            (&mut self.unresolved, outcome == Outcome::Unresolved),
        ];
        for (counts, counted) in counts {
            if let Some(count) = counts.get_mut(strategy) {
                *count += usize::from(counted);
            }
        }
    }

    /// Counts an entry.
    pub fn count_entry(&mut self, entry: &JournalEntry) {
        match entry {
            JournalEntry::Refused { .. } => self.refused += 1,
            JournalEntry::Trial { strategy, row, .. } => self.count(*strategy, row.outcome),
        }
    }

    /// Adds another tally of the same strategies.
    pub fn add(&mut self, other: &Self) {
        self.refused += other.refused;
        let pairs = [
            (&mut self.trials, &other.trials),
            (&mut self.reached, &other.reached),
            (&mut self.unresolved, &other.unresolved),
        ];
        for (sums, counts) in pairs {
            sums.iter_mut()
                .zip(counts)
                .for_each(|(sum, count)| *sum += count);
        }
    }

    /// Trials of all strategies.
    #[must_use]
    pub fn all_trials(&self) -> usize {
        self.trials.iter().sum()
    }
}
