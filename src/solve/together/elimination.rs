//! Elimination of a small full matrix that is not symmetric.

use nalgebra::{DMatrix, DVector};

/// Smallest pivot over the largest diagonal entry.
const FLOOR: f64 = 1e-13;

/// Replaces a matrix by its factors `L U` without pivoting; false where a pivot is not positive.
pub(super) fn eliminate(matrix: &mut DMatrix<f64>) -> bool {
    let n = matrix.nrows();
    let floor = FLOOR * matrix.diagonal().iter().copied().fold(0.0, f64::max);
    for k in 0..n {
        let pivot = matrix[(k, k)];
        if !(pivot > floor && pivot.is_finite()) {
            return false;
        }
        for i in k + 1..n {
            matrix[(i, k)] /= pivot;
        }
        for j in k + 1..n {
            let above = matrix[(k, j)];
            for i in k + 1..n {
                matrix[(i, j)] -= matrix[(i, k)] * above;
            }
        }
    }
    true
}

/// Replaces the right-hand side by the solution, with the factors of [`eliminate`].
pub(super) fn solve_eliminated(factors: &DMatrix<f64>, x: &mut DVector<f64>) {
    let n = factors.nrows();
    for j in 0..n {
        for i in j + 1..n {
            x[i] -= factors[(i, j)] * x[j];
        }
    }
    for j in (0..n).rev() {
        x[j] /= factors[(j, j)];
        for i in 0..j {
            x[i] -= factors[(i, j)] * x[j];
        }
    }
}
