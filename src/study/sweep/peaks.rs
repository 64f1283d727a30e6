//! Peak forces over all points of a sweep, without keeping them: how many points had which median.

use serde::{Deserialize, Serialize};

use crate::study::MedianP95;

/// Forces in mN that are told apart, from the least to the largest.
const LEAST_MN: f64 = 1e-6;
const LARGEST_MN: f64 = 1e6;
/// Ratio of neighbouring forces that are told apart: the median of the points is known to half a per cent.
const RATIO: f64 = 1.01;

/// Medians of the points of one strategy, counted.
#[derive(Debug, Clone)]
pub(super) struct PeakTally {
    counts: Vec<u64>,
    points: u64,
    least: f64,
    most: f64,
    largest_p95: f64,
}

/// A peak force over all points.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PeakOfPoints {
    /// Median over the points of the median of each, in mN, to half a per cent.
    pub median: f64,
    /// Least and largest median of a point in mN.
    pub range: [f64; 2],
    /// Largest force in mN that 95 % of the trials of a point stay below.
    pub largest_p95: f64,
}

impl PeakTally {
    /// Without a point.
    pub(super) fn new() -> Self {
        Self {
            counts: vec![0; 1 + class(LARGEST_MN)],
            points: 0,
            least: f64::INFINITY,
            most: 0.0,
            largest_p95: 0.0,
        }
    }

    /// Adds a point; one without a force, because no trial found an equilibrium, is left out.
    pub(super) fn add(&mut self, peak: &MedianP95) {
        if !peak.median.is_finite() {
            return;
        }
        self.counts[class(peak.median)] += 1;
        self.points += 1;
        self.least = self.least.min(peak.median);
        self.most = self.most.max(peak.median);
        self.largest_p95 = self.largest_p95.max(peak.p95);
    }

    /// What the points say together; `None` where none has a force.
    pub(super) fn sum(&self) -> Option<PeakOfPoints> {
        let middle = self.points.div_ceil(2);
        let mut below = 0;
        let number = self.counts.iter().position(|count| {
            below += count;
            below >= middle
        });
        let number = number.filter(|_| self.points > 0)?;
        let between = LEAST_MN * RATIO.powf(number as f64 - 0.5);
        Some(PeakOfPoints {
            median: between.clamp(self.least, self.most),
            range: [self.least, self.most],
            largest_p95: self.largest_p95,
        })
    }
}

/// Number of the class of a force: 0 up to the least one.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "some thousand classes"
)]
fn class(force_mn: f64) -> usize {
    let within = force_mn.clamp(LEAST_MN, LARGEST_MN);
    ((within / LEAST_MN).ln() / RATIO.ln()).ceil() as usize
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::statistics::quantile;

    #[test]
    fn the_median_of_points_is_known_to_half_a_per_cent_and_missing_forces_count_nowhere() {
        let mut tally = PeakTally::new();
        assert_eq!(tally.sum(), None);
        let values: Vec<f64> = (0..301)
            .map(|i| 0.2 + 0.37 * f64::from(i * 8 % 301))
            .collect();
        for &median in &values {
            let p95 = 2.0 * median;
            tally.add(&MedianP95 { median, p95 });
        }
        let missing = f64::NAN;
        tally.add(&MedianP95 {
            median: missing,
            p95: missing,
        });
        let found = tally.sum().unwrap();
        let exact = quantile(&values, 0.5).unwrap();
        approx::assert_relative_eq!(found.median, exact, max_relative = 0.005 + 1e-9);
        approx::assert_relative_eq!(found.range[0], 0.2);
        approx::assert_relative_eq!(found.range[1], 0.2 + 0.37 * 300.0);
        approx::assert_relative_eq!(found.largest_p95, 2.0 * found.range[1]);
    }

    #[test]
    fn a_force_of_nothing_stays_nothing() {
        let mut tally = PeakTally::new();
        let (median, p95) = (0.0, 0.0);
        tally.add(&MedianP95 { median, p95 });
        approx::assert_relative_eq!(tally.sum().unwrap().median, 0.0);
    }
}
