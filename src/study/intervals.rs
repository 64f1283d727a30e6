//! Intervals that hold what they claim with few trials: exact ones for rates, Student's for means.

use statrs::distribution::{Beta, ContinuousCDF, Normal, StudentsT};

use super::statistics::wilson;

/// Degrees of freedom from which Student's distribution is the normal one to six digits.
const MANY: f64 = 1e6;

/// Exact interval of a `rate` (0 to 1) of `trials`, for `confidence` (0 to 1, exclusive).
///
/// Equation: the ends are the quantiles α/2 of Beta(x, n-x+1) and 1-α/2 of Beta(x+1, n-x), x = n
/// times the rate. With whole numbers it holds its confidence for every true rate: the tails of
/// the binomial distribution beyond x are at least α/2 at each end. `trials` need not be a whole
/// number: an effective number of trials.
/// Source: C. J. Clopper and E. S. Pearson, Biometrika 26:404-413, 1934; with effective trials E. L.
/// Korn and B. I. Graubard, Surv Methodol 24:193-201, 1998.
///
/// From a million trials on it is Wilson's, which is the same to four digits of its width and needs no
/// incomplete beta function, whose series no longer converges there.
///
/// Returns (low, high) within 0 and 1; no trials say nothing: (0, 1).
#[must_use]
pub fn exact_interval(rate: f64, trials: f64, confidence: f64) -> (f64, f64) {
    let rate = rate.clamp(0.0, 1.0);
    if trials >= MANY {
        return wilson(rate, trials, confidence);
    }
    let tail = 0.5 * (1.0 - confidence);
    let successes = rate * trials;
    let end = |a: f64, b: f64, part: f64| Beta::new(a, b).map(|beta| quantile(&beta, part));
    let low = if rate <= 0.0 || trials <= 0.0 {
        0.0
    } else {
        end(successes, trials - successes + 1.0, tail).unwrap_or(0.0)
    };
    let high = if rate >= 1.0 || trials <= 0.0 {
        1.0
    } else {
        end(successes + 1.0, trials - successes, 1.0 - tail).unwrap_or(1.0)
    };
    (low, high)
}

