//! `sweep.json`: the sweep in numbers.

use serde::{Deserialize, Serialize};

use super::columns::Column;
use super::regression::Regression;
use crate::study::Comparison;
use crate::study::StudySetup;
use crate::study::sweep::{Best, Cell, Effect, RaceResult, Refused, Sensitivity, StrategyTotals};

/// What `sweep.json` holds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SweepSummary {
    /// Version, build, names, hashes, seed, design.
    #[serde(flatten)]
    pub setup: StudySetup,
    /// The caution.
    pub caution: String,
    /// Trials in all.
    pub trials_in_all: u64,
    /// Those of them that are unresolved; they count as trials that did not reach.
    pub unresolved_in_all: u64,
    /// Points that could not be built.
    pub not_built: Refused,
    /// Strategies over all points.
    pub totals: Vec<StrategyTotals>,
    /// Every pair of strategies on the same points and draws.
    pub comparisons: Vec<Comparison>,
    /// Success against every parameter.
    pub effects: Vec<Effect>,
    /// The fields of the map.
    pub fields: Vec<Cell>,
    /// The best field of every panel.
    pub best: Vec<Best>,
    /// Logistic regression by strategy.
    pub regressions: Vec<Regression>,
    /// Sensitivity indices by strategy.
    pub sensitivities: Vec<StrategySensitivities>,
    /// How the search ended.
    pub race: Option<RaceResult>,
    /// The columns of `trials.csv` and `trials.parquet`.
    pub columns: Vec<ColumnNote>,
}

/// Indices of one strategy.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StrategySensitivities {
    /// Name of the strategy.
    pub strategy: String,
    /// The parameters.
    pub parameters: Vec<Sensitivity>,
}

/// What a column means.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ColumnNote {
    /// Name.
    pub name: String,
    /// What it holds.
    pub kind: String,
    /// Unit; empty for a ratio or a text.
    pub unit: String,
    /// Meaning.
    pub meaning: String,
}

impl ColumnNote {
    /// The note of a column.
    #[must_use]
    pub fn of(column: &Column) -> Self {
        Self {
            name: column.name.clone(),
            kind: column.kind.word().to_owned(),
            unit: column.unit.clone(),
            meaning: column.meaning.clone(),
        }
    }
}
