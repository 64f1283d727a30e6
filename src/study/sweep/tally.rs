//! Trials counted by draw, because the same draw meets every point.

use crate::study::statistics::wilson_interval_of_rate;

/// Trials and successes, kept apart by number of the draw.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tally {
    by_draw: Vec<(u64, u64)>,
}

impl Tally {
    /// Counts a trial with this draw.
    pub fn add(&mut self, draw: usize, success: bool) {
        if self.by_draw.len() <= draw {
            self.by_draw.resize(draw + 1, (0, 0));
        }
        self.by_draw[draw].0 += 1;
        self.by_draw[draw].1 += u64::from(success);
    }

    /// Trials.
    #[must_use]
    pub fn trials(&self) -> u64 {
        self.by_draw.iter().map(|(trials, _)| trials).sum()
    }

    /// Successes.
    #[must_use]
    pub fn reached(&self) -> u64 {
        self.by_draw.iter().map(|(_, reached)| reached).sum()
    }

    /// Successes over trials; 0 without any.
    #[must_use]
    pub fn rate(&self) -> f64 {
        self.reached() as f64 / self.trials().max(1) as f64
    }

    /// Trials that would tell as much if each had a draw of its own.
    ///
    /// p(1-p)/v, with v the variance of the rate between draws, as in the sampling of clusters,
    /// at most the trials and at least the draws; the draws where all trials ended alike. Source:
    /// E. L. Korn and B. I. Graubard, Surv Methodol 24:193-201, 1998, section 2.
    #[must_use]
    pub fn effective(&self) -> f64 {
        let trials = self.trials() as f64;
        let draws: Vec<_> = self.by_draw.iter().filter(|(n, _)| *n > 0).collect();
        let count = draws.len() as f64;
        let p = self.rate();
        if count < 2.0 || p <= 0.0 || p >= 1.0 {
            return count.min(trials);
        }
        // Variance of a ratio estimate: residuals of the successes of each draw.
        let residuals: f64 = draws
            .iter()
            .map(|(n, reached)| (*reached as f64 - p * *n as f64).powi(2))
            .sum();
        let variance = residuals * count / (count - 1.0) / (trials * trials);
        (p * (1.0 - p) / variance).clamp(count.min(trials), trials)
    }

    /// Wilson's 95 % interval of the rate on the effective number of trials: low, high.
    #[must_use]
    pub fn ci95(&self) -> [f64; 2] {
        let (low, high) = wilson_interval_of_rate(self.rate(), self.effective(), 0.95);
        [low, high]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::statistics::wilson_interval;
    use approx::assert_abs_diff_eq;

    #[test]
    fn one_trial_a_draw_gives_the_plain_wilson_interval() {
        let mut tally = Tally::default();
        for draw in 0..40 {
            tally.add(draw, draw < 13);
        }
        let (low, high) = wilson_interval(13, 40, 0.95);
        let [l, h] = tally.ci95();
        // Forty draws give a variance n/(n-1) times the binomial one.
        assert_abs_diff_eq!(l, low, epsilon = 0.004);
        assert_abs_diff_eq!(h, high, epsilon = 0.004);
    }

    #[test]
    fn draws_that_decide_alone_count_once_however_often_they_are_used() {
        let mut tally = Tally::default();
        for _ in 0..100 {
            for draw in 0..8 {
                tally.add(draw, draw % 2 == 0);
            }
        }
        assert_eq!(tally.trials(), 800);
        assert_abs_diff_eq!(tally.effective(), 8.0, epsilon = 1.01);
    }
}
