//! What the points of a sweep cost, from trials at some of them.

use super::design::Design;
use super::permutation::permuted;
use crate::scenario::sweep::model::DesignKind;

/// Samples that decide the cost of a point: its nearest ones.
const NEAREST: usize = 4;
/// Key of the order in which points are sampled: any will do.
const ORDER: u32 = 0x5eed;

/// What one trial of each strategy took at a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CostSample {
    /// The point.
    pub point: usize,
    /// Seconds on one core, above 0.
    pub seconds: f64,
}

/// Up to `most` of the points of a sweep, scattered without a pattern, so that no period of a grid is
/// met.
#[must_use]
pub fn sample_points(points: usize, most: usize) -> Vec<usize> {
    (0..points.min(most))
        .map(|k| permuted(k, points, ORDER))
        .collect()
}

impl Design {
    /// Where a point lies among the values of each parameter, each coordinate within 0 to 1: of a grid,
    /// by the number of its level.
    #[must_use]
    pub fn place(&self, mut index: usize) -> Vec<f64> {
        if self.kind != DesignKind::Grid {
            return self.unit_point(index);
        }
        let levels = self.parameters.iter().rev().map(|parameter| {
            let count = parameter.levels().map_or(1, <[_]>::len).max(1);
            let level = index % count;
            index /= count;
            level as f64 / (count.max(2) - 1) as f64
        });
        levels.collect()
    }

    /// Seconds that one trial of each strategy takes at every point: the geometric mean of the nearest
    /// samples, weighted by the inverse square of their distance (D. Shepard, Proc 23rd ACM National
    /// Conference, 517, 1968; from memory). Without a sample all points are alike.
    #[must_use]
    pub fn costs(&self, points: usize, samples: &[CostSample]) -> Vec<f64> {
        let known: Vec<(Vec<f64>, f64)> = samples
            .iter()
            .map(|s| (self.place(s.point), s.seconds.max(f64::MIN_POSITIVE).ln()))
            .collect();
        (0..points)
            .map(|point| at(&self.place(point), &known))
            .collect()
    }
}

/// The cost at a place.
fn at(place: &[f64], known: &[(Vec<f64>, f64)]) -> f64 {
    let squared = |other: &[f64]| -> f64 {
        let differences = place.iter().zip(other).map(|(a, b)| a - b);
        differences.map(|d| d * d).sum()
    };
    let mut nearest: Vec<(f64, f64)> = known.iter().map(|(p, cost)| (squared(p), *cost)).collect();
    let count = NEAREST.min(nearest.len());
    if count == 0 {
        return 1.0;
    }
    nearest.select_nth_unstable_by(count - 1, |a, b| a.0.total_cmp(&b.0));
    let (mut sum, mut weights) = (0.0, 0.0);
    for (squared, cost) in &nearest[..count] {
        if *squared <= 0.0 {
            return cost.exp();
        }
        sum += cost / squared;
        weights += 1.0 / squared;
    }
    (sum / weights).exp()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::sweep::model::{Distribution, ParameterSpec, Values};
    use crate::schema::Place;
    use crate::study::Deal;

    fn design(points: usize) -> Design {
        let spread = |name: &str| ParameterSpec {
            column: name.to_owned(),
            label: name.to_owned(),
            unit: String::new(),
            targets: Vec::new(),
            place: Place::default(),
            values: Values::Spread {
                distribution: Distribution::Uniform {
                    low: 0.0,
                    high: 1.0,
                },
                whole: false,
            },
        };
        Design {
            kind: DesignKind::Sobol { points },
            seed: 3,
            parameters: vec![spread("a"), spread("b")],
        }
    }

    /// Costs that rise twentyfold along one parameter, known at a tenth of the points.
    #[test]
    fn shares_dealt_by_sampled_costs_end_within_15_percent_of_each_other() {
        let design = design(1000);
        let cost = |point: usize| 20_f64.powf(design.place(point)[0]);
        let samples: Vec<CostSample> = sample_points(1000, 100)
            .into_iter()
            .map(|point| CostSample {
                point,
                seconds: cost(point),
            })
            .collect();
        let deal = Deal::by_cost(&design.costs(1000, &samples), 16);
        let mut loads = [0.0; 16];
        for point in 0..1000 {
            loads[deal.share_of(point).unwrap() - 1] += cost(point);
        }
        let most = loads.iter().copied().fold(0.0, f64::max);
        let least = loads.iter().copied().fold(f64::MAX, f64::min);
        assert!(most < 1.15 * least, "{loads:?}");
    }
}
