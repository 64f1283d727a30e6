//! `summary.json`: the study in numbers.

use serde::{Deserialize, Serialize};

use super::CAUTION;
use super::setting::Setting;
use crate::study::{Comparison, StrategySummary, StudySetup, compare, summarise};
use crate::trial::result::TrialRow;

/// What `summary.json` holds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Summary {
    /// Version of the program.
    #[serde(rename = "bendwise")]
    pub bendwise_version: String,
    /// Name of the scenario.
    pub scenario: String,
    /// Where the scenario's anatomy comes from.
    pub origin: String,
    /// What was guessed and changed when a file of anatomy was read; empty, and left out, for a vessel
    /// that does not come from one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub anatomy_as_read: Vec<String>,
    /// What holds the vessel and what moves it, in words; empty, and left out, for one that is rigid and
    /// stands.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub vessel_acts: Vec<String>,
    /// What each technique is that a person made by hand, in words; empty, and left out, where there is none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub by_hand: Vec<String>,
    /// Hash of what the scenario says.
    pub content_hash: String,
    /// Seed of the random draws.
    pub seed: u64,
    /// Trials of each strategy.
    pub trials: u32,
    /// The caution.
    pub caution: String,
    /// One entry a strategy.
    pub strategies: Vec<StrategySummary>,
    /// Every pair of strategies on the same draws.
    pub comparisons: Vec<Comparison>,
}

/// Sums up each strategy of `setup`; `rows` holds a list for each.
#[must_use]
pub(super) fn strategies(setup: &StudySetup, rows: &[Vec<TrialRow>]) -> Vec<StrategySummary> {
    let pairs = setup.strategies.iter().zip(rows);
    pairs.map(|(label, rows)| summarise(label, rows)).collect()
}

/// Sums up a finished study; `rows` holds a list for each strategy of `setup`, `setting` what is known of
/// its vessel.
#[must_use]
pub fn summary(setup: &StudySetup, rows: &[Vec<TrialRow>], setting: &Setting) -> Summary {
    let pairs: Vec<_> = setup
        .strategies
        .iter()
        .zip(rows.iter().map(Vec::as_slice))
        .collect();
    let mut comparisons = Vec::new();
    for (index, &first) in pairs.iter().enumerate() {
        for &second in &pairs[index + 1..] {
            comparisons.push(compare(first, second));
        }
    }
    Summary {
        bendwise_version: env!("CARGO_PKG_VERSION").to_owned(),
        scenario: setup.scenario.clone(),
        origin: setup.origin.clone(),
        vessel_acts: setting.vessel_acts.clone(),
        anatomy_as_read: setting.anatomy_as_read.clone(),
        by_hand: setting.by_hand.clone(),
        content_hash: setup.content_hash.clone(),
        seed: setup.seed,
        trials: setup.trials,
        caution: CAUTION.to_owned(),
        strategies: strategies(setup, rows),
        comparisons,
    }
}
