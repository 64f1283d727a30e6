//! Rates with intervals, paired comparison, medians.

use statrs::distribution::{Binomial, DiscreteCDF};

use super::intervals::normal_bound;

/// Wilson's score interval of a proportion, for `confidence` (0 to 1, exclusive).
///
/// Equation: (p + z²/2n ± z √(p(1-p)/n + z²/4n²)) / (1 + z²/n), p = successes/n.
/// Source: E. B. Wilson, J Am Stat Assoc 22:209-212, 1927; method 3 of R. G. Newcombe, Stat Med
/// 17:857-872, 1998, whose worked examples the tests use.
///
/// Returns (low, high) within 0 and 1; no trials say nothing: (0, 1). `successes` beyond
/// `trials` counts as `trials`.
#[must_use]
pub fn wilson_interval(successes: u32, trials: u32, confidence: f64) -> (f64, f64) {
    if trials == 0 {
        return (0.0, 1.0);
    }
    let rate = f64::from(successes.min(trials)) / f64::from(trials);
    wilson(rate, f64::from(trials), confidence)
}

/// The same of a rate `p` (0 to 1) of `n` trials (above 0), which need not be a whole number.
pub(super) fn wilson(p: f64, n: f64, confidence: f64) -> (f64, f64) {
    let z = normal_bound(confidence);
    let z2 = z * z;
    let middle = p + z2 / (2.0 * n);
    let half = z * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
    let scale = 1.0 + z2 / n;
    let low = if p <= 0.0 {
        0.0
    } else {
        ((middle - half) / scale).max(0.0)
    };
    let high = if p >= 1.0 {
        1.0
    } else {
        ((middle + half) / scale).min(1.0)
    };
    (low, high)
}

/// Two-sided p value of McNemar's exact test on paired yes/no results.
///
/// `only_first` and `only_second` count the pairs in which one succeeded and the other failed.
/// Under the hypothesis of equal rates each such pair falls to either side with probability
/// one half: p = min(1, 2 P(X ≤ min)), X ~ Bin(`only_first` + `only_second`, ½), without a
/// mid-point correction. No such pairs: 1.
///
/// Source: Q. McNemar, Psychometrika 12:153-157, 1947; exact form as in A. Agresti,
/// *Categorical Data Analysis*, 3rd ed., 2013, section 11.1.
#[must_use]
pub fn mcnemar_exact(only_first: u32, only_second: u32) -> f64 {
    let pairs = u64::from(only_first) + u64::from(only_second);
    match Binomial::new(0.5, pairs) {
        Ok(binomial) if pairs > 0 => {
            (2.0 * binomial.cdf(u64::from(only_first.min(only_second)))).min(1.0)
        }
        _ => 1.0,
    }
}

/// Quantile of `values` at `fraction` (0 to 1), with linear interpolation between order
/// statistics: the value at position (n-1) `fraction` from 0.
///
/// Source: definition 7 of R. J. Hyndman and Y. Fan, Am Stat 50:361-365, 1996.
///
/// A value that is not finite is missing: it is left out. Returns `None` where none is left.
#[must_use]
pub fn quantile(values: &[f64], fraction: f64) -> Option<f64> {
    let finite = values.iter().copied().filter(|value| value.is_finite());
    let mut sorted: Vec<f64> = finite.collect();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len().checked_sub(1)?;
    let position = fraction.clamp(0.0, 1.0) * last as f64;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "position lies between 0 and last"
    )]
    let below = (position.floor() as usize).min(last);
    let above = (below + 1).min(last);
    Some(sorted[below] + (position - below as f64) * (sorted[above] - sorted[below]))
}

/// Middle value of `values`, the mean of the two middle ones for an even number; `None` for no
/// finite values.
#[must_use]
pub fn median(values: &[f64]) -> Option<f64> {
    quantile(values, 0.5)
}

/// Largest of `values` that are finite; not-a-number where none is.
#[must_use]
pub fn largest(values: impl Iterator<Item = f64>) -> f64 {
    values
        .filter(|value| value.is_finite())
        .fold(f64::NAN, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Newcombe 1998, table I, method 3: the published limits have four decimals.
    #[test]
    fn wilson_limits_equal_newcombes_worked_examples() {
        for (successes, trials, low, high) in [
            (81, 263, 0.2553, 0.3662),
            (15, 148, 0.0624, 0.1605),
            (0, 20, 0.0, 0.1611),
            (1, 29, 0.0061, 0.1718),
        ] {
            let (l, h) = wilson_interval(successes, trials, 0.95);
            assert_abs_diff_eq!(l, low, epsilon = 0.5e-4 + 1e-12);
            assert_abs_diff_eq!(h, high, epsilon = 0.5e-4 + 1e-12);
        }
    }

    #[test]
    fn wilson_limits_are_those_of_failures_mirrored() {
        for (successes, trials) in [(0, 1), (1, 7), (32, 32), (5, 32)] {
            let (low, high) = wilson_interval(successes, trials, 0.95);
            let (mirrored_low, mirrored_high) = wilson_interval(trials - successes, trials, 0.95);
            assert_abs_diff_eq!(low, 1.0 - mirrored_high, epsilon = 1e-14);
            assert_abs_diff_eq!(high, 1.0 - mirrored_low, epsilon = 1e-14);
        }
    }

    /// Twice the sum of binomial coefficients over 2^n, counted by hand:
    /// n = 12: 1 + 12 + 66; n = 8: 1; n = 32: 1 + 32 + 496 + 4960.
    #[test]
    fn mcnemar_equals_the_closed_binomial_sums() {
        for (b, c, p) in [
            (10, 2, 158.0 / 4096.0),
            (2, 10, 158.0 / 4096.0),
            (8, 0, 2.0 / 256.0),
            (3, 29, 2.0 * 5489.0 / 4_294_967_296.0),
        ] {
            assert_abs_diff_eq!(mcnemar_exact(b, c), p, epsilon = 1e-12);
        }
        assert_abs_diff_eq!(mcnemar_exact(0, 0), 1.0);
        assert_abs_diff_eq!(mcnemar_exact(4, 4), 1.0);
    }

    /// Definition 7 at hand-computed positions: 0.95 of nine gaps between 1 and 10 is 9.55.
    #[test]
    fn quantiles_interpolate_between_order_statistics() {
        let values: Vec<f64> = [10, 1, 9, 2, 8, 3, 7, 4, 6, 5].map(f64::from).to_vec();
        assert_abs_diff_eq!(quantile(&values, 0.95).unwrap(), 9.55, epsilon = 1e-12);
        assert_abs_diff_eq!(median(&values).unwrap(), 5.5, epsilon = 1e-12);
        assert_abs_diff_eq!(quantile(&[3.0], 0.95).unwrap(), 3.0);
        assert!(median(&[]).is_none());
    }

    /// What is not finite is missing: it moves no quantile and is not a zero.
    #[test]
    fn values_that_are_not_finite_enter_no_quantile_and_no_largest() {
        let gaps = [f64::NAN, 3.0, f64::INFINITY, 1.0, f64::NEG_INFINITY, 2.0];
        assert_abs_diff_eq!(median(&gaps).unwrap(), 2.0);
        assert_abs_diff_eq!(quantile(&gaps, 1.0).unwrap(), 3.0);
        assert_abs_diff_eq!(largest(gaps.into_iter()), 3.0);
        assert!(median(&[f64::NAN, f64::INFINITY]).is_none());
        assert!(largest([f64::NAN].into_iter()).is_nan());
        assert_abs_diff_eq!(largest([-2.0, f64::NAN].into_iter()), -2.0);
    }
}
