//! The trials of one point in numbers.

use crate::study::statistics::quantile;
use crate::study::{MedianP95, VesselSummary, vessel_summary};
use crate::trial::result::{Outcome, TrialRow};

/// Outcomes that a trial can have.
pub(super) const OUTCOMES: usize = Outcome::ALL.len();

/// One strategy at one point.
#[derive(Debug, Clone, PartialEq)]
pub struct PointSummary {
    /// Strategy, by number.
    pub strategy: usize,
    /// Trials.
    pub trials: u32,
    /// Trials that reached the target.
    pub reached: u32,
    /// Unresolved trials.
    pub unresolved: u32,
    /// Trials by outcome, in the order of [`Outcome::ALL`].
    pub outcomes: [u32; OUTCOMES],
    /// Peak force on the wall in mN.
    pub peak_wall_force_mn: MedianP95,
    /// Peak push force in mN.
    pub peak_push_force_mn: MedianP95,
    /// What became of a vessel that gives way.
    pub vessel: Option<VesselSummary>,
    /// Success of every trial, by its number.
    pub by_draw: Vec<Option<bool>>,
}

/// Sums up the rows of one point, a summary for each strategy.
#[must_use]
pub fn summarise_point(rows: &[Vec<TrialRow>]) -> Vec<PointSummary> {
    rows.iter()
        .enumerate()
        .map(|(strategy, rows)| {
            let spread = |value: fn(&TrialRow) -> f64| {
                let values: Vec<f64> = rows.iter().map(value).collect();
                MedianP95 {
                    median: quantile(&values, 0.5).unwrap_or(f64::NAN),
                    p95: quantile(&values, 0.95).unwrap_or(f64::NAN),
                }
            };
            let count = |outcome| {
                let own = rows.iter().filter(|row| row.outcome == outcome);
                u32::try_from(own.count()).unwrap_or(u32::MAX)
            };
            let outcomes = Outcome::ALL.map(count);
            let mut by_draw = Vec::new();
            for row in rows {
                by_draw.resize((row.trial as usize + 1).max(by_draw.len()), None);
                by_draw[row.trial as usize] = Some(row.outcome == Outcome::Reached);
            }
            PointSummary {
                strategy,
                trials: outcomes.iter().sum(),
                reached: count(Outcome::Reached),
                unresolved: count(Outcome::Unresolved),
                outcomes,
                peak_wall_force_mn: spread(|row| row.peak_wall_force_mn),
                peak_push_force_mn: spread(|row| row.peak_push_force_mn),
                vessel: vessel_summary(rows),
                by_draw,
            }
        })
        .collect()
}
