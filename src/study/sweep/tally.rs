//! Trials counted by draw, because the same draw meets every point.

use crate::study::intervals::{exact_interval, normal_bound, student_bound};

/// Confidence of the interval.
const CONFIDENCE: f64 = 0.95;
/// Draws below which each of them counts as one trial, however many points it met: two kinds of
/// draws, equally frequent, all show up as one kind with probability 2^(1-D), which is 1/8 for
/// four draws and below 7 % from five draws on.
const FEWEST: f64 = 5.0;

/// Trials and successes, kept apart by number of the draw.
#[derive(Debug, Clone, PartialEq, Default)]
struct Counts {
    by_draw: Vec<(u64, u64)>,
}

impl Counts {
    fn add(&mut self, results: &[Option<bool>]) {
        if self.by_draw.len() < results.len() {
            self.by_draw.resize(results.len(), (0, 0));
        }
        for (sum, success) in self.by_draw.iter_mut().zip(results) {
            sum.0 += u64::from(success.is_some());
            sum.1 += u64::from(*success == Some(true));
        }
    }

    fn trials(&self) -> u64 {
        self.by_draw.iter().map(|(trials, _)| trials).sum()
    }

    fn reached(&self) -> u64 {
        self.by_draw.iter().map(|(_, reached)| reached).sum()
    }

    fn rate(&self) -> f64 {
        self.reached() as f64 / self.trials().max(1) as f64
    }

    /// Draws that count: as many equally frequent ones would spread a mean as much. L. Kish,
    /// *Survey Sampling*, 1965, section 11.7: (sum n)²/sum n².
    fn draws(&self) -> f64 {
        let squares: f64 = self.by_draw.iter().map(|(n, _)| (*n as f64).powi(2)).sum();
        let trials = self.trials() as f64;
        if squares > 0.0 {
            trials * trials / squares
        } else {
            0.0
        }
    }

    /// See [`Tally::effective`]; `scatter` is the variance that the number of successes would have
    /// if every trial had a draw of its own.
    fn effective(&self, scatter: f64) -> f64 {
        let (p, n, draws) = (self.rate(), self.trials() as f64, self.draws());
        // The slack is for rounding in the number of draws.
        if draws < FEWEST - 1e-9 || p <= 0.0 || p >= 1.0 || scatter <= 0.0 {
            return draws;
        }
        let residuals: f64 = (self.by_draw.iter())
            .map(|(n, reached)| (*reached as f64 - p * *n as f64).powi(2))
            .sum();
        let between = residuals * draws / (draws - 1.0);
        let binomial = p * (1.0 - p) * n * n;
        let surer = normal_bound(CONFIDENCE) / student_bound(draws - 1.0, CONFIDENCE);
        let by_draws = binomial / between * surer * surer;
        by_draws.min(binomial / (scatter + 1.0)).max(draws)
    }
}

/// Successes at points that met the same draws.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tally {
    all: Counts,
    /// The same at those points only at which draws ended differently.
    contested: Counts,
    /// Sum over the points of the variance of their number of successes.
    scatter: f64,
    unresolved: u64,
}

impl Tally {
    /// Adds a point: success of each trial by the number of its draw, and how many of them are
    /// unresolved.
    pub fn add(&mut self, results: &[Option<bool>], unresolved: u32) {
        self.all.add(results);
        self.unresolved += u64::from(unresolved);
        let trials = results.iter().flatten().count() as f64;
        let reached = results.iter().flatten().filter(|r| **r).count() as f64;
        if reached > 0.0 && reached < trials {
            self.contested.add(results);
            self.scatter += reached * (trials - reached) / (trials - 1.0);
        }
    }

    /// Trials.
    #[must_use]
    pub fn trials(&self) -> u64 {
        self.all.trials()
    }

    /// Successes.
    #[must_use]
    pub fn reached(&self) -> u64 {
        self.all.reached()
    }

    /// Unresolved trials; they count as trials that did not reach.
    #[must_use]
    pub fn unresolved(&self) -> u64 {
        self.unresolved
    }

    /// Successes over trials; 0 without any.
    #[must_use]
    pub fn rate(&self) -> f64 {
        self.all.rate()
    }

    /// Number of draws, a draw that met few points counting less.
    #[must_use]
    pub fn draws(&self) -> f64 {
        self.all.draws()
    }

    /// Trials that would tell as much if each had a draw and a point of its own.
    ///
    /// p(1-p)/v times (z/t)², with v the variance of the rate from draw to draw, as in the sampling
    /// of clusters, z and t the bounds of the normal and of Student's distribution with one degree
    /// of freedom less than there are draws. Source: E. L. Korn and B. I. Graubard, Surv Methodol
    /// 24:193-201, 1998, sections 2 and 3. Two bounds of ours: never more than if the results of a
    /// point did not depend on those of others, which is v at least the scatter within points, one
    /// differing trial more added (where draws happen to agree, their variance says nothing); and
    /// never fewer than the draws. The draws alone count where all ended alike at every point, and
    /// where there are fewer than five.
    ///
    /// Points are taken as they are, not as a sample. A kind of draw of which none is among the
    /// draws is in no interval.
    #[must_use]
    pub fn effective(&self) -> f64 {
        self.all.effective(self.scatter)
    }

