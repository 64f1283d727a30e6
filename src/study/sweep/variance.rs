//! How much of the variance over a grid each parameter explains alone.

use super::sensitivity::Index;
use crate::study::intervals::student_bound;

/// Confidence of the intervals.
const CONFIDENCE: f64 = 0.95;
/// Most groups of draws.
const GROUPS: usize = 40;
/// Draws below which their differences say nothing; see [`super::Tally`].
const FEWEST: usize = 5;

/// Sums of the rate over a full grid, of all draws and of groups of them.
///
/// First order: variance of the means over each parameter's levels, over the variance of all
/// points (R. A. Fisher's analysis of variance of a full factorial; I. M. Sobol, Math Comput Simul
/// 55:271-280, 2001). What few draws add to both by chance is taken out: the product of the rates of
/// two draws has the mean of the product of the true rates, so variances are means over pairs of draws
/// (W. Hoeffding, Ann Math Stat 19:293-325, 1948). The grid is taken whole, so the interval tells what
/// other draws would give: Student's on the jackknife over the draws (J. W. Tukey, Ann Math Stat
/// 29:614, 1958), or over up to 40 groups of them.
#[derive(Debug, Clone)]
pub struct GridVariance {
    parameters: usize,
    groups: usize,
    /// Of all draws, of each group alone, of all without each group.
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
    /// Sums for parameters with so many levels and so many draws.
    #[must_use]
    pub fn new(bins: &[usize], draws: u32) -> Self {
        let groups = (draws as usize).clamp(1, GROUPS);
        let empty = Sums {
            levels: bins.iter().map(|&bins| vec![(0.0, 0.0); bins]).collect(),
            ..Sums::default()
        };
        Self {
            parameters: bins.len(),
            groups,
            sums: vec![empty; 1 + 2 * groups],
        }
    }

    /// Adds a point: the level of every parameter, and the success of each draw.
    pub fn add(&mut self, levels: &[usize], by_draw: &[Option<bool>]) {
        let mut of_groups = vec![(0.0, 0.0); self.groups];
        for (draw, success) in by_draw.iter().enumerate() {
            if let Some(success) = success {
                let group = &mut of_groups[draw % self.groups];
                group.0 += 1.0;
                group.1 += f64::from(u8::from(*success));
            }
        }
        let trials: f64 = of_groups.iter().map(|(trials, _)| trials).sum();
        let reached: f64 = of_groups.iter().map(|(_, reached)| reached).sum();
        let without = of_groups.iter().map(|(n, s)| (trials - n, reached - s));
        let all = std::iter::once((trials, reached));
        let counts = all.chain(of_groups.iter().copied()).chain(without);
        for (sums, (trials, reached)) in self.sums.iter_mut().zip(counts) {
            if trials > 0.0 {
                sums.add(levels, reached / trials);
            }
        }
    }

    /// First-order index of every parameter; `None` where the rate does not vary beyond what the
    /// draws make of it.
    #[must_use]
    pub fn indices(&self) -> Option<Vec<Index>> {
        let (all, groups) = self.sums.split_first()?;
        let (alone, without) = groups.split_at(self.groups);
        let parts: Vec<Vec<f64>> = alone.iter().map(Sums::variances).collect();
        let total = |skipped: Option<usize>| -> Vec<f64> {
            let kept = (0..self.groups).filter(|group| Some(*group) != skipped);
            (0..=self.parameters)
                .map(|k| kept.clone().map(|group| parts[group][k]).sum())
                .collect()
        };
        let count = self.groups as f64;
        let values = ratios(&all.variances(), &total(None), count)?;
        let left: Option<Vec<Vec<f64>>> = (without.iter().enumerate())
            .map(|(group, sums)| ratios(&sums.variances(), &total(Some(group)), count - 1.0))
            .collect();
        let one = |(k, value): (usize, &f64)| {
            let half = left.as_ref().map_or(f64::INFINITY, |left| {
                let mean = left.iter().map(|values| values[k]).sum::<f64>() / count;
                let squares: f64 = left.iter().map(|v| (v[k] - mean).powi(2)).sum();
                let error = (squares * (count - 1.0) / count).sqrt();
                student_bound(count - 1.0, CONFIDENCE) * error
            });
            // Without an error, or from draws too few to differ, nothing is known but that an index
            // lies between 0 and 1.
            let ci95 = if half.is_finite() && self.groups >= FEWEST {
                [value - half, value + half]
            } else {
                [value.min(0.0), value.max(1.0)]
            };
            Index {
                value: *value,
                ci95,
            }
        };
        Some(values.iter().enumerate().map(one).collect())
    }
}

