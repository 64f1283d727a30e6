//! By how much a setting moves a force, draw by draw: medians over few draws jump from one draw to the next, the
//! differences of the same draws do not.

use serde::Serialize;
use statrs::distribution::{Binomial, DiscreteCDF};

use crate::study::statistics::median;

/// Confidence of the interval.
const CONFIDENCE: f64 = 0.95;

/// The middle of the relative differences of draws.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Paired {
    /// Draws that were compared.
    pub draws: usize,
    /// Median of the differences over the force as it is, in %.
    pub median_per_cent: f64,
    /// An interval that holds that median in 95 of 100 sets of draws or more; `None` where there are too few draws
    /// for one ([`Paired::LEAST`]).
    pub interval_per_cent: Option<[f64; 2]>,
}

impl Paired {
    /// Fewest draws of which the smallest and the largest difference enclose the median with 95 %.
    pub const LEAST: usize = 6;

    /// Of the differences of draws, as shares of the force as it is; those that are not finite are left out. `None`
    /// where none is left.
    ///
    /// Equation: with `n` differences in rising order, the interval from the `k`-th smallest to the `k`-th largest
    /// one, with the largest `k` for which a binomial number of `n` tries at 1/2 is below `k` with a probability of
    /// 2.5 % at most (the interval of the sign test, which asks nothing of their distribution).
    /// Source: Conover, *Practical Nonparametric Statistics*, 1999 (from memory).
    #[must_use]
    pub fn of(differences: &[f64]) -> Option<Self> {
        let finite = differences.iter().copied().filter(|d| d.is_finite());
        let mut per_cent: Vec<f64> = finite.map(|d| 100.0 * d).collect();
        per_cent.sort_by(f64::total_cmp);
        let from_end = rank(per_cent.len());
        Some(Self {
            draws: per_cent.len(),
            median_per_cent: median(&per_cent)?,
            interval_per_cent: from_end
                .map(|rank| [per_cent[rank - 1], per_cent[per_cent.len() - rank]]),
        })
    }

    /// The difference that is farthest from none in the interval, in %; without an interval the median alone.
    #[must_use]
    pub fn most_per_cent(&self) -> f64 {
        let ends = self.interval_per_cent.into_iter().flatten();
        ends.map(f64::abs)
            .fold(self.median_per_cent.abs(), f64::max)
    }
}

/// The `k` of the interval, from 1; `None` where even the two ends hold the median too seldom.
fn rank(draws: usize) -> Option<usize> {
    let half = Binomial::new(0.5, draws as u64).ok()?;
    let seldom = |rank: &u64| half.cdf(rank - 1) <= 0.5 * (1.0 - CONFIDENCE);
    let last = (1..=draws as u64 / 2).take_while(seldom).last()?;
    usize::try_from(last).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ranks of the interval of a median at 95 % in the tables of the sign test: 1 from 6 draws on, 2 from 9, 3 from
    /// 12, 6 at 20.
    #[test]
    fn ranks_are_those_of_the_tables() {
        assert_eq!(
            [5, 6, 8, 9, 11, 12, 20].map(rank),
            [None, Some(1), Some(1), Some(2), Some(2), Some(3), Some(6)]
        );
        assert_eq!(rank(Paired::LEAST), Some(1));
        assert_eq!(rank(Paired::LEAST - 1), None);
    }

    #[test]
    fn the_interval_is_that_of_the_draws() {
        let found = Paired::of(&[0.03, -0.01, 0.02, f64::NAN, 0.0, 0.01, 0.04]).unwrap();
        assert_eq!(found.draws, 6);
        assert!((found.median_per_cent - 1.5).abs() < 1e-12);
        let [low, high] = found.interval_per_cent.unwrap();
        assert!((low + 1.0).abs() < 1e-12 && (high - 4.0).abs() < 1e-12);
        assert!((found.most_per_cent() - 4.0).abs() < 1e-12);
        let few = Paired::of(&[0.03, -0.05]).unwrap();
        assert!(few.interval_per_cent.is_none() && (few.most_per_cent() - 1.0).abs() < 1e-12);
        assert!(Paired::of(&[f64::NAN]).is_none());
    }
}
