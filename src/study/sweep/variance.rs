//! How much of the variance over a grid each parameter explains alone.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::sensitivity::Index;
use crate::study::statistics::quantile;

/// Bootstrap replicates.
const REPLICATES: usize = 200;

/// Sums of the rate over a full grid, plain and for bootstrap replicates of the draws.
///
/// First order: variance of the means over each parameter's levels, over the variance of all
/// points (R. A. Fisher's analysis of variance of a full factorial; I. M. Sobol, Math Comput Simul
/// 55:271-280, 2001). The grid is taken whole, so the interval tells what other draws would have
/// given: it comes from drawing the draws again.
#[derive(Debug, Clone)]
pub struct GridVariance {
    bins: Vec<usize>,
    /// Weight of each draw in each (re)sample.
    weights: Vec<Vec<f64>>,
    sums: Vec<Sums>,
}

#[derive(Debug, Clone, Default)]
struct Sums {
    points: f64,
    value: f64,
    square: f64,
    /// By parameter and level: points, value.
    levels: Vec<Vec<(f64, f64)>>,
}

impl GridVariance {
    /// Sums for parameters with so many levels and so many draws; `seed` keys the bootstrap.
    #[must_use]
    pub fn new(bins: &[usize], draws: u32, seed: u64) -> Self {
        let draws = draws.max(1) as usize;
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(u64::MAX);
        let mut weights = vec![vec![1.0; draws]];
        for _ in 0..REPLICATES {
            let mut drawn = vec![0.0; draws];
            for _ in 0..draws {
                drawn[rng.random_range(0..draws)] += 1.0;
            }
            weights.push(drawn);
        }
        let empty = Sums {
            levels: bins.iter().map(|&bins| vec![(0.0, 0.0); bins]).collect(),
            ..Sums::default()
        };
        Self {
            bins: bins.to_vec(),
            sums: vec![empty; weights.len()],
            weights,
        }
    }

    /// Adds a point: the level of every parameter, and the success of each draw.
    pub fn add(&mut self, levels: &[usize], by_draw: &[Option<bool>]) {
        for (sums, weights) in self.sums.iter_mut().zip(&self.weights) {
            let (mut trials, mut successes) = (0.0, 0.0);
            for (success, weight) in by_draw.iter().zip(weights) {
                if let Some(success) = success {
                    trials += weight;
                    successes += weight * f64::from(u8::from(*success));
                }
            }
            if trials <= 0.0 {
                continue;
            }
            let rate = successes / trials;
            sums.points += 1.0;
            sums.value += rate;
            sums.square += rate * rate;
            for (of_parameter, &level) in sums.levels.iter_mut().zip(levels) {
                of_parameter[level].0 += 1.0;
                of_parameter[level].1 += rate;
            }
        }
    }

    /// First-order index of every parameter; `None` where the rate does not vary.
    #[must_use]
    pub fn indices(&self) -> Option<Vec<Index>> {
        let plain = self.sums.first()?.indices()?;
        let replicates: Vec<Vec<f64>> =
            self.sums.iter().skip(1).filter_map(Sums::indices).collect();
        let of_parameter = |k: usize| {
            let values: Vec<f64> = replicates.iter().map(|r| r[k]).collect();
            let at = |fraction| quantile(&values, fraction).unwrap_or(f64::NAN);
            Index {
                value: plain[k],
                ci95: [at(0.025), at(0.975)],
            }
        };
        Some((0..self.bins.len()).map(of_parameter).collect())
    }
}

impl Sums {
    fn indices(&self) -> Option<Vec<f64>> {
        let mean = self.value / self.points.max(1.0);
        let variance = self.square / self.points.max(1.0) - mean * mean;
        if variance <= 1e-14 {
            return None;
        }
        let one = |levels: &Vec<(f64, f64)>| {
            let between: f64 = levels
                .iter()
                .filter(|(points, _)| *points > 0.0)
                .map(|(points, sum)| points * (sum / points - mean).powi(2))
                .sum();
            between / self.points / variance
        };
        Some(self.levels.iter().map(one).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Rate a/4 + b/4 with a, b in {0, 2}: each explains one half; a third parameter nothing.
    #[test]
    fn an_additive_rate_is_split_by_the_variance_of_its_parts() {
        let mut grid = GridVariance::new(&[2, 2, 3], 4, 1);
        for a in 0..2 {
            for b in 0..2 {
                for c in 0..3 {
                    let reached = a + b;
                    let by_draw: Vec<Option<bool>> =
                        (0..4).map(|draw| Some(draw < reached)).collect();
                    grid.add(&[a, b, c], &by_draw);
                }
            }
        }
        let indices = grid.indices().unwrap();
        for (index, expected) in indices.iter().zip([0.5, 0.5, 0.0]) {
            assert_abs_diff_eq!(index.value, expected, epsilon = 1e-12);
        }
    }
}
