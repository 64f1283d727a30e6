//! A strategy's trials in numbers, and strategies against each other on the same draws.

use std::collections::BTreeMap;
use std::ops::Deref;

use serde::{Deserialize, Serialize};

use super::missing;
use super::paired::paired_rate_interval;
use super::setup::StrategyLabel;
use super::statistics::{largest, mcnemar_exact, quantile, wilson_interval};
use crate::trial::result::{Outcome, TrialRow};

/// Confidence of the intervals.
const CONFIDENCE: f64 = 0.95;

/// Median and 95th percentile over the trials of a strategy, in the unit that the field's name
/// says. A value that is not finite is missing and left out; not-a-number where none is left.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct MedianP95 {
    /// Median.
    #[serde(deserialize_with = "missing::number")]
    pub median: f64,
    /// 95th percentile.
    #[serde(deserialize_with = "missing::number")]
    pub p95: f64,
}

/// Fewest trials of which a 95th percentile says something: one of 20 lies at it or above. Of fewer it
/// lies between the two largest values, and the largest says more.
pub const LEAST_FOR_P95: u32 = 20;

/// Median and 95th percentile, as `summary.json` holds them, and the largest value, for reports.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Spread {
    /// Median and 95th percentile.
    #[serde(flatten)]
    pub quantiles: MedianP95,
    /// Largest value that is finite; not known of a summary that was read from its file.
    #[serde(skip)]
    pub largest: Option<f64>,
}

impl Deref for Spread {
    type Target = MedianP95;

    fn deref(&self) -> &MedianP95 {
        &self.quantiles
    }
}

impl Spread {
    /// The high end that is shown beside the median of so many trials: the 95th percentile from
    /// [`LEAST_FOR_P95`] on, else the largest value.
    #[must_use]
    pub fn high(&self, trials: u32) -> f64 {
        match self.largest {
            Some(largest) if trials < LEAST_FOR_P95 => largest,
            _ => self.p95,
        }
    }
}

/// How the high end beside a median is called ([`Spread::high`]).
#[must_use]
pub fn high_end(trials: u32) -> &'static str {
    if trials < LEAST_FOR_P95 {
        "largest"
    } else {
        "95th percentile"
    }
}

/// Median over the trials of a strategy.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Median {
    /// Median.
    #[serde(deserialize_with = "missing::number")]
    pub median: f64,
}

/// The trials of one strategy in numbers: an entry of `strategies` in `summary.json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StrategySummary {
    /// Name of the strategy.
    pub name: String,
    /// Name of the technique.
    pub technique: String,
    /// Name of the wire.
    pub wire: String,
    /// Trials, unresolved ones included.
    pub trials: u32,
    /// Trials that reached the target.
    pub reached: u32,
    /// Unresolved trials; they count as trials that did not reach.
    pub unresolved: u32,
    /// Reached over trials.
    pub rate: f64,
    /// Wilson's 95 % interval of the rate: low, high.
    pub ci95: [f64; 2],
    /// Trials by outcome; every outcome has an entry.
    pub outcomes: BTreeMap<Outcome, u32>,
    /// Trials that did not reach the target by their reason, in few words.
    pub reasons: BTreeMap<String, u32>,
    /// Peak wall force on the way, at the target's mouth and beyond it, in mN; that of leaving the
    /// guide does not count.
    #[serde(rename = "peak_wall_force_mN")]
    pub peak_wall_force_mn: Spread,
    /// Peak wall force in the guide or near its end in mN.
    #[serde(rename = "peak_wall_force_leaving_guide_mN")]
    pub peak_wall_force_leaving_guide_mn: Spread,
    /// Peak wall force on the way in mN.
    #[serde(rename = "peak_wall_force_on_the_way_mN")]
    pub peak_wall_force_on_the_way_mn: Spread,
    /// Peak wall force at the target's mouth in mN, 0 for a trial that does not press there.
    #[serde(rename = "peak_wall_force_at_mouth_mN")]
    pub peak_wall_force_at_mouth_mn: Spread,
    /// Peak wall force in the target beyond its mouth in mN, 0 for a trial that does not press
    /// there.
    #[serde(rename = "peak_wall_force_beyond_mN")]
    pub peak_wall_force_beyond_mn: Spread,
    /// Peak force with which the hand pushes the wire in mN.
    #[serde(rename = "peak_push_force_mN")]
    pub peak_push_force_mn: Spread,
    /// Peak force with which the hand pulls the wire in mN.
    #[serde(rename = "peak_pull_force_mN")]
    pub peak_pull_force_mn: Spread,
    /// Peak magnitude of the axial force at the tip in mN.
    #[serde(rename = "peak_tip_force_mN")]
    pub peak_tip_force_mn: Spread,
    /// Peak magnitude of the torque at the hand in mN mm.
    #[serde(rename = "peak_torque_mN_mm")]
    pub peak_torque_mn_mm: Spread,
    /// Peak force with which the catheter's hub is pushed in mN; 0 without a catheter.
    #[serde(rename = "peak_catheter_push_force_mN")]
    pub peak_catheter_push_force_mn: Spread,
    /// Peak force with which the catheter's hub is pulled in mN; 0 without a catheter.
    #[serde(rename = "peak_catheter_pull_force_mN")]
    pub peak_catheter_pull_force_mn: Spread,
    /// Peak magnitude of the torque at the catheter's hub in mN mm; 0 without a catheter.
    #[serde(rename = "peak_catheter_torque_mN_mm")]
    pub peak_catheter_torque_mn_mm: Spread,
    /// Deepest deflection of the wall in mm.
    pub peak_wall_deflection_mm: Spread,
    /// Length fed plus length withdrawn in mm.
    pub travel_mm: Spread,
    /// Turns of the hand either way, in degrees; of the wire's and of the catheter's together.
    pub turned_deg: Spread,
    /// Attempts.
    pub attempts: Median,
    /// Set that the wire's core keeps at the end of a trial, in degrees.
    pub set_deg: Spread,
    /// Largest bending strain over its limit in any trial; above 1 the core yields. Not-a-number where
    /// every value is missing.
    #[serde(deserialize_with = "missing::number")]
    pub largest_strain_ratio: f64,
    /// Largest axial strain in any trial, likewise.
    #[serde(deserialize_with = "missing::number")]
    pub largest_axial_strain: f64,
    /// What became of the vessel; `None` where none gave way.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vessel: Option<VesselSummary>,
    /// Newton iterations over accepted steps, all trials together; `None` without any step.
    pub newton_iterations_per_step: Option<f64>,
}