/// Quantile of a beta distribution by bisection: Newton's method on its distribution function, as
/// `inverse_cdf` does it, does not end for some of them.
fn quantile(beta: &Beta, part: f64) -> f64 {
    /// Halvings of the range from 0 to 1: to the last digit of numbers near 1.
    const HALVINGS: u32 = 54;
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if beta.cdf(middle) < part {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Fewest trials with draws of their own after which the exact interval of a rate of `rate` (from 0
/// up to 1) is no wider than `width` (above 0, up to 1); `None` where that takes more than 1e9.
#[must_use]
pub fn trials_for_width(rate: f64, width: f64, confidence: f64) -> Option<u32> {
    let fits = |trials: u32| {
        let (low, high) = exact_interval(rate, f64::from(trials), confidence);
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

/// The value beyond which the normal distribution has the part (1 - `confidence`) / 2 at each end.
#[must_use]
pub fn normal_bound(confidence: f64) -> f64 {
    Normal::standard().inverse_cdf(0.5 + 0.5 * confidence)
}

/// The same of Student's distribution with `freedom` degrees of freedom (above 0; infinite for
/// none, which leaves nothing known).
#[must_use]
pub fn student_bound(freedom: f64, confidence: f64) -> f64 {
    if freedom >= MANY {
        return normal_bound(confidence);
    }
    match StudentsT::new(0.0, 1.0, freedom) {
        Ok(student) => student.inverse_cdf(0.5 + 0.5 * confidence),
        Err(_) => f64::INFINITY,
    }
}

/// Two-sided p value of `statistic` (in standard errors) by Student's distribution with `freedom`
/// degrees of freedom; 1 for none, and for 0 over a standard error of 0.
#[must_use]
pub fn student_p(statistic: f64, freedom: f64) -> f64 {
    if statistic.is_nan() {
        return 1.0;
    }
    if statistic.is_infinite() {
        return 0.0;
    }
    if freedom >= MANY {
        return 2.0 * Normal::standard().sf(statistic.abs());
    }
    StudentsT::new(0.0, 1.0, freedom).map_or(1.0, |student| 2.0 * student.sf(statistic.abs()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::{assert_abs_diff_eq, assert_relative_eq};

    /// R. G. Newcombe, Stat Med 17:857-872, 1998, table I, method 5: four decimals.
    #[test]
    fn exact_limits_equal_the_published_examples() {
        for (successes, trials, low, high) in [
            (81.0, 263.0, 0.2527, 0.3676),
            (15.0, 148.0, 0.0578, 0.1617),
            (0.0, 20.0, 0.0, 0.1684),
            (1.0, 29.0, 0.0009, 0.1776),
        ] {
            let (l, h) = exact_interval(successes / trials, trials, 0.95);
            assert_abs_diff_eq!(l, low, epsilon = 0.5e-4 + 1e-12);
            assert_abs_diff_eq!(h, high, epsilon = 0.5e-4 + 1e-12);
        }
    }

    /// `SciPy` 1.17.1, scipy.stats.beta.ppf, for numbers of trials that are not whole.
    #[test]
    fn exact_limits_of_parts_of_trials_are_those_of_the_beta_distribution() {
        for (successes, trials, low, high) in [
            (2.5, 7.25, 0.062_289_038_165_090_74, 0.749_704_345_855_167_1),
            (
                0.3,
                1.7,
                1.540_531_110_993_735_1e-6,
                0.942_764_033_751_966_6,
            ),
            (
                300.25,
                901.5,
                0.302_323_634_881_503_1,
                0.364_883_990_492_366_8,
            ),
        ] {
            let (l, h) = exact_interval(successes / trials, trials, 0.95);
            assert_relative_eq!(l, low, max_relative = 1e-8);
            assert_relative_eq!(h, high, max_relative = 1e-8);
        }
    }

    #[test]
    fn exact_limits_are_those_of_failures_mirrored() {
        for (successes, trials) in [(0.0, 1.0), (1.0, 7.0), (32.0, 32.0), (5.0, 32.5)] {
            let (low, high) = exact_interval(successes / trials, trials, 0.95);
            let (l, h) = exact_interval(1.0 - successes / trials, trials, 0.95);
            assert_abs_diff_eq!(low, 1.0 - h, epsilon = 1e-9);
            assert_abs_diff_eq!(high, 1.0 - l, epsilon = 1e-9);
        }
        assert_eq!(exact_interval(0.5, 0.0, 0.95), (0.0, 1.0));
    }

    /// Found by bisection on `SciPy`'s beta distribution.
    #[test]
    fn trials_for_a_width_are_those_of_the_exact_interval() {
        for (rate, width, trials) in [
            (0.5, 0.5, 17),
            (0.5, 0.1, 402),
            (0.5, 0.05, 1574),
            (0.1, 0.1, 158),
        ] {
            assert_eq!(trials_for_width(rate, width, 0.95), Some(trials));
        }
        assert_eq!(trials_for_width(0.5, 1e-6, 0.95), None);
    }

    /// Tables of Student's distribution; 4.5 and 1000 degrees of freedom by `SciPy`.
    #[test]
    fn bounds_are_those_of_the_tables() {
        for (freedom, bound) in [
            (1.0, 12.706_204_736),
            (2.0, 4.302_652_730),
            (4.5, 2.658_912_347),
            (39.0, 2.022_690_920),
            (1000.0, 1.962_339_081),
            (1e9, 1.959_963_985),
        ] {
            assert_relative_eq!(student_bound(freedom, 0.95), bound, max_relative = 1e-8);
            assert_relative_eq!(student_p(bound, freedom), 0.05, max_relative = 1e-6);
        }
        assert!(student_bound(0.0, 0.95).is_infinite());
        assert_abs_diff_eq!(student_p(f64::NAN, 3.0), 1.0);
        assert_abs_diff_eq!(student_p(f64::INFINITY, 3.0), 0.0);
    }
}
