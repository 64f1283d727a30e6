//! Two ways of doing the same, on the same draws: differences with intervals.

use serde::{Deserialize, Serialize};

use super::intervals::{normal_bound, student_bound};
use super::statistics::mcnemar_exact;
use crate::trial::result::{Outcome, TrialRow};

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

/// Compares two lists of the same trials in the same order.
#[must_use]
pub fn paired_difference(first: &[TrialRow], second: &[TrialRow]) -> PairedDifference {
    let reached = |row: &TrialRow| row.outcome == Outcome::Reached;
    let pairs: Vec<(&TrialRow, &TrialRow)> = first.iter().zip(second).collect();
    let count = |wanted: &dyn Fn(&TrialRow, &TrialRow) -> bool| {
        let found = pairs.iter().filter(|(a, b)| wanted(a, b)).count();
        u32::try_from(found).unwrap_or(u32::MAX)
    };
    let only_first = count(&|a, b| reached(a) && !reached(b));
    let only_second = count(&|a, b| !reached(a) && reached(b));
    let trials = count(&|_, _| true);
    let differences = || {
        let attempts = pairs.iter();
        attempts.map(|(a, b)| f64::from(b.attempts) - f64::from(a.attempts))
    };
    let fewer = count(&|a, b| b.attempts < a.attempts);
    let more = count(&|a, b| b.attempts > a.attempts);
    PairedDifference {
        trials,
        only_first,
        only_second,
        rate: (f64::from(only_second) - f64::from(only_first)) / f64::from(trials.max(1)),
        rate_ci95: paired_rate_interval(
            f64::from(only_first),
            f64::from(only_second),
            f64::from(trials),
            0.95,
        ),
        rate_p: mcnemar_exact(only_first, only_second),
        attempts: differences().sum::<f64>() / f64::from(trials),
        attempts_ci95: mean_interval(&differences().collect::<Vec<_>>(), 0.95),
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
/// The counts need not be whole: those of an effective number of pairs. Returns (-1, 1) for no
/// pairs.
#[must_use]
pub fn paired_rate_interval(
    only_first: f64,
    only_second: f64,
    pairs: f64,
    confidence: f64,
) -> [f64; 2] {
    if pairs <= 0.0 {
        return [-1.0, 1.0];
    }
    let (b, c) = (only_first + 0.5, only_second + 0.5);
    let n = pairs + 2.0;
    let z = normal_bound(confidence);
    let middle = (c - b) / n;
    let half = z * (b + c - (c - b).powi(2) / n).sqrt() / n;
    [(middle - half).max(-1.0), (middle + half).min(1.0)]
}

/// Student's interval of a mean of whole numbers, for `confidence` (0 to 1, exclusive).
///
/// Equation: m ± t s/√n with s² = (Σ(x - m)² + 1)/(n - 1): one value more that differs by one is
/// counted in, so that values that happen to agree do not pass for certain.
/// Source: W. S. Gosset ("Student"), Biometrika 6:1-25, 1908; the summand is ours, and a test holds
/// the coverage against simulation.
///
/// Without limit for fewer than two values, not-a-number for none.
fn mean_interval(values: &[f64], confidence: f64) -> [f64; 2] {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|x| (x - mean).powi(2)).sum();
    let half = if n < 2.0 {
        f64::INFINITY
    } else {
        student_bound(n - 1.0, confidence) * ((squares + 1.0) / (n - 1.0) / n).sqrt()
    };
    [mean - half, mean + half]
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

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
                    let counts = [b, c, n].map(f64::from);
                    let [low, high] = paired_rate_interval(counts[0], counts[1], counts[2], 0.95);
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
    fn an_interval_of_a_mean_is_that_of_the_normal_law_for_many_values() {
        let values: Vec<f64> = (0..4000).map(|k| f64::from(k % 5)).collect();
        let [low, high] = mean_interval(&values, 0.95);
        let half = 1.96 * (2.0_f64 / 4000.0).sqrt();
        assert_relative_eq!(low, 2.0 - half, epsilon = 0.001);
        assert_relative_eq!(high, 2.0 + half, epsilon = 0.001);
        assert!(mean_interval(&[1.0], 0.95)[1].is_infinite());
    }

    /// Differences of attempts as they come: most pairs alike, some apart by one to three, to one
    /// side more than to the other.
    #[test]
    fn the_interval_of_attempts_covers_their_mean_about_as_often_as_it_says() {
        let mut rng = ChaCha8Rng::seed_from_u64(4);
        // A rare large difference is skewed: Student's interval covers it in 92 % of samples.
        for (pairs, steps, mean, least) in [
            (8, [0, 0, 0, -1, -1, -2, -3, 1], -0.75, 0.93),
            (32, [0, 0, 0, -1, -1, -2, -3, 1], -0.75, 0.93),
            (32, [0, 0, 0, 0, 0, 0, 0, -3], -0.375, 0.915),
            (16, [2, 1, 0, -1, -2, 1, -1, 0], 0.0, 0.93),
        ] {
            let samples = 4000;
            let covered = (0..samples).filter(|_| {
                let draw = |_| f64::from(steps[rng.random_range(0..steps.len())]);
                let values: Vec<f64> = (0..pairs).map(draw).collect();
                let [low, high] = mean_interval(&values, 0.95);
                low <= mean && mean <= high
            });
            let coverage = covered.count() as f64 / f64::from(samples);
            println!("{pairs} pairs, mean {mean}: {coverage:.3}");
            // Four standard errors of a rate of 0.95 over 4000 samples are 0.014.
            assert!(
                (least - 0.014..=0.97 + 0.014).contains(&coverage),
                "{pairs} {mean}: {coverage}"
            );
        }
    }
}