impl StrategySummary {
    /// Whether a hand was at a catheter: it felt a force there.
    #[must_use]
    pub fn has_catheter(&self) -> bool {
        self.peak_catheter_push_force_mn.p95 > 0.0 || self.peak_catheter_pull_force_mn.p95 > 0.0
    }
}

/// What became of a vessel that gives way, in those trials of one strategy that are not unresolved.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct VesselSummary {
    /// Those trials.
    pub trials: u32,
    /// Farthest that an axis was moved in mm.
    pub moved_mm: Spread,
    /// Largest loss of turning within 10 mm in degrees.
    pub straightened_deg: Spread,
    /// Largest compression of the wall along the vessel.
    pub compression: Spread,
    /// Trials in which the wall was compressed by more than the scenario says it takes without folds.
    pub folds: u32,
}

/// Two strategies on the same draws: trial by trial, who reached the target.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// Name of the first strategy.
    pub first: String,
    /// Name of the second strategy.
    pub second: String,
    /// Pairs of trials.
    pub trials: u32,
    /// Pairs in which both reached the target.
    pub both: u32,
    /// Pairs in which only the first did.
    pub only_first: u32,
    /// Pairs in which only the second did.
    pub only_second: u32,
    /// Pairs in which neither did.
    pub neither: u32,
    /// Rate of the second minus rate of the first.
    pub rate_difference: f64,
    /// Its 95 % interval; in a sweep one that knows that the draws are shared between points.
    pub rate_difference_ci95: [f64; 2],
    /// Two-sided p value of McNemar's exact test, not corrected for the number of comparisons. It
    /// takes every pair as independent.
    pub p_mcnemar_exact: f64,
    /// In a sweep: two-sided p value by the mean differences of the draws.
    pub p_by_draw: Option<f64>,
}

