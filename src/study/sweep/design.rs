//! Which points a sweep visits: any point by its number, without a list of all.

use serde::{Deserialize, Serialize};
use sobol_burley::parts::{hash, owen_scramble_rev, sobol_rev};
use statrs::distribution::{ContinuousCDF, Normal};
use toml::Value;

use super::permutation::permuted;
use crate::scenario::sweep::model::{DesignKind, Distribution, ParameterSpec, Values};

/// The points of a sweep.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Design {
    /// How the points lie.
    #[serde(flatten)]
    pub kind: DesignKind,
    /// Seed of what is drawn.
    pub seed: u64,
    /// What varies.
    pub parameters: Vec<ParameterSpec>,
}

/// What a point of a pick-freeze design is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// The first of two independent points.
    First,
    /// The second.
    Second,
    /// The first, with one parameter of the second.
    Mixed(usize),
}

impl Design {
    /// Number of points; `None` where it is beyond counting.
    #[must_use]
    pub fn count(&self) -> Option<usize> {
        match self.kind {
            DesignKind::Grid => self.parameters.iter().try_fold(1_usize, |product, p| {
                product.checked_mul(p.levels().map_or(1, <[_]>::len))
            }),
            DesignKind::LatinHypercube { points } | DesignKind::Sobol { points } => Some(points),
            DesignKind::PickFreeze { rows } => rows.checked_mul(self.parameters.len() + 2),
        }
    }

    /// What the point numbered `index` is in a pick-freeze design.
    #[must_use]
    pub fn role(&self, index: usize) -> Role {
        match index % (self.parameters.len() + 2) {
            0 => Role::First,
            1 => Role::Second,
            other => Role::Mixed(other - 2),
        }
    }

    /// Values of the parameters at the point numbered `index`, from 0.
    #[must_use]
    pub fn point(&self, index: usize) -> Vec<Value> {
        if self.kind == DesignKind::Grid {
            return self.grid_point(index);
        }
        let each = self.parameters.iter().zip(self.unit_point(index));
        each.map(|(parameter, u)| value_at(&parameter.values, u))
            .collect()
    }

    fn grid_point(&self, mut index: usize) -> Vec<Value> {
        let mut point = Vec::with_capacity(self.parameters.len());
        for parameter in self.parameters.iter().rev() {
            let levels = parameter.levels().unwrap_or_default();
            if let Some(level) = levels.get(index % levels.len().max(1)) {
                point.push(level.clone());
            }
            index /= levels.len().max(1);
        }
        point.reverse();
        point
    }

    /// The point in the unit cube, each coordinate within (0, 1).
    #[must_use]
    pub fn unit_point(&self, index: usize) -> Vec<f64> {
        let count = self.parameters.len();
        match self.kind {
            DesignKind::Grid => Vec::new(),
            DesignKind::LatinHypercube { points } => (0..count)
                .map(|dimension| {
                    let key = mixed(self.seed, dimension);
                    let row = permuted(index, points, key);
                    let within = fraction(hash(key ^ hash(low_bits(index))));
                    (row as f64 + within) / points as f64
                })
                .collect(),
            DesignKind::Sobol { .. } => (0..count)
                .map(|dimension| scrambled_sobol(index, dimension, self.seed))
                .collect(),
            DesignKind::PickFreeze { .. } => {
                let row = index / (count + 2);
                let role = self.role(index);
                let coordinate = |dimension: usize| {
                    let second = role == Role::Second || role == Role::Mixed(dimension);
                    let column = dimension + if second { count } else { 0 };
                    scrambled_sobol(row, column, self.seed)
                };
                (0..count).map(coordinate).collect()
            }
        }
    }
}

/// A coordinate of the Sobol sequence with the direction numbers of S. Joe and F. Y. Kuo, SIAM J
/// Sci Comput 30:2635-2654, 2008, as an integer of 32 bits.
#[must_use]
pub fn sobol(index: usize, dimension: usize) -> u32 {
    sobol_rev(low_bits(index).reverse_bits(), low_bits(dimension)).reverse_bits()
}

/// The same with a nested uniform scramble (A. B. Owen, 1995) by hashing (B. Burley, J Comput
/// Graph Tech 9(4):1-20, 2020), within (0, 1).
fn scrambled_sobol(index: usize, dimension: usize, seed: u64) -> f64 {
    let plain = sobol_rev(low_bits(index).reverse_bits(), low_bits(dimension));
    fraction(owen_scramble_rev(plain, mixed(seed, dimension)).reverse_bits())
}

/// A key for one dimension.
#[expect(
    clippy::cast_possible_truncation,
    reason = "the two halves are meant, one after the other"
)]
fn mixed(seed: u64, dimension: usize) -> u32 {
    let (low, high) = (seed as u32, (seed >> 32) as u32);
    hash(hash(hash(low) ^ high) ^ low_bits(dimension))
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "only the low bits are wanted"
)]
fn low_bits(number: usize) -> u32 {
    number as u32
}

/// The middle of one of 2^32 equal parts of (0, 1).
fn fraction(bits: u32) -> f64 {
    (f64::from(bits) + 0.5) / 4_294_967_296.0
}

