//! Two strategies on the same points and draws: the difference of their rates with an interval
//! that knows that the draws are shared.

use crate::study::intervals::{normal_bound, student_bound, student_p};
use crate::study::paired::paired_rate_interval;

/// Confidence of the interval.
const CONFIDENCE: f64 = 0.95;
/// Draws below which each of them counts as one pair; see [`super::Tally`].
const FEWEST: f64 = 5.0;

/// Pairs of trials of two strategies, kept apart by number of the draw.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Contrast {
    /// Pairs, and successes of the second less those of the first.
    by_draw: Vec<(u32, i64)>,
    both: u32,
    only_first: u32,
    only_second: u32,
    neither: u32,
    /// Sum over the points of the variance of their difference.
    scatter: f64,
}

impl Contrast {
    /// Adds a point: success of each trial of the first and of the second strategy by the number
    /// of its draw.
    pub fn add(&mut self, first: &[Option<bool>], second: &[Option<bool>]) {
        let draws = first.len().min(second.len());
        if self.by_draw.len() < draws {
            self.by_draw.resize(draws, (0, 0));
        }
        let (mut pairs, mut sum, mut squares) = (0.0, 0.0, 0.0);
        for (of_draw, pair) in self.by_draw.iter_mut().zip(first.iter().zip(second)) {
            let (Some(a), Some(b)) = pair else {
                continue;
            };
            match (a, b) {
                (true, true) => self.both += 1,
                (true, false) => self.only_first += 1,
                (false, true) => self.only_second += 1,
                (false, false) => self.neither += 1,
            }
            let difference = i64::from(*b) - i64::from(*a);
            of_draw.0 += 1;
            of_draw.1 += difference;
            pairs += 1.0;
            sum += difference as f64;
            squares += (difference * difference) as f64;
        }
        if pairs > 1.0 {
            self.scatter += (squares - sum * sum / pairs) * pairs / (pairs - 1.0);
        }
    }

    /// Pairs in which both, only the first, only the second, neither succeeded.
    #[must_use]
    pub fn counts(&self) -> [u32; 4] {
        [self.both, self.only_first, self.only_second, self.neither]
    }

    /// Pairs.
    #[must_use]
    pub fn pairs(&self) -> u32 {
        self.counts().iter().sum()
    }

    /// Rate of the second minus rate of the first; 0 without pairs.
    #[must_use]
    pub fn difference(&self) -> f64 {
        (f64::from(self.only_second) - f64::from(self.only_first)) / f64::from(self.pairs().max(1))
    }

    /// Draws, one that met few points counting less, and variance of the sum of differences
    /// between draws, at least that within points with one differing pair more.
    fn draws_and_variance(&self) -> (f64, f64) {
        let pairs = f64::from(self.pairs());
        let squares: f64 = (self.by_draw.iter())
            .map(|(n, _)| f64::from(*n).powi(2))
            .sum();
        let draws = if squares > 0.0 {
            pairs * pairs / squares
        } else {
            0.0
        };
        let residuals: f64 = (self.by_draw.iter())
            .map(|(n, sum)| (*sum as f64 - self.difference() * f64::from(*n)).powi(2))
            .sum();
        let between = if draws > 1.0 {
            residuals * draws / (draws - 1.0)
        } else {
            0.0
        };
        (draws, between)
    }

    /// 95 % interval of the difference: low, high.
    ///
    /// The interval of Agresti and Min for paired rates on an effective number of pairs, which is
    /// found as in [`super::Tally::effective`] from the variance between draws.
    #[must_use]
    pub fn ci95(&self) -> [f64; 2] {
        let pairs = f64::from(self.pairs());
        let (draws, between) = self.draws_and_variance();
        let (b, c) = (f64::from(self.only_first), f64::from(self.only_second));
        let alone = (b + c) * pairs - (c - b).powi(2);
        let effective = if draws < FEWEST - 1e-9 || alone <= 0.0 || self.scatter <= 0.0 {
            draws
        } else {
            let surer = normal_bound(CONFIDENCE) / student_bound(draws - 1.0, CONFIDENCE);
            let by_draws = alone / between * surer * surer;
            by_draws.min(alone / (self.scatter + 1.0)).max(draws)
        };
        let scale = effective / pairs.max(1.0);
        paired_rate_interval(b * scale, c * scale, effective, CONFIDENCE)
    }

    /// Two-sided p value that the rates are equal: Student's on the mean differences of the draws;
    /// 1 for a single draw.
    #[must_use]
    pub fn p_by_draw(&self) -> f64 {
        let (draws, between) = self.draws_and_variance();
        if draws < 2.0 - 1e-9 {
            return 1.0;
        }
        let sum = f64::from(self.only_second) - f64::from(self.only_first);
        student_p(sum / between.max(self.scatter + 1.0).sqrt(), draws - 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Eight draws over ten points; the second strategy reaches with the first four draws more:
    /// the variance of the sum is 8/7 · 8 · 25 = 228.6, t = 40/15.12.
    #[test]
    fn the_p_value_is_that_of_the_means_of_the_draws() {
        let mut contrast = Contrast::default();
        for _ in 0..10 {
            let first = [Some(false); 8];
            let second = [0, 1, 2, 3, 4, 5, 6, 7].map(|draw| Some(draw < 4));
            contrast.add(&first, &second);
        }
        assert_eq!(contrast.counts(), [0, 0, 40, 40]);
        // SciPy: scipy.stats.ttest_1samp([1, 1, 1, 1, 0, 0, 0, 0], 0).pvalue.
        assert_relative_eq!(contrast.p_by_draw(), 0.033_145_5, max_relative = 1e-4);
        let [low, high] = contrast.ci95();
        // Eight pairs, four of them in favour of the second.
        let expected = paired_rate_interval(0.0, 4.0, 8.0, 0.95);
        assert_relative_eq!(low, expected[0], max_relative = 1e-12);
        assert_relative_eq!(high, expected[1], max_relative = 1e-12);
    }

    #[test]
    fn one_point_gives_the_interval_of_so_many_pairs() {
        let mut contrast = Contrast::default();
        let first = [1, 0, 1, 0].map(|r| Some(r == 1));
        let second = [1, 1, 1, 1].map(|r| Some(r == 1));
        contrast.add(&first, &second);
        let expected = paired_rate_interval(0.0, 2.0, 4.0, 0.95);
        for (end, expected) in contrast.ci95().into_iter().zip(expected) {
            assert_relative_eq!(end, expected, max_relative = 1e-12);
        }
    }
}
