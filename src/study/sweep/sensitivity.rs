//! First-order and total Sobol indices from a pick-freeze design, with bootstrap intervals,
//! without keeping the rows.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};

use crate::study::statistics::quantile;

/// Bootstrap replicates.
const REPLICATES: usize = 500;

/// An index with its interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Index {
    /// The index.
    pub value: f64,
    /// 95 % interval: percentiles of the bootstrap over the rows of a design (with 128 rows 92 to 94 %
    /// cover), or Student's on the jackknife over the draws of a grid.
    pub ci95: [f64; 2],
}

/// What one parameter contributes to the variance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Sensitivity {
    /// Column of the parameter.
    pub parameter: String,
    /// Share of the variance that the parameter explains alone.
    pub first_order: Index,
    /// Share that it has a part in, interactions included; `None` where the design does not tell.
    pub total: Option<Index>,
}

/// Sums over the rows of a pick-freeze design, plain and for every bootstrap replicate.
#[derive(Debug, Clone)]
pub struct PickFreeze {
    parameters: usize,
    seed: u64,
    rows: u64,
    /// Sums of the data, then of the replicates.
    sums: Vec<Sums>,
}

/// Sums of one (re)sample.
#[derive(Debug, Clone, Default)]
struct Sums {
    weight: f64,
    /// First and second points: values and squares.
    value: f64,
    square: f64,
    of_parameter: Vec<OfParameter>,
}

#[derive(Debug, Clone, Copy, Default)]
struct OfParameter {
    /// Second times mixed.
    product: f64,
    /// Second plus mixed.
    sum: f64,
    /// Their squares.
    squares: f64,
    /// (First minus mixed) squared.
    difference: f64,
}

impl PickFreeze {
    /// Sums for so many parameters; `seed` keys the bootstrap.
    #[must_use]
    pub fn new(parameters: usize, seed: u64) -> Self {
        let empty = Sums {
            of_parameter: vec![OfParameter::default(); parameters],
            ..Sums::default()
        };
        Self {
            parameters,
            seed,
            rows: 0,
            sums: vec![empty; REPLICATES + 1],
        }
    }

    /// Adds a row: the values at its first and second point and at the mixed ones, in the order
    /// of the parameters. Numbers are best given about their mean.
    ///
    /// The bootstrap gives every row a weight drawn from Poisson's distribution of mean 1 in each
    /// replicate, in place of drawing rows: the same in the limit of many rows, and no row needs to
    /// be kept (N. Chamandy et al., *Estimating uncertainty for massive data streams*, 2012).
    pub fn add(&mut self, first: f64, second: f64, mixed: &[f64]) {
        let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
        rng.set_stream(self.rows);
        self.rows += 1;
        for (replicate, sums) in self.sums.iter_mut().enumerate() {
            let weight = match replicate {
                0 => 1.0,
                _ => poisson_of_mean_one(rng.random_range(0.0..1.0)),
            };
            if weight == 0.0 {
                continue;
            }
            sums.weight += weight;
            sums.value += weight * (first + second);
            sums.square += weight * (first * first + second * second);
            for (of, &mixed) in sums.of_parameter.iter_mut().zip(mixed) {
                of.product += weight * second * mixed;
                of.sum += weight * (second + mixed);
                of.squares += weight * (second * second + mixed * mixed);
                of.difference += weight * (first - mixed).powi(2);
            }
        }
    }

    /// Rows added.
    #[must_use]
    pub fn rows(&self) -> u64 {
        self.rows
    }

    /// First-order and total index of every parameter; `None` where the values do not vary.
    ///
    /// First order: [mean(B·AB) - m²] / [mean((B² + AB²)/2) - m²], m = mean((B + AB)/2), AB the
    /// first point with the parameter of the second; A. Janon et al., ESAIM Probab Stat 18:342-364,
    /// 2014, eq. 6. Total: mean((A - AB)²) / 2V; M. J. W. Jansen, Comput Phys Commun 117:35-43,
    /// 1999, as in A. Saltelli et al., Comput Phys Commun 181:259-270, 2010, table 2 (f), with
    /// V over all first and second points.
    #[must_use]
    pub fn indices(&self) -> Option<Vec<(Index, Index)>> {
        let plain = self.sums.first()?.indices()?;
        let replicates: Vec<Vec<(f64, f64)>> =
            self.sums.iter().skip(1).filter_map(Sums::indices).collect();
        let interval = |values: Vec<f64>| {
            let at = |fraction| quantile(&values, fraction).unwrap_or(f64::NAN);
            [at(0.025), at(0.975)]
        };
        let of_parameter = |k: usize| {
            let firsts = replicates.iter().map(|r| r[k].0).collect();
            let totals = replicates.iter().map(|r| r[k].1).collect();
            let index = |value: f64, values: Vec<f64>| Index {
                value,
                ci95: interval(values),
            };
            (index(plain[k].0, firsts), index(plain[k].1, totals))
        };
        Some((0..self.parameters).map(of_parameter).collect())
    }
}

impl Sums {
    fn indices(&self) -> Option<Vec<(f64, f64)>> {
        let points = 2.0 * self.weight;
        let mean = self.value / points;
        let variance = self.square / points - mean * mean;
        if self.weight < 2.0 || variance <= 1e-14 * (self.square / points).max(1e-300) {
            return None;
        }
        let one = |of: &OfParameter| {
            let m = of.sum / points;
            let spread = of.squares / points - m * m;
            let first = (of.product / self.weight - m * m) / spread;
            let total = of.difference / self.weight / (2.0 * variance);
            (if spread > 0.0 { first } else { 0.0 }, total)
        };
        Some(self.of_parameter.iter().map(one).collect())
    }
}

/// The value below which Poisson's distribution of mean 1 has the part `u`.
fn poisson_of_mean_one(u: f64) -> f64 {
    let mut probability = (-1.0_f64).exp();
    let mut below = probability;
    let mut value = 0.0;
    while u >= below && value < 20.0 {
        value += 1.0;
        probability /= value;
        below += probability;
    }
    value
}