/// Sums up the trials of one strategy.
#[must_use]
pub fn summarise(label: &StrategyLabel, rows: &[TrialRow]) -> StrategySummary {
    let spread = |value: fn(&TrialRow) -> f64| spread(rows.iter().map(value).collect());
    let mut outcomes: BTreeMap<Outcome, u32> =
        Outcome::ALL.iter().map(|&outcome| (outcome, 0)).collect();
    for row in rows {
        *outcomes.entry(row.outcome).or_default() += 1;
    }
    let mut reasons: BTreeMap<String, u32> = BTreeMap::new();
    for row in rows.iter().filter(|row| !row.reason.is_empty()) {
        *reasons.entry(row.reason.clone()).or_default() += 1;
    }
    let trials = count(rows, |_| true);
    let reached = count(rows, |row| row.outcome == Outcome::Reached);
    let (low, high) = wilson_interval(reached, trials, CONFIDENCE);
    let steps: u64 = rows.iter().map(|row| u64::from(row.steps)).sum();
    let iterations: u64 = rows.iter().map(|r| u64::from(r.newton_iterations)).sum();
    StrategySummary {
        name: label.name.clone(),
        technique: label.technique.clone(),
        wire: label.wire.clone(),
        trials,
        reached,
        unresolved: count(rows, |row| row.outcome == Outcome::Unresolved),
        rate: f64::from(reached) / f64::from(trials.max(1)),
        ci95: [low, high],
        outcomes,
        reasons,
        peak_wall_force_mn: spread(|row| row.peak_wall_force_mn),
        peak_wall_force_leaving_guide_mn: spread(|row| row.peak_wall_force_leaving_guide_mn),
        peak_wall_force_on_the_way_mn: spread(|row| row.peak_wall_force_on_the_way_mn),
        peak_wall_force_at_mouth_mn: spread(|row| row.peak_wall_force_at_mouth_mn),
        peak_wall_force_beyond_mn: spread(|row| row.peak_wall_force_beyond_mn),
        peak_push_force_mn: spread(|row| row.peak_push_force_mn),
        peak_pull_force_mn: spread(|row| row.peak_pull_force_mn),
        peak_tip_force_mn: spread(|row| row.peak_tip_force_mn),
        peak_torque_mn_mm: spread(|row| row.peak_torque_mn_mm),
        peak_catheter_push_force_mn: spread(|row| row.peak_catheter_push_force_mn),
        peak_catheter_pull_force_mn: spread(|row| row.peak_catheter_pull_force_mn),
        peak_catheter_torque_mn_mm: spread(|row| row.peak_catheter_torque_mn_mm),
        peak_wall_deflection_mm: spread(|row| row.peak_wall_deflection_mm),
        travel_mm: spread(|row| row.travel_mm),
        turned_deg: spread(|row| row.turned_deg + row.catheter_turned_deg),
        attempts: Median {
            median: spread(|row| f64::from(row.attempts)).median,
        },
        set_deg: spread(|row| row.set_deg),
        largest_strain_ratio: largest(rows.iter().map(|row| row.peak_strain_ratio)),
        largest_axial_strain: largest(rows.iter().map(|row| row.peak_axial_strain)),
        vessel: vessel_summary(rows),
        newton_iterations_per_step: (steps > 0).then(|| iterations as f64 / steps as f64),
    }
}

fn spread(values: Vec<f64>) -> Spread {
    let quantiles = MedianP95 {
        median: quantile(&values, 0.5).unwrap_or(f64::NAN),
        p95: quantile(&values, 0.95).unwrap_or(f64::NAN),
    };
    Spread {
        quantiles,
        largest: Some(largest(values.into_iter())),
    }
}

/// What became of the vessel; `None` where it did not give way, and where every trial is unresolved.
#[must_use]
pub fn vessel_summary(rows: &[TrialRow]) -> Option<VesselSummary> {
    let resolved: Vec<&TrialRow> = rows
        .iter()
        .filter(|row| row.outcome != Outcome::Unresolved)
        .collect();
    let of = |value: fn(&TrialRow) -> f64| spread(resolved.iter().map(|row| value(row)).collect());
    resolved
        .iter()
        .any(|row| row.peak_vessel_moved_mm > 0.0)
        .then(|| VesselSummary {
            trials: count(&resolved, |_| true),
            moved_mm: of(|row| row.peak_vessel_moved_mm),
            straightened_deg: of(|row| row.peak_vessel_straightened_deg),
            compression: of(|row| row.peak_vessel_compression),
            folds: count(&resolved, |row| row.vessel_folds),
        })
}

/// Compares two strategies trial by trial: `rows` of both hold the same trials in the same order,
/// and trial n of both has the same draws.
#[must_use]
pub fn compare(
    (first, first_rows): (&StrategyLabel, &[TrialRow]),
    (second, second_rows): (&StrategyLabel, &[TrialRow]),
) -> Comparison {
    let reached = |row: &TrialRow| row.outcome == Outcome::Reached;
    let pairs: Vec<(bool, bool)> = first_rows
        .iter()
        .zip(second_rows)
        .map(|(a, b)| (reached(a), reached(b)))
        .collect();
    let trials = count(&pairs, |_| true);
    let only_first = count(&pairs, |&(a, b)| a && !b);
    let only_second = count(&pairs, |&(a, b)| b && !a);
    Comparison {
        first: first.name.clone(),
        second: second.name.clone(),
        trials,
        both: count(&pairs, |&(a, b)| a && b),
        only_first,
        only_second,
        neither: count(&pairs, |&(a, b)| !a && !b),
        rate_difference: (f64::from(only_second) - f64::from(only_first))
            / f64::from(trials.max(1)),
        rate_difference_ci95: paired_rate_interval(
            f64::from(only_first),
            f64::from(only_second),
            f64::from(trials),
            CONFIDENCE,
        ),
        p_mcnemar_exact: mcnemar_exact(only_first, only_second),
        p_by_draw: None,
    }
}

fn count<T>(items: &[T], wanted: impl Fn(&T) -> bool) -> u32 {
    u32::try_from(items.iter().filter(|item| wanted(item)).count()).unwrap_or(u32::MAX)
}
