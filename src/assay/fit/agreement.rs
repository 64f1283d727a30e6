//! What sets of readings say by themselves and about each other, linearised about a joint fit.
//!
//! Source: least squares with common unknowns and its test, Chow, *Econometrica* 28:591, 1960, and
//! Seber and Lee, *Linear Regression Analysis*, 2nd ed. 2003, section 4.6 (from memory).

use nalgebra::{DMatrix, DVector};
use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor};

/// Singular value over the largest one below which a direction of the unknowns counts as not
/// determined: stiffness would have to change e-fold to move the loads by a hundredth.
const RANK_TOLERANCE: f64 = 1e-2;

/// The readings of one set about the joint solution.
#[derive(Debug, Clone, PartialEq)]
pub struct Rows {
    /// Logarithm of measured over simulated load.
    pub residuals: DVector<f64>,
    /// Its derivatives by the unknowns.
    pub jacobian: DMatrix<f64>,
}

/// The least sum of squares of some rows.
struct Least {
    sum: f64,
    rank: usize,
    /// The smallest change of the unknowns that reaches it.
    shift: DVector<f64>,
    /// Directions of the unknowns that the rows determine, as columns.
    determined: DMatrix<f64>,
}

fn least(rows: &Rows) -> Least {
    let unknowns = rows.jacobian.ncols();
    let none = |sum| Least {
        sum,
        rank: 0,
        shift: DVector::zeros(unknowns),
        determined: DMatrix::zeros(unknowns, 0),
    };
    let total = rows.residuals.norm_squared();
    let svd = rows.jacobian.clone().svd(true, true);
    let (Some(u), Some(v)) = (&svd.u, &svd.v_t) else {
        return none(total);
    };
    let limit = RANK_TOLERANCE * svd.singular_values.max();
    let mut found = none(total);
    let mut directions = Vec::new();
    for (i, &value) in svd.singular_values.iter().enumerate() {
        if value > limit && value > 0.0 {
            let along = u.column(i).dot(&rows.residuals);
            found.sum -= along * along;
            let direction = v.row(i).transpose();
            found.shift -= &direction * (along / value);
            directions.push(direction);
        }
    }
    found.sum = found.sum.max(0.0);
    found.rank = directions.len();
    if !directions.is_empty() {
        found.determined = DMatrix::from_columns(&directions);
    }
    found
}

/// How a set scatters about the best wire for it alone: sum of squares and degrees of freedom.
#[must_use]
pub fn alone(rows: &Rows) -> (f64, usize) {
    let least = least(rows);
    (least.sum, rows.residuals.len() - least.rank)
}

/// A set against all others together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreement {
    /// How much the sum of squares rises because both must have one wire, over the variances.
    pub chi_square: f64,
    /// Combinations of unknowns that both determine.
    pub freedom: usize,
    /// Probability of as large a rise where nothing is wrong.
    pub probability: f64,
    /// Loads of the set over those that the wire of the others would have, geometric mean.
    pub factor: f64,
}

/// Compares set number `one` with the others. `errors` are the standard deviations of the sets,
/// `estimated_freedom` the degrees of freedom from which errors were read, `None` where all were
/// known. `None` where the set and the others have nothing in common.
#[must_use]
pub fn agreement(
    sets: &[Rows],
    errors: &[f64],
    one: usize,
    estimated_freedom: Option<usize>,
) -> Option<Agreement> {
    let weighted = |keep: &dyn Fn(usize) -> bool| {
        let kept = sets.iter().zip(errors).enumerate();
        let kept: Vec<_> = kept.filter(|(k, _)| keep(*k)).map(|(_, set)| set).collect();
        let jacobian: Vec<_> = kept
            .iter()
            .flat_map(|(rows, error)| rows.jacobian.row_iter().map(move |row| row / **error))
            .collect();
        let residuals = kept
            .iter()
            .flat_map(|(rows, error)| rows.residuals.iter().map(move |r| r / **error));
        (!jacobian.is_empty()).then(|| Rows {
            residuals: DVector::from_iterator(jacobian.len(), residuals),
            jacobian: DMatrix::from_rows(&jacobian),
        })
    };
    let (set, others) = (weighted(&|k| k == one)?, weighted(&|k| k != one)?);
    let all = least(&weighted(&|_| true)?);
    let (alone, rest) = (least(&set), least(&others));
    let freedom = (alone.rank + rest.rank).saturating_sub(all.rank);
    if freedom == 0 {
        return None;
    }
    let chi_square = (all.sum - alone.sum - rest.sum).max(0.0);
    let probability = beyond(chi_square, freedom, estimated_freedom);
    // What is left of the set at the others' wire when the directions that the others do not
    // determine are free.
    let unknowns = set.jacobian.ncols();
    let free =
        DMatrix::identity(unknowns, unknowns) - &rest.determined * rest.determined.transpose();
    let at_others = Rows {
        residuals: &set.residuals + &set.jacobian * &rest.shift,
        jacobian: &set.jacobian * free,
    };
    let rank_known = at_others.jacobian.amax() > RANK_TOLERANCE * set.jacobian.amax();
    let left = if rank_known {
        &at_others.residuals + &at_others.jacobian * least(&at_others).shift
    } else {
        at_others.residuals
    };
    Some(Agreement {
        chi_square,
        freedom,
        probability,
        factor: (errors[one] * left.mean()).exp(),
    })
}

