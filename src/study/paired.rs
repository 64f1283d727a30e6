//! Two ways of doing the same, on the same draws: differences with intervals.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

use super::statistics::{mcnemar_exact, quantile};
use crate::trial::result::{Outcome, TrialRow};

/// Resamples of the bootstrap.
const RESAMPLES: usize = 2000;

/// The second way against the first.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PairedDifference {
    /// Pairs of trials.
    pub trials: u32,
    /// Pairs in which only the first reached the target.
    pub only_first: u32,
    /// Pairs in which only the second did.
    pub only_second: u32,
    /// Success rate of the second minus that of the first.
    pub rate: f64,
    /// Its 95 % interval.
    pub rate_ci95: [f64; 2],
    /// Two-sided p value of McNemar's exact test.
    pub rate_p: f64,
    /// Mean attempts of the second minus those of the first; a trial that fails counts with all
    /// the attempts that it used.
    pub attempts: f64,
    /// Its 95 % interval.
    pub attempts_ci95: [f64; 2],
    /// Two-sided p value of the exact sign test on the attempts of each pair.
    pub attempts_p: f64,
}

/// Compares two lists of the same trials in the same order; the bootstrap is keyed by `seed`.
#[must_use]
pub fn paired_difference(first: &[TrialRow], second: &[TrialRow], seed: u64) -> PairedDifference {
    let reached = |row: &TrialRow| row.outcome == Outcome::Reached;
    let pairs: Vec<(&TrialRow, &TrialRow)> = first.iter().zip(second).collect();
    let count = |wanted: &dyn Fn(&TrialRow, &TrialRow) -> bool| {
        let found = pairs.iter().filter(|(a, b)| wanted(a, b)).count();
        u32::try_from(found).unwrap_or(u32::MAX)
    };
    let only_first = count(&|a, b| reached(a) && !reached(b));
    let only_second = count(&|a, b| !reached(a) && reached(b));
    let trials = count(&|_, _| true);
    let differences: Vec<f64> = pairs
        .iter()
        .map(|(a, b)| f64::from(b.attempts) - f64::from(a.attempts))
        .collect();
    let fewer = count(&|a, b| b.attempts < a.attempts);
    let more = count(&|a, b| b.attempts > a.attempts);
    PairedDifference {
        trials,
        only_first,
        only_second,
        rate: (f64::from(only_second) - f64::from(only_first)) / f64::from(trials.max(1)),
        rate_ci95: paired_rate_interval(only_first, only_second, trials, 0.95),
        rate_p: mcnemar_exact(only_first, only_second),
        attempts: mean(&differences),
        attempts_ci95: bootstrap_mean(&differences, seed),
        attempts_p: mcnemar_exact(more, fewer),
    }
}

/// Interval of the difference of two paired rates, second minus first, for `confidence` (0 to 1,
/// exclusive).
///
/// Equation: Wald's interval with half a pair added to each of the four cells: with b, c the
/// pairs in which only the first, only the second succeeded, each plus 1/2, and n plus 2,
/// (c - b)/n ± z √(b + c - (c - b)²/n)/n.
/// Source: A. Agresti and Y. Min, Stat Med 24:729-740, 2005 (from memory; a test holds the
/// coverage against exact enumeration).
///
/// Returns (-1, 1) for no pairs.
#[must_use]
pub fn paired_rate_interval(
    only_first: u32,
    only_second: u32,
    trials: u32,
    confidence: f64,
) -> [f64; 2] {
    if trials == 0 {
        return [-1.0, 1.0];
    }
    let (b, c) = (f64::from(only_first) + 0.5, f64::from(only_second) + 0.5);
    let n = f64::from(trials) + 2.0;
    let z = Normal::standard().inverse_cdf(0.5 + 0.5 * confidence);
    let middle = (c - b) / n;
    let half = z * (b + c - (c - b).powi(2) / n).sqrt() / n;
    [(middle - half).max(-1.0), (middle + half).min(1.0)]
}

/// Percentile interval of a mean, 95 %, by drawing with replacement.
///
/// Source: B. Efron and R. Tibshirani, *An Introduction to the Bootstrap*, 1993, chapter 13.
fn bootstrap_mean(values: &[f64], seed: u64) -> [f64; 2] {
    if values.is_empty() {
        return [f64::NAN; 2];
    }
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let means: Vec<f64> = (0..RESAMPLES)
        .map(|_| {
            let drawn = (0..values.len()).map(|_| values[rng.random_range(0..values.len())]);
            drawn.sum::<f64>() / values.len() as f64
        })
        .collect();
    [0.025, 0.975].map(|f| quantile(&means, f).unwrap_or(f64::NAN))
}

/// Mean; not-a-number for no values.
fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Probability of `b` and `c` discordant pairs among `n`, for probabilities `pb` and `pc`.
    fn trinomial(n: u32, b: u32, c: u32, pb: f64, pc: f64) -> f64 {
        let mut log = 0.0;
        for k in 1..=n {
            log += f64::from(k).ln();
        }
        for m in [b, c, n - b - c] {
            for k in 1..=m {
                log -= f64::from(k).ln();
            }
        }
        log.exp()
            * pb.powi(b.cast_signed())
            * pc.powi(c.cast_signed())
            * (1.0 - pb - pc).powi((n - b - c).cast_signed())
    }

    #[test]
    fn the_interval_covers_the_true_difference_about_as_often_as_it_says() {
        let n = 32;
        for (pb, pc) in [
            (0.1, 0.4),
            (0.05, 0.05),
            (0.2, 0.25),
            (0.02, 0.6),
            (0.3, 0.1),
        ] {
            let mut covered = 0.0;
            for b in 0..=n {
                for c in 0..=(n - b) {
                    let [low, high] = paired_rate_interval(b, c, n, 0.95);
                    if low <= pc - pb && pc - pb <= high {
                        covered += trinomial(n, b, c, pb, pc);
                    }
                }
            }
            // Discrete data: Agresti and Min find the coverage between about 0.93 and 0.99.
            assert!((0.93..=0.995).contains(&covered), "{pb} {pc}: {covered:.3}");
        }
    }

    #[test]
    fn a_bootstrap_interval_is_near_that_of_the_normal_law_for_many_values() {
        let values: Vec<f64> = (0..400).map(|k| f64::from(k % 5)).collect();
        let [low, high] = bootstrap_mean(&values, 1);
        let half = 1.96 * (2.0_f64 / 400.0).sqrt();
        assert_relative_eq!(low, 2.0 - half, epsilon = 0.02);
        assert_relative_eq!(high, 2.0 + half, epsilon = 0.02);
    }
}
