//! First-order and total Sobol indices from a pick-freeze design, with intervals of the jackknife,
//! without keeping the rows.

use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};

use crate::study::intervals::student_bound;

/// Groups of rows, each of which is left out in turn.
const GROUPS: usize = 32;
/// Confidence of the intervals.
const CONFIDENCE: f64 = 0.95;

/// An index with its interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Index {
    /// The index.
    pub value: f64,
    /// 95 % interval: Student's on the jackknife over the rows of a design or over the draws of a grid.
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

/// Sums over the rows of a pick-freeze design, of all and of groups of them.
#[derive(Debug, Clone)]
pub struct PickFreeze {
    parameters: usize,
    seed: u64,
    rows: u64,
    /// Group of each of the next rows, the next one last.
    next_groups: Vec<usize>,
    groups: Vec<Sums>,
}

/// Sums of one group of rows.
#[derive(Debug, Clone, Default)]
struct Sums {
    rows: f64,
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
    /// Sums for so many parameters; `seed` deals the rows to groups.
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
            next_groups: Vec::new(),
            groups: vec![empty; GROUPS],
        }
    }

    /// Adds a row: the values at its first and second point and at the mixed ones, in the order
    /// of the parameters. Numbers are best given about their mean.
    ///
    /// Rows of a low-discrepancy sequence come in an order, so each block of rows is dealt to the groups
    /// in an order of its own.
    pub fn add(&mut self, first: f64, second: f64, mixed: &[f64]) {
        if self.next_groups.is_empty() {
            let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
            rng.set_stream(self.rows);
            self.next_groups.extend(0..GROUPS);
            self.next_groups.shuffle(&mut rng);
        }
        self.rows += 1;
        let Some(group) = self.next_groups.pop() else {
            return;
        };
        let sums = &mut self.groups[group];
        sums.rows += 1.0;
        sums.value += first + second;
        sums.square += first * first + second * second;
        for (of, &mixed) in sums.of_parameter.iter_mut().zip(mixed) {
            of.product += second * mixed;
            of.sum += second + mixed;
            of.squares += second * second + mixed * mixed;
            of.difference += (first - mixed).powi(2);
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
    ///
    /// Intervals: jackknife over groups of rows with Student's bound (J. W. Tukey, Ann Math Stat 29:614,
    /// 1958); a first-order index is a coefficient of correlation and is taken as its inverse hyperbolic
    /// tangent (R. A. Fisher, 1921, from memory), a total one as its logarithm.
    #[must_use]
    pub fn indices(&self) -> Option<Vec<(Index, Index)>> {
        let all = Sums::of(self.groups.iter(), self.parameters);
        let plain = all.indices()?;
        let filled = self.groups.iter().filter(|group| group.rows > 0.0);
        let left: Vec<Vec<(f64, f64)>> = filled
            .filter_map(|skipped| {
                let kept = self.groups.iter().filter(|g| !std::ptr::eq(*g, skipped));
                Sums::of(kept, self.parameters).indices()
            })
            .collect();
        let of_parameter = |k: usize| {
            let firsts: Vec<f64> = left.iter().map(|r| r[k].0).collect();
            let totals: Vec<f64> = left.iter().map(|r| r[k].1).collect();
            (
                with_interval(plain[k].0, &firsts, (f64::atanh, f64::tanh)),
                with_interval(plain[k].1, &totals, (f64::ln, f64::exp)),
            )
        };
        Some((0..self.parameters).map(of_parameter).collect())
    }
}

/// A function and the one that takes back what it does.
type Scale = (fn(f64) -> f64, fn(f64) -> f64);

/// The index `value` with the interval from the values without each group, on the scale to which the
/// first function takes and from which the second takes back; on its own scale where that is infinite.
fn with_interval(value: f64, left: &[f64], (onto, back): Scale) -> Index {
    let interval = |onto: fn(f64) -> f64| {
        let left: Vec<f64> = left.iter().map(|v| onto(*v)).collect();
        let count = left.len() as f64;
        let mean = left.iter().sum::<f64>() / count;
        let squares: f64 = left.iter().map(|v| (v - mean).powi(2)).sum();
        let error = (squares * (count - 1.0) / count).sqrt();
        (onto(value), student_bound(count - 1.0, CONFIDENCE) * error)
    };
    let (at, reach) = interval(onto);
    let ci95 = if at.is_finite() && reach.is_finite() {
        [back(at - reach), back(at + reach)]
    } else {
        let (at, reach) = interval(|v| v);
        if reach.is_finite() {
            [at - reach, at + reach]
        } else {
            [value.min(0.0), value.max(1.0)]
        }
    };
    Index { value, ci95 }
}

impl Sums {
    /// Of those groups together.
    fn of<'g>(groups: impl Iterator<Item = &'g Self>, parameters: usize) -> Self {
        let empty = Self {
            of_parameter: vec![OfParameter::default(); parameters],
            ..Self::default()
        };
        groups.fold(empty, |mut all, group| {
            all.rows += group.rows;
            all.value += group.value;
            all.square += group.square;
            for (sum, part) in all.of_parameter.iter_mut().zip(&group.of_parameter) {
                sum.product += part.product;
                sum.sum += part.sum;
                sum.squares += part.squares;
                sum.difference += part.difference;
            }
            all
        })
    }

    fn indices(&self) -> Option<Vec<(f64, f64)>> {
        let points = 2.0 * self.rows;
        let mean = self.value / points;
        let variance = self.square / points - mean * mean;
        if self.rows < 2.0 || variance <= 1e-14 * (self.square / points).max(1e-300) {
            return None;
        }
        let one = |of: &OfParameter| {
            let m = of.sum / points;
            let spread = of.squares / points - m * m;
            let first = (of.product / self.rows - m * m) / spread;
            let total = of.difference / self.rows / (2.0 * variance);
            (if spread > 0.0 { first } else { 0.0 }, total)
        };
        Some(self.of_parameter.iter().map(one).collect())
    }
}