    /// Exact 95 % interval of the rate on the effective number of trials: low, high.
    ///
    /// Where draws end alike at a part of the points, the others alone may reach further, since
    /// their rate is nearer to 0 or 1: then theirs is the end.
    #[must_use]
    pub fn ci95(&self) -> [f64; 2] {
        let (low, high) = exact_interval(self.rate(), self.effective(), CONFIDENCE);
        let trials = self.contested.trials() as f64;
        if self.draws() < FEWEST - 1e-9 || trials <= 0.0 {
            return [low, high];
        }
        let all = self.trials() as f64;
        let certain = (self.reached() - self.contested.reached()) as f64;
        let effective = self.contested.effective(self.scatter);
        let ends = exact_interval(self.contested.rate(), effective, CONFIDENCE);
        let of_all = |end: f64| (certain + trials * end) / all;
        [low.min(of_all(ends.0)), high.max(of_all(ends.1))]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::{assert_abs_diff_eq, assert_relative_eq};

    /// With one point nothing is shared: the interval is the exact one of that many trials.
    #[test]
    fn one_trial_a_draw_gives_the_plain_exact_interval() {
        for (draws, reached) in [(2, 1), (4, 4), (40, 13)] {
            let mut tally = Tally::default();
            let results: Vec<_> = (0..draws).map(|draw| Some(draw < reached)).collect();
            tally.add(&results, 0);
            let rate = reached as f64 / draws as f64;
            let (low, high) = exact_interval(rate, draws as f64, 0.95);
            assert_abs_diff_eq!(tally.ci95()[0], low, epsilon = 1e-9);
            assert_abs_diff_eq!(tally.ci95()[1], high, epsilon = 1e-9);
        }
    }

    #[test]
    fn draws_that_decide_alone_count_once_however_often_they_are_used() {
        let mut tally = Tally::default();
        let results: Vec<_> = (0..8).map(|draw| Some(draw % 2 == 0)).collect();
        for _ in 0..100 {
            tally.add(&results, 0);
        }
        assert_eq!(tally.trials(), 800);
        assert_abs_diff_eq!(tally.effective(), 8.0, epsilon = 1e-9);
    }

    /// Two draws that ended alike at each of 80 points, half of them reached, once claimed 160.
    #[test]
    fn two_draws_count_as_two_trials_over_any_number_of_points() {
        let mut tally = Tally::default();
        for point in 0..80 {
            let reached = point % 2 == 0;
            let differs = point % 8 == 1;
            tally.add(&[Some(reached), Some(reached != differs)], 0);
        }
        assert_abs_diff_eq!(tally.effective(), 2.0, epsilon = 1e-9);
        let [low, high] = tally.ci95();
        assert!(high - low > 0.8, "{low} to {high}");
    }

    /// A hand-made case. Six draws over two points reach (2, 1, 0, 1, 2, 0) of 2: p = 1/2,
    /// residuals 4 · 1, variance of the sum 4 · 6/5 = 4.8; p(1-p)n² = 36; 36/4.8 = 7.5, times
    /// (1.95996/2.57058)² = 0.58135: 4.36, below the six draws.
    #[test]
    fn effective_trials_are_those_counted_by_hand() {
        let mut tally = Tally::default();
        tally.add(&[1, 1, 0, 0, 1, 0].map(|r| Some(r == 1)), 0);
        tally.add(&[1, 0, 0, 1, 1, 0].map(|r| Some(r == 1)), 0);
        assert_relative_eq!(tally.effective(), 6.0, max_relative = 1e-12);
        // Twenty points of which each draw reaches ten or eleven: variance of the sum
        // (6 · 1/4) · 6/5 = 1.8; p = 63/120, p(1-p)n² = 3591; times 0.58135 / 1.8 = 1159.8; scatter
        // of twenty points with 3 or 4 of 6: 17 · 9/5 + 3 · 8/5 = 35.4; 3591/36.4 = 98.65.
        let mut tally = Tally::default();
        for point in 0..20 {
            let extra = point < 3;
            let results = (0..6).map(|draw| {
                Some((draw + point) % 2 == 0 || (extra && draw == (2 * point + 1 - point % 2) % 6))
            });
            tally.add(&results.collect::<Vec<_>>(), 0);
        }
        assert_eq!(tally.reached(), 63);
        assert_relative_eq!(tally.effective(), 3591.0 / 36.4, max_relative = 1e-12);
    }

    /// A draw that met one point of many hardly counts.
    #[test]
    fn draws_count_by_the_points_they_met() {
        let mut tally = Tally::default();
        for point in 0..9 {
            let mut results = vec![Some(point % 2 == 0), Some(point % 3 == 0)];
            if point == 0 {
                results.push(Some(true));
            }
            tally.add(&results, 0);
        }
        assert_relative_eq!(tally.draws(), 19.0 * 19.0 / 163.0, max_relative = 1e-12);
    }

    #[test]
    fn no_trials_say_nothing() {
        let tally = Tally::default();
        let [low, high] = tally.ci95();
        assert_eq!((low, high), (0.0, 1.0));
    }
}