/// The value of a parameter at the fraction `u` (0 to 1, exclusive) of its distribution.
#[must_use]
pub fn value_at(values: &Values, u: f64) -> Value {
    match values {
        Values::Listed { levels, weights } => {
            let mut sum = 0.0;
            let level = levels.iter().zip(weights).find(|(_, weight)| {
                sum += **weight;
                u < sum
            });
            level
                .map(|(level, _)| level)
                .or(levels.last())
                .cloned()
                .unwrap_or(Value::Boolean(false))
        }
        Values::Spread {
            distribution,
            whole,
        } => whole_or_float(quantile(distribution, u), *whole),
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "the range allowed for parameters ends far below 2^63"
)]
fn whole_or_float(value: f64, whole: bool) -> Value {
    if whole {
        Value::Integer(value.round() as i64)
    } else {
        Value::Float(value)
    }
}

/// The value below which a distribution has the part `u`.
fn quantile(distribution: &Distribution, u: f64) -> f64 {
    let normal = Normal::standard();
    match *distribution {
        Distribution::Uniform { low, high } => low + u * (high - low),
        Distribution::LogUniform { low, high } => low * (high / low).powf(u),
        Distribution::Normal { mean, sd } => mean + sd * normal.inverse_cdf(u),
        Distribution::TruncatedNormal {
            mean,
            sd,
            low,
            high,
        } => {
            let below = normal.cdf((low - mean) / sd);
            let within = normal.cdf((high - mean) / sd) - below;
            (mean + sd * normal.inverse_cdf(below + u * within)).clamp(low, high)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::Place;

    fn spread(distribution: Distribution) -> ParameterSpec {
        ParameterSpec {
            column: "x".into(),
            label: "x".into(),
            unit: String::new(),
            targets: Vec::new(),
            values: Values::Spread {
                distribution,
                whole: false,
            },
            place: Place::default(),
        }
    }

    fn design(kind: DesignKind, parameters: usize) -> Design {
        let uniform = Distribution::Uniform {
            low: 0.0,
            high: 1.0,
        };
        Design {
            kind,
            seed: 42,
            parameters: vec![spread(uniform); parameters],
        }
    }

    #[test]
    fn a_latin_hypercube_has_one_point_in_every_row_and_column() {
        for points in [1, 2, 7, 100, 1000] {
            let design = design(DesignKind::LatinHypercube { points }, 5);
            let mut hits = vec![vec![0; points]; 5];
            for index in 0..points {
                for (dimension, u) in design.unit_point(index).into_iter().enumerate() {
                    let row = (0..points)
                        .find(|&row| u < (row + 1) as f64 / points as f64)
                        .unwrap();
                    hits[dimension][row] += 1;
                }
            }
            assert!(hits.iter().flatten().all(|&hits| hits == 1), "{points}");
        }
    }

    /// Scrambling keeps the net: of 2^m points each of 2^m equal intervals of every coordinate
    /// holds one, and of 16 points each square of a 4 by 4 board in the first two holds one.
    #[test]
    fn a_scrambled_sobol_sequence_stays_a_net() {
        let design = design(DesignKind::Sobol { points: 16 }, 2);
        let mut squares = [0; 16];
        let mut rows = [[0; 16]; 2];
        for index in 0..16 {
            let point = design.unit_point(index);
            let cell = |u: f64, parts: usize| {
                (0..parts)
                    .find(|&k| u * (parts as f64) < (k + 1) as f64)
                    .unwrap()
            };
            squares[4 * cell(point[0], 4) + cell(point[1], 4)] += 1;
            for (dimension, u) in point.iter().enumerate() {
                rows[dimension][cell(*u, 16)] += 1;
            }
        }
        assert!(squares.iter().all(|&hits| hits == 1));
        assert!(rows.iter().flatten().all(|&hits| hits == 1));
    }

    #[test]
    fn a_mixed_point_differs_from_the_first_in_one_parameter() {
        let design = design(DesignKind::PickFreeze { rows: 4 }, 3);
        for row in 0..4 {
            let [first, second] = [0, 1].map(|k| design.unit_point(5 * row + k));
            for dimension in 0..3 {
                let mixed = design.unit_point(5 * row + 2 + dimension);
                for k in 0..3 {
                    let expected = if k == dimension { second[k] } else { first[k] };
                    assert!((mixed[k] - expected).abs() < 1e-15);
                }
            }
        }
    }

    #[test]
    fn distributions_have_their_quantiles() {
        let at = |distribution, u| quantile(&distribution, u);
        let normal = Distribution::Normal { mean: 2.0, sd: 3.0 };
        assert!((at(normal, 0.975) - (2.0 + 3.0 * 1.959_963_984_540_054)).abs() < 1e-9);
        let log = Distribution::LogUniform {
            low: 0.1,
            high: 10.0,
        };
        assert!((at(log, 0.5) - 1.0).abs() < 1e-12);
        let cut = Distribution::TruncatedNormal {
            mean: 0.0,
            sd: 1.0,
            low: -1.0,
            high: 1.0,
        };
        assert!(at(cut, 0.5).abs() < 1e-12);
        assert!((at(cut, 1e-12) + 1.0).abs() < 1e-6);
    }
}