/// Index of each parameter from the variances of the mean of `groups` groups and the sum of those of
/// the groups alone; the variance of all points comes last. `None` without variance.
fn ratios(of_mean: &[f64], of_groups: &[f64], groups: f64) -> Option<Vec<f64>> {
    let pairs = |(mean, alone): (&f64, &f64)| {
        if groups < 2.0 {
            *mean
        } else {
            (groups * groups * mean - alone) / (groups * (groups - 1.0))
        }
    };
    let mut true_variances: Vec<f64> = of_mean.iter().zip(of_groups).map(pairs).collect();
    let all = true_variances.pop().filter(|all| *all > 1e-14)?;
    Some(true_variances.iter().map(|part| part / all).collect())
}

impl Sums {
    fn add(&mut self, levels: &[usize], rate: f64) {
        self.points += 1.0;
        self.value += rate;
        self.square += rate * rate;
        for (of_parameter, &level) in self.levels.iter_mut().zip(levels) {
            of_parameter[level].0 += 1.0;
            of_parameter[level].1 += rate;
        }
    }

    /// Variance between the levels of every parameter, then that of all points.
    fn variances(&self) -> Vec<f64> {
        let points = self.points.max(1.0);
        let mean = self.value / points;
        let between = |levels: &Vec<(f64, f64)>| {
            let filled = levels.iter().filter(|(points, _)| *points > 0.0);
            let parts = filled.map(|(points, sum)| points * (sum / points - mean).powi(2));
            parts.sum::<f64>() / points
        };
        let mut variances: Vec<f64> = self.levels.iter().map(between).collect();
        variances.push(self.square / points - mean * mean);
        variances
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Draws 0 to a + b - 1 of 4 succeed, a, b in {0, 2}. The mean rates 0, 1/2, 1/2, 1 have variance
    /// 1/8, each draw alone 3/16: (16/8 - 4 · 3/16)/12 = 5/48. The level means of a or b, 1/4 and 3/4,
    /// have variance 1/16, and so have those of each draw: (16/16 - 4/16)/12 = 1/16: an index of 0.6.
    #[test]
    fn variances_are_means_over_pairs_of_draws() {
        let mut grid = GridVariance::new(&[2, 2, 3], 4);
        for a in 0..2 {
            for b in 0..2 {
                for c in 0..3 {
                    let reached = 2 * (a + b);
                    let by_draw: Vec<Option<bool>> =
                        (0..4).map(|draw| Some(draw < reached)).collect();
                    grid.add(&[a, b, c], &by_draw);
                }
            }
        }
        let indices = grid.indices().unwrap();
        for (index, expected) in indices.iter().zip([0.6, 0.6, 0.0]) {
            assert_abs_diff_eq!(index.value, expected, epsilon = 1e-12);
        }
    }

    /// Draws alike at every point: rates of 0 and 1 are true ones, a alone tells them apart.
    #[test]
    fn certain_results_are_split_without_an_error() {
        let mut grid = GridVariance::new(&[2, 3], 5);
        for a in 0..2 {
            for b in 0..3 {
                grid.add(&[a, b], &[Some(a == 1); 5]);
            }
        }
        let indices = grid.indices().unwrap();
        for (index, expected) in indices.iter().zip([1.0, 0.0]) {
            assert_abs_diff_eq!(index.value, expected, epsilon = 1e-12);
            assert_abs_diff_eq!(index.ci95[1] - index.ci95[0], 0.0, epsilon = 1e-9);
        }
    }
}