/// Probability of a sum of squares beyond `chi_square` with `freedom` degrees of freedom, where the
/// variances are known or were read from `estimated` degrees of freedom.
#[must_use]
pub fn beyond(chi_square: f64, freedom: usize, estimated: Option<usize>) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "counts of readings")]
    let (freedom, estimated) = (freedom as f64, estimated.map(|count| count as f64));
    let found = match estimated {
        None => ChiSquared::new(freedom).map(|chi| chi.sf(chi_square)).ok(),
        Some(estimated) => FisherSnedecor::new(freedom, estimated)
            .map(|f| f.sf(chi_square / freedom))
            .ok(),
    };
    found.unwrap_or(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(at: &[f64], values: &[f64]) -> Rows {
        Rows {
            residuals: DVector::from_column_slice(values),
            jacobian: DMatrix::from_fn(at.len(), 2, |i, k| if k == 0 { -1.0 } else { -at[i] }),
        }
    }

    #[test]
    fn two_means_are_compared_as_the_two_sample_test_does() {
        // One unknown, the mean: Q = n m / (n + m) (difference of the means)² / sigma².
        let rows = |values: &[f64]| Rows {
            residuals: DVector::from_column_slice(values),
            jacobian: DMatrix::from_element(values.len(), 1, -1.0),
        };
        let sets = [rows(&[0.10, 0.14, 0.12]), rows(&[0.0, 0.02])];
        let found = agreement(&sets, &[0.02, 0.02], 0, None).expect("both know the mean");
        let exact = 3.0 * 2.0 / 5.0 * (0.11f64 / 0.02).powi(2);
        approx::assert_relative_eq!(found.chi_square, exact, max_relative = 1e-10);
        assert_eq!(found.freedom, 1);
        approx::assert_relative_eq!(found.factor, 0.11f64.exp(), max_relative = 1e-10);
        let (sum, freedom) = alone(&sets[0]);
        approx::assert_relative_eq!(sum, 2.0 * 0.02 * 0.02, max_relative = 1e-9);
        assert_eq!(freedom, 2);
    }

    #[test]
    fn a_set_that_shares_no_unknown_with_the_others_cannot_disagree() {
        let of = |k: usize| Rows {
            residuals: DVector::from_column_slice(&[0.3, 0.4]),
            jacobian: DMatrix::from_fn(2, 2, |_, column| if column == k { -1.0 } else { 0.0 }),
        };
        assert_eq!(agreement(&[of(0), of(1)], &[0.1, 0.1], 0, None), None);
    }

    #[test]
    fn one_reading_on_the_line_of_the_others_agrees_and_one_off_it_does_not() {
        let others = line(&[0.0, 1.0, 2.0, 3.0], &[0.001, -0.002, 0.001, 0.0]);
        for (value, agrees) in [(0.01, true), (0.2, false)] {
            let sets = [line(&[1.5], &[value]), others.clone()];
            let found = agreement(&sets, &[0.02, 0.002], 0, None).expect("a common line");
            assert_eq!(found.probability > 0.01, agrees, "{found:?}");
            assert_eq!(found.freedom, 1);
            assert!((found.factor - f64::exp(value)).abs() < 0.005, "{found:?}");
        }
    }
}
