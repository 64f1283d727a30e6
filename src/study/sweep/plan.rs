//! What a sweep is to compute, and who computes which share of it.

use serde::{Deserialize, Serialize};

use super::design::Design;
use crate::scenario::sweep::model::{MapSpec, SearchSpec};
use crate::study::{StrategyLabel, build_fingerprint};

/// Everything that must be the same for results to belong to one sweep; with it alone the tables
/// and figures can be made from rows.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SweepPlan {
    /// Version of the program.
    #[serde(rename = "bendwise")]
    pub version: String,
    /// Fingerprint of the executable.
    pub build: String,
    /// Name of the sweep.
    pub name: String,
    /// What it asks.
    pub description: String,
    /// Name of the base scenario.
    pub scenario: String,
    /// Where its anatomy comes from.
    pub origin: String,
    /// Hash of the sweep file and of every file of the base scenario.
    pub content_hash: String,
    /// Seed of design and trials.
    pub seed: u64,
    /// Points.
    pub points: usize,
    /// Trials of each strategy at every point; where an interval width is wanted, at one time.
    pub trials: u32,
    /// Wanted width of each rate's interval, and the most trials for it.
    pub until_width: Option<UntilWidth>,
    /// Strategies in the order of the tables.
    pub strategies: Vec<StrategyLabel>,
    /// The points.
    pub design: Design,
    /// What the map shows.
    pub map: Option<MapSpec>,
    /// The search for the best point.
    pub search: Option<SearchSpec>,
}

/// Trials go on at each point until the interval of the rate is narrow enough.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct UntilWidth {
    /// Wanted width, 0 to 1.
    pub width: f64,
    /// Trials after which a strategy at a point is left as it is.
    pub most_trials: u32,
}

/// Share `number` of `of`, counted from 1: every `of`-th point.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shard {
    /// Which one, from 1.
    pub number: usize,
    /// How many there are.
    pub of: usize,
}

impl Shard {
    /// Most shares of a sweep.
    pub const MOST: usize = 100_000;

    /// The whole.
    pub const WHOLE: Self = Self { number: 1, of: 1 };

    /// Whether the share has this point.
    #[must_use]
    pub fn has(&self, point: usize) -> bool {
        point % self.of == self.number - 1
    }
}

impl SweepPlan {
    /// Fills in what every plan of this program carries.
    #[must_use]
    pub fn stamped(mut self) -> Self {
        env!("CARGO_PKG_VERSION").clone_into(&mut self.version);
        self.build = build_fingerprint();
        self
    }

    /// What differs between this plan and `other`, in words; empty for equal plans.
    #[must_use]
    pub fn differences(&self, other: &Self) -> String {
        let fields = |plan: &Self| match serde_json::to_value(plan) {
            Ok(serde_json::Value::Object(map)) => map,
            _ => serde_json::Map::new(),
        };
        let (own, other) = (fields(self), fields(other));
        let said = |field: &str, value: Option<&serde_json::Value>| {
            let text = value.map_or("nothing".to_owned(), ToString::to_string);
            if text.len() <= 80 {
                text
            } else if field == "design" {
                "another design".to_owned()
            } else {
                "other text".to_owned()
            }
        };
        let differing = own
            .iter()
            .filter(|(field, value)| other.get(*field) != Some(value));
        let texts: Vec<String> = differing
            .map(|(field, value)| {
                let name = if field == "bendwise" {
                    "version"
                } else {
                    field
                };
                format!(
                    "{}: {} and {}",
                    name.replace('_', " "),
                    said(field, Some(value)),
                    said(field, other.get(field))
                )
            })
            .collect();
        texts.join("; ")
    }

    /// Trials of the whole sweep, where their number is known before the work.
    #[must_use]
    pub fn total(&self, shard: Shard) -> Option<usize> {
        if self.until_width.is_some() || self.search.is_some() {
            return None;
        }
        let points = (self.points + shard.of - shard.number) / shard.of;
        Some(points * self.strategies.len() * self.trials as usize)
    }

    /// Points whose rows are kept in one file of the journal, so that few rows are in memory at a
    /// time.
    #[must_use]
    pub fn points_in_block(&self) -> usize {
        /// Rows in one file.
        const ROWS: usize = 4096;
        let most = self.most_trials() as usize;
        (ROWS / (self.strategies.len() * most).max(1)).max(1)
    }

    /// The most trials that a strategy can have at one point; their numbers are smaller.
    #[must_use]
    pub fn most_trials(&self) -> u32 {
        match (&self.search, &self.until_width) {
            (Some(search), _) => search.most_trials.saturating_add(search.confirm),
            (None, Some(until)) => until.most_trials.max(self.trials),
            (None, None) => self.trials,
        }
    }
}
