//! What a sweep says: totals of strategies, success against each parameter, the fields of the map.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use toml::Value;

use super::peaks::PeakOfPoints;
use crate::scenario::sweep::model::shown;
use crate::trial::result::Outcome;

/// A strategy over all points.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StrategyTotals {
    /// Name.
    pub name: String,
    /// Name of the technique.
    pub technique: String,
    /// Name of the wire.
    pub wire: String,
    /// Trials.
    pub trials: u64,
    /// Trials that reached the target.
    pub reached: u64,
    /// Unresolved trials; they count as trials that did not reach.
    pub unresolved: u64,
    /// Reached over trials.
    pub rate: f64,
    /// Draws, one that met few points counting less.
    pub draws: f64,
    /// Trials that would tell as much if each had a draw and a point of its own.
    pub effective_trials: f64,
    /// Exact 95 % interval on the effective trials.
    pub ci95: [f64; 2],
    /// Trials by outcome.
    pub outcomes: BTreeMap<Outcome, u64>,
    /// Peak wall force over the points.
    #[serde(rename = "peak_wall_force_mN")]
    pub peak_wall_force_mn: Option<PeakOfPoints>,
    /// Peak push force over the points.
    #[serde(rename = "peak_push_force_mN")]
    pub peak_push_force_mn: Option<PeakOfPoints>,
    /// Width of the widest 95 % interval of any point.
    pub widest_ci95_of_a_point: f64,
    /// Trials with draws of their own that a 95 % interval of this width needs at this rate.
    pub trials_for_width: BTreeMap<String, Option<u32>>,
}

/// Trials at one level or in one bin of a parameter.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Bin {
    /// The level, or the middle of the bin.
    pub value: Value,
    /// Trials.
    pub trials: u64,
    /// Trials that reached the target.
    pub reached: u64,
    /// Unresolved trials; they count as trials that did not reach.
    pub unresolved: u64,
    /// Reached over trials.
    pub rate: f64,
    /// Exact 95 % interval on the effective trials.
    pub ci95: [f64; 2],
}

/// Success of one strategy against one parameter, over all values of the others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Effect {
    /// Name of the strategy.
    pub strategy: String,
    /// Column of the parameter.
    pub parameter: String,
    /// Levels or bins in rising order of the design.
    pub bins: Vec<Bin>,
}

/// One field of the map.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Cell {
    /// Name of the strategy.
    pub strategy: String,
    /// Value of the panel's parameter.
    pub panel: Option<Value>,
    /// Value from left to right.
    pub x: f64,
    /// Value upwards.
    pub y: f64,
    /// Trials and successes.
    #[serde(flatten)]
    pub count: Count,
}

/// Trials, successes and their rate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Count {
    /// Trials.
    pub trials: u64,
    /// Trials that reached the target.
    pub reached: u64,
    /// Unresolved trials; they count as trials that did not reach.
    pub unresolved: u64,
    /// Reached over trials.
    pub rate: f64,
    /// Exact 95 % interval on the effective trials.
    pub ci95: [f64; 2],
}

/// The best field of a panel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Best {
    /// The field.
    #[serde(flatten)]
    pub cell: Cell,
    /// Fields of the panel, this one included, whose interval reaches up to the best rate: none
    /// of them is told apart from it.
    pub fields_alike: usize,
    /// Fields of the panel.
    pub fields: usize,
    /// Least and largest x among those.
    pub x_alike: [f64; 2],
    /// Least and largest y among those.
    pub y_alike: [f64; 2],
}

/// Points that could not be built.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Refused {
    /// How many.
    pub points: usize,
    /// The first of them, and why.
    pub first: Option<(usize, String)>,
}

/// How a race ended.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RaceResult {
    /// Candidates at the start.
    pub candidates: usize,
    /// Candidates that could not be built.
    pub refused: usize,
    /// Trials of the race in all.
    pub trials: u64,
    /// Trials that a race without dropping out would have taken.
    pub trials_without_dropping: u64,
    /// Confidence that the best candidate is among those left.
    pub confidence: f64,
    /// The winner; none where no candidate could be built.
    pub best: Option<Standing>,
    /// Rate of the winner on new draws.
    pub confirmed: Option<Confirmed>,
    /// Candidates left, the winner first, by successes.
    pub left: Vec<Standing>,
    /// Whether only the winner is left.
    pub decided: bool,
}

/// A candidate at the end.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Standing {
    /// Point.
    pub point: usize,
    /// Strategy, by number.
    pub strategy: usize,
    /// Trials in the race.
    pub trials: u32,
    /// Successes in the race.
    pub reached: u32,
    /// Unresolved trials in the race; they count as failures.
    pub unresolved: u32,
    /// Trials in which only the winner succeeded.
    pub only_best: u32,
    /// Trials in which only this one succeeded.
    pub only_this: u32,
}

/// The winner on new draws.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Confirmed {
    /// Trials.
    pub trials: u32,
    /// Successes.
    pub reached: u32,
    /// Unresolved trials; they count as failures.
    pub unresolved: u32,
    /// Success rate.
    pub rate: f64,
    /// Exact 95 % interval.
    pub ci95: [f64; 2],
}

/// The best field of every panel for every strategy.
#[must_use]
pub fn best_fields(cells: &[Cell]) -> Vec<Best> {
    let mut groups: Vec<((&str, String), Vec<&Cell>)> = Vec::new();
    for cell in cells {
        let key = (
            cell.strategy.as_str(),
            cell.panel.as_ref().map_or(String::new(), shown),
        );
        match groups.iter_mut().find(|(of, _)| *of == key) {
            Some((_, group)) => group.push(cell),
            None => groups.push((key, vec![cell])),
        }
    }
    let best = |group: &[&Cell]| {
        let top = *group
            .iter()
            .rev()
            .max_by(|a, b| a.count.rate.total_cmp(&b.count.rate))?;
        let alike: Vec<&&Cell> = group
            .iter()
            .filter(|cell| cell.count.ci95[1] >= top.count.rate)
            .collect();
        let range = |value: fn(&Cell) -> f64| {
            let values = alike.iter().map(|cell| value(cell));
            [
                values.clone().fold(f64::INFINITY, f64::min),
                values.fold(f64::NEG_INFINITY, f64::max),
            ]
        };
        Some(Best {
            cell: top.clone(),
            fields_alike: alike.len(),
            fields: group.len(),
            x_alike: range(|cell| cell.x),
            y_alike: range(|cell| cell.y),
        })
    };
    groups.iter().filter_map(|(_, group)| best(group)).collect()
}
