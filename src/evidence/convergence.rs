//! By how much a number is off that was computed with meshes of a finite fineness.

use serde::{Deserialize, Serialize};

/// Ratio of the spacings of two meshes that follow each other.
pub const RATIO: f64 = 2.0;
/// Orders of convergence that are believed: below, differences hardly fall; above, they are what rounding
/// and hops of contacts leave.
const BELIEVED: (f64, f64) = (0.5, 2.5);
/// Highest order that an extrapolation uses: that of the rod.
const HIGHEST: f64 = 2.0;
/// Factor of safety where the order was observed, and where it was not.
const SAFE: f64 = 1.25;
const UNSURE: f64 = 3.0;
/// Differences below this share of the value are rounding.
const ROUNDING: f64 = 1e-9;

/// How an error was estimated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Rule {
    /// From the observed order of convergence.
    Observed,
    /// From the largest difference: differences do not fall steadily.
    Difference,
    /// No difference beyond rounding.
    Same,
}

impl Rule {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Observed => "observed order",
            Self::Difference => "3 x largest difference",
            Self::Same => "no difference",
        }
    }
}

/// A number with the error that its mesh leaves.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// The number on the coarsest mesh, which is the one in use.
    pub value: f64,
    /// Observed order of convergence; `None` where differences do not fall.
    pub order: Option<f64>,
    /// The number at which finer meshes would arrive.
    pub limit: f64,
    /// Half the interval around `value` in which the number without a mesh is expected.
    pub half_width: f64,
    /// How it was found.
    pub rule: Rule,
}

impl Estimate {
    /// The error of the first of three numbers, each from a mesh that is twice as fine as the one before.
    ///
    /// Equation: order `p = ln[(f1 - f2)/(f2 - f3)]/ln r`; limit `f1 + (f2 - f1) r^p/(r^p - 1)` (Richardson's
    /// extrapolation, 1911); half of the interval `F |f1 - f2| r^p/(r^p - 1)`, Roache's grid convergence index of
    /// the coarser mesh with `F = 1.25` where `p` is observed. Where differences change sign or do not fall, three
    /// times the largest one, the factor that Roache gives for two meshes.
    /// Symbols: `f1, f2, f3` numbers from the coarsest mesh on, `r` = 2 ratio of spacings, `p` at most 2.
    /// Source: Roache, J. Fluids Eng. 116:405, 1994, and *Verification and Validation in Computational Science and
    /// Engineering*, 1998; the rule for differences that do not fall as in Eça and Hoekstra, J. Comput. Phys.
    /// 262:104, 2014. All from memory.
    /// Checked by: `interval` in the catalogue.
    #[must_use]
    pub fn of([coarse, half, quarter]: [f64; 3]) -> Self {
        let (first, second) = (half - coarse, quarter - half);
        let size = coarse.abs().max(half.abs()).max(quarter.abs());
        let largest = first.abs().max(second.abs()).max((quarter - coarse).abs());
        if largest <= ROUNDING * size {
            return Self {
                value: coarse,
                order: None,
                limit: quarter,
                half_width: largest,
                rule: Rule::Same,
            };
        }
        let order = (first / second).ln() / RATIO.ln();
        if order.is_finite() && (BELIEVED.0..=BELIEVED.1).contains(&order) {
            let power = RATIO.powf(order.min(HIGHEST));
            let error = first * power / (power - 1.0);
            return Self {
                value: coarse,
                order: Some(order),
                limit: coarse + error,
                half_width: SAFE * error.abs(),
                rule: Rule::Observed,
            };
        }
        Self {
            value: coarse,
            order: order.is_finite().then_some(order),
            limit: quarter,
            half_width: UNSURE * largest,
            rule: Rule::Difference,
        }
    }

    /// The estimate of a number that is so many times as large.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self {
            value: self.value * factor,
            limit: self.limit * factor,
            half_width: self.half_width * factor.abs(),
            ..self
        }
    }

    /// Half of the interval over the value, in %; `None` where the value is 0.
    #[must_use]
    pub fn per_cent(&self) -> Option<f64> {
        let share = 100.0 * self.half_width / self.value.abs();
        share.is_finite().then_some(share)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// `f = 5 + 2 h^p` at h = 0.4, 0.2, 0.1: the order is p, the limit 5, and the interval holds it.
    #[test]
    fn a_power_of_the_spacing_is_extrapolated_to_its_limit() {
        for order in [0.8, 1.0, 1.5, 2.0] {
            let found = Estimate::of([0.4, 0.2, 0.1].map(|h: f64| 5.0 + 2.0 * h.powf(order)));
            assert_relative_eq!(found.order.unwrap(), order, epsilon = 1e-9);
            assert_relative_eq!(found.limit, 5.0, epsilon = 1e-9);
            assert_relative_eq!(
                found.half_width,
                1.25 * 2.0 * 0.4f64.powf(order),
                epsilon = 1e-9
            );
        }
    }

    #[test]
    fn numbers_that_go_to_and_fro_have_three_times_their_largest_difference() {
        let found = Estimate::of([1.0, 1.2, 1.1]);
        assert_eq!((found.order, found.rule), (None, Rule::Difference));
        assert_relative_eq!(found.half_width, 0.6, epsilon = 1e-12);
        // Differences that grow.
        let found = Estimate::of([1.0, 1.1, 1.4]);
        assert_eq!(found.rule, Rule::Difference);
        assert_relative_eq!(found.half_width, 1.2, epsilon = 1e-12);
    }

    #[test]
    fn equal_numbers_have_no_error() {
        let found = Estimate::of([0.0; 3]);
        assert_eq!((found.rule, found.per_cent()), (Rule::Same, None));
        assert!(found.half_width <= 0.0);
    }
}
