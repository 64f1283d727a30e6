//! Nonlinear least squares with few unknowns.
//!
//! Source: damped Gauss-Newton steps, Marquardt, *J. Soc. Indust. Appl. Math.* 11:431, 1963;
//! covariance of the solution, Seber and Wild, *Nonlinear Regression*, 1989, section 2.1.

use nalgebra::{DMatrix, DVector};

/// Step of the finite differences.
const DIFFERENCE: f64 = 1e-3;
/// Largest change of an unknown at which the search ends.
const SMALL: f64 = 1e-6;
/// Most steps.
const STEPS: u32 = 60;
/// Largest change of an unknown in one step.
const LARGEST: f64 = 1.0;

/// The solution.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// Unknowns.
    pub values: DVector<f64>,
    /// Residuals there.
    pub residuals: DVector<f64>,
    /// Derivatives of the residuals (rows) by the unknowns, at the last step.
    pub jacobian: DMatrix<f64>,
    /// Inverse of `JᵀJ` there: the covariance of the unknowns where every residual has the
    /// standard deviation 1.
    pub covariance: DMatrix<f64>,
    /// Steps taken.
    pub steps: u32,
}

/// Why there is none.
#[derive(Debug, Clone, PartialEq)]
pub enum NoSolution<E> {
    /// The model failed at the start.
    Model(E),
    /// The residuals do not depend on this unknown, or not apart from the others.
    Undetermined(usize),
    /// The search did not end.
    Endless,
}

/// Finds the unknowns that make the sum of squares of `residuals` least, from `start`.
///
/// # Errors
/// [`NoSolution`].
pub fn solve<E>(
    start: DVector<f64>,
    mut residuals: impl FnMut(&DVector<f64>) -> Result<DVector<f64>, E>,
) -> Result<Solution, NoSolution<E>> {
    let mut x = start;
    let mut r = residuals(&x).map_err(NoSolution::Model)?;
    let mut damping = 1e-3;
    for steps in 0..STEPS {
        let jacobian = differences(&x, &mut residuals).map_err(NoSolution::Model)?;
        let normal = jacobian.transpose() * &jacobian;
        let slope = jacobian.transpose() * &r;
        let largest = normal.diagonal().max();
        if let Some(lost) = (0..x.len()).find(|&k| normal[(k, k)] <= 1e-10 * largest) {
            return Err(NoSolution::Undetermined(lost));
        }
        loop {
            let mut damped = normal.clone();
            for k in 0..x.len() {
                damped[(k, k)] *= 1.0 + damping;
            }
            let Some(factor) = damped.cholesky() else {
                return Err(NoSolution::Undetermined(weakest(&normal)));
            };
            let mut step = -factor.solve(&slope);
            let size = step.amax();
            if size > LARGEST {
                step *= LARGEST / size;
            }
            let next = &x + &step;
            let after = residuals(&next).ok();
            let falls = after.filter(|after| after.norm_squared() <= r.norm_squared());
            let accepted = falls.is_some();
            if let Some(after) = falls {
                (x, r) = (next, after);
                damping = (0.1 * damping).max(1e-9);
            } else {
                damping *= 10.0;
            }
            if size < SMALL || damping > 1e12 {
                let covariance = normal
                    .clone()
                    .cholesky()
                    .map(|c| c.inverse())
                    .ok_or_else(|| NoSolution::Undetermined(weakest(&normal)))?;
                return Ok(Solution {
                    values: x,
                    residuals: r,
                    jacobian,
                    covariance,
                    steps,
                });
            }
            if accepted {
                break;
            }
        }
    }
    Err(NoSolution::Endless)
}

fn differences<E>(
    x: &DVector<f64>,
    residuals: &mut impl FnMut(&DVector<f64>) -> Result<DVector<f64>, E>,
) -> Result<DMatrix<f64>, E> {
    let mut columns = Vec::with_capacity(x.len());
    for k in 0..x.len() {
        let mut at = |change: f64| {
            let mut near = x.clone();
            near[k] += change;
            residuals(&near)
        };
        columns.push((at(DIFFERENCE)? - at(-DIFFERENCE)?) / (2.0 * DIFFERENCE));
    }
    Ok(DMatrix::from_columns(&columns))
}

/// The unknown that takes the largest part in the direction that the data say least about.
fn weakest(normal: &DMatrix<f64>) -> usize {
    let eigen = normal.clone().symmetric_eigen();
    eigen.eigenvectors.column(eigen.eigenvalues.imin()).iamax()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Misra1a, statistical reference data set of the National Institute of Standards and
    /// Technology: y = b1 (1 - exp(-b2 x)); certified b1 = 2.3894212918E+02,
    /// b2 = 5.5015643181E-04, standard deviations 2.7070075241E+00 and 7.2668688436E-06
    /// (from memory; the residual standard deviation of the run agrees with the certified
    /// 1.0187876330E-01).
    #[test]
    fn a_certified_data_set_gives_the_certified_values() {
        const Y: [f64; 14] = [
            10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40,
            75.47, 81.78,
        ];
        const X: [f64; 14] = [
            77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1,
            689.1, 760.0,
        ];
        let model = |p: &DVector<f64>| -> Result<DVector<f64>, ()> {
            let (b1, b2) = (p[0].exp(), p[1].exp());
            Ok(DVector::from_fn(14, |i, _| {
                b1 * (1.0 - (-b2 * X[i]).exp()) - Y[i]
            }))
        };
        let start = DVector::from_vec(vec![500f64.ln(), 0.0001f64.ln()]);
        let Ok(found) = solve(start, model) else {
            panic!("a solution exists")
        };
        let deviation = (found.residuals.norm_squared() / 12.0).sqrt();
        approx::assert_relative_eq!(found.values[0].exp(), 238.942_129_18, max_relative = 1e-5);
        approx::assert_relative_eq!(
            found.values[1].exp(),
            5.501_564_318_1e-4,
            max_relative = 1e-5
        );
        approx::assert_relative_eq!(deviation, 0.101_878_763_30, max_relative = 1e-6);
        let spread = deviation * found.covariance[(0, 0)].sqrt() * found.values[0].exp();
        approx::assert_relative_eq!(spread, 2.707_007_524_1, max_relative = 1e-3);
    }

    #[test]
    fn an_unknown_without_effect_is_named() {
        let model = |p: &DVector<f64>| -> Result<DVector<f64>, ()> {
            Ok(DVector::from_fn(3, |i, _| p[0] - i as f64))
        };
        let found = solve(DVector::zeros(2), model);
        assert_eq!(found.err(), Some(NoSolution::Undetermined(1)));
    }
}
