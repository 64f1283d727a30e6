//! Rates with intervals, paired comparison, medians.

use statrs::distribution::{Binomial, ContinuousCDF, DiscreteCDF, Normal};

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
    let n = f64::from(trials);
    wilson_interval_of_rate(f64::from(successes.min(trials)) / n.max(1.0), n, confidence)
}

/// The same for a `rate` (0 to 1) of `trials` that need not be a whole number: an effective
/// number of trials.
#[must_use]
pub fn wilson_interval_of_rate(rate: f64, trials: f64, confidence: f64) -> (f64, f64) {
    if trials <= 0.0 {
        return (0.0, 1.0);
    }
    let (n, p) = (trials, rate);
    let z = Normal::standard().inverse_cdf(0.5 + 0.5 * confidence);
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

/// Fewest trials after which Wilson's interval of a rate of `rate` (0 to 1) is no wider than
/// `width` (above 0, up to 1); `None` where that takes more than a thousand million.
///
/// Width: 2 z √(p(1-p)/n + z²/4n²) / (1 + z²/n), which falls with n.
#[must_use]
pub fn trials_for_width(rate: f64, width: f64, confidence: f64) -> Option<u32> {
    let fits = |trials: u32| {
        let (low, high) = wilson_interval_of_rate(rate, f64::from(trials), confidence);
        high - low <= width
    };
    let (mut least, mut most) = (0_u32, 1_000_000_000_u32);
    if !fits(most) {
        return None;
    }
    while most - least > 1 {
        let middle = least + (most - least) / 2;
        if fits(middle) {
            most = middle;
        } else {
            least = middle;
        }
    }
    Some(most)
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
/// Returns `None` for no values.
#[must_use]
pub fn quantile(values: &[f64], fraction: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
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
/// values.
#[must_use]
pub fn median(values: &[f64]) -> Option<f64> {
    quantile(values, 0.5)
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

    /// The width solved for n by hand at p = 1/2: width = z / √(n + z²), so n = z²/w² - z².
    #[test]
    fn trials_for_a_width_are_those_of_the_closed_form() {
        let z2 = 1.959_963_984_540_054_f64.powi(2);
        for width in [0.5, 0.1, 0.05] {
            let n = trials_for_width(0.5, width, 0.95).unwrap();
            let exact = z2 / (width * width) - z2;
            assert!(
                (f64::from(n) - exact).abs() <= 1.0,
                "{width}: {n} for {exact}"
            );
        }
        // The textbook number for a width of 0.1 at one half is 385 less z².
        assert_eq!(trials_for_width(0.5, 0.1, 0.95), Some(381));
        assert_eq!(trials_for_width(0.5, 1e-6, 0.95), None);
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
}
