//! Symmetric banded matrices and their factorisation.

use crate::rod::HessianSink;

/// A symmetric matrix of half-bandwidth `W - 1`: column `j` holds the entries of rows `j` to
/// `j + W - 1`. A hinge of one device couples 11 consecutive unknowns, of two 13.
#[derive(Debug, Clone)]
pub struct Banded<const W: usize = 11> {
    columns: Vec<[f64; W]>,
}

/// Of one device; see [`Banded::empty`] for others.
impl Default for Banded {
    fn default() -> Self {
        Self::empty()
    }
}

impl<const W: usize> Banded<W> {
    /// A matrix without rows.
    #[must_use]
    pub fn empty() -> Self {
        Self {
            columns: Vec::new(),
        }
    }

    /// Sets the size to `n` and every entry to zero, keeping the memory.
    pub fn reset(&mut self, n: usize) {
        self.columns.clear();
        self.columns.resize(n, [0.0; W]);
    }

    /// Number of rows.
    #[must_use]
    pub fn size(&self) -> usize {
        self.columns.len()
    }

    /// The columns of the lower triangle.
    pub(super) fn columns_of_lower(&self) -> &[[f64; W]] {
        &self.columns
    }

    /// Entry at row `i`, column `j`.
    #[must_use]
    pub fn get(&self, i: usize, j: usize) -> f64 {
        let (row, column) = if i >= j { (i, j) } else { (j, i) };
        if row - column >= W {
            0.0
        } else {
            self.columns[column][row - column]
        }
    }

    /// Adds to the entry at row `i`, column `j`, with `j <= i < j + W`.
    pub fn add(&mut self, i: usize, j: usize, value: f64) {
        self.columns[j][i - j] += value;
    }

    /// Largest diagonal entry.
    #[must_use]
    pub fn largest_diagonal(&self) -> f64 {
        self.columns.iter().map(|c| c[0]).fold(0.0, f64::max)
    }

    /// Takes unknown `i` out of the system: its row and column become those of the identity
    /// times `scale`.
    pub fn fix(&mut self, i: usize, scale: f64) {
        self.columns[i] = [0.0; W];
        self.columns[i][0] = scale;
        for j in i.saturating_sub(W - 1)..i {
            self.columns[j][i - j] = 0.0;
        }
    }

    /// Cholesky factorisation in the form `L D Lᵀ` of this matrix plus `shift` on its diagonal,
    /// written to `factor`.
    ///
    /// Returns false, leaving `factor` unusable, when a pivot is not above `1e-13` of the largest
    /// diagonal entry: the matrix is not positive definite.
    /// Source: Golub and Van Loan, Matrix Computations, section 4.3 (banded Cholesky).
    pub fn factorise(&self, shift: f64, factor: &mut Factor<W>) -> bool {
        let n = self.size();
        let floor = 1e-13 * self.largest_diagonal();
        let l = &mut factor.columns;
        l.clear();
        l.reserve(n + W - 1);
        l.extend_from_slice(&self.columns);
        l.resize(n + W - 1, [0.0; W]);
        for j in 0..n {
            let mut column = l[j];
            let pivot = column[0] + shift;
            if !(pivot > floor && pivot.is_finite()) {
                return false;
            }
            let inverse = 1.0 / pivot;
            let unscaled = column;
            for entry in &mut column[1..] {
                *entry *= inverse;
            }
            column[0] = inverse;
            l[j] = column;
            for i in 1..W {
                let factor = column[i];
                let target = &mut l[j + i];
                for k in i..W {
                    target[k - i] -= factor * unscaled[k];
                }
            }
        }
        l.truncate(n);
        true
    }
}

#[cfg(test)]
impl<const W: usize> Banded<W> {
    /// The quadratic form `xᵀ A x`.
    pub(super) fn quadratic_form(&self, x: &[f64]) -> f64 {
        let of_column = |j: usize| -> f64 {
            let below = j + 1..self.size().min(j + W);
            let twice: f64 = below.map(|i| 2.0 * self.get(i, j) * x[i]).sum();
            x[j] * (self.get(j, j) * x[j] + twice)
        };
        (0..self.size()).map(of_column).sum()
    }
}

/// The factors of a [`Banded`] matrix.
#[derive(Debug, Clone)]
pub struct Factor<const W: usize = 11> {
    columns: Vec<[f64; W]>,
}

/// Of one device; see [`Factor::empty`] for others.
impl Default for Factor {
    fn default() -> Self {
        Self::empty()
    }
}

impl<const W: usize> Factor<W> {
    /// Factors of a matrix without rows.
    #[must_use]
    pub fn empty() -> Self {
        Self {
            columns: Vec::new(),
        }
    }

    /// Number of rows.
    #[must_use]
    pub fn size(&self) -> usize {
        self.columns.len()
    }

    /// Solves for the right-hand side `b`, in place.
    pub fn solve(&self, b: &mut [f64]) {
        self.solve_lower(0, b);
        self.solve_upper(b);
    }

    /// Product of one right-hand side with the solution for another, from what the lower triangle has
    /// made of both; `a` and `b` hold their last rows, in front of which one of them is zero.
    pub(super) fn between(&self, a: &[f64], b: &[f64]) -> f64 {
        let first = self.columns.len() - a.len();
        let pairs = a.iter().zip(b).zip(&self.columns[first..]);
        pairs.map(|((a, b), column)| a * column[0] * b).sum()
    }

    /// First half of a solution, in place: the unit lower triangle. `b` holds the rows from `first`
    /// on, in front of which the right-hand side is zero.
    ///
    /// What is still to be taken off the next rows is kept apart from `b`: reading back at once what
    /// was just written there would take longer than the arithmetic.
    pub(super) fn solve_lower(&self, first: usize, b: &mut [f64]) {
        let mut pending = [0.0; W];
        for (value, column) in b.iter_mut().zip(&self.columns[first..]) {
            *value -= pending[0];
            for k in 0..W - 1 {
                pending[k] = pending[k + 1] + column[k + 1] * *value;
            }
        }
    }

    /// Second half of a solution, in place: the diagonal and the upper triangle.
    pub(super) fn solve_upper(&self, b: &mut [f64]) {
        let n = b.len().min(self.columns.len());
        let mut last = 0.0;
        for j in (0..n).rev() {
            let column = &self.columns[j];
            let behind = &b[j + 1..n.min(j + W)];
            let mut sum = 0.0;
            for k in (1..behind.len()).rev() {
                sum += column[k + 1] * behind[k];
            }
            // The row that was found last comes last: the others need not wait for it.
            last = b[j] * column[0] - sum - column[1] * last;
            b[j] = last;
        }
    }
}

impl<const W: usize> HessianSink<W> for Banded<W> {
    #[inline]
    fn columns<const N: usize>(&mut self, start: usize) -> &mut [[f64; W]; N] {
        match self.columns[start..].first_chunk_mut() {
            Some(columns) => columns,
            None => panic!("columns {start} to {} of too few", start + N),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};

    fn example(n: usize) -> Banded {
        let mut a = Banded::default();
        a.reset(n);
        for j in 0..n {
            for i in j..n.min(j + 11) {
                let value = ((3 * i + 7 * j) as f64).sin();
                a.add(i, j, if i == j { 12.0 + value } else { value });
            }
        }
        a
    }

    #[test]
    fn a_solution_agrees_with_a_dense_library_solver() {
        let n = 57;
        let a = example(n);
        let dense = DMatrix::from_fn(n, n, |i, j| a.get(i, j));
        let b = DVector::from_fn(n, |i, _| (i as f64).cos());
        let expected = dense.lu().solve(&b).expect("well conditioned");
        let mut factor = Factor::default();
        assert!(a.factorise(0.0, &mut factor));
        let mut x = b.as_slice().to_vec();
        factor.solve(&mut x);
        for i in 0..n {
            approx::assert_relative_eq!(x[i], expected[i], epsilon = 1e-13, max_relative = 1e-11);
        }
    }

    #[test]
    fn an_indefinite_matrix_is_refused_and_a_shift_mends_it() {
        let mut a = example(30);
        a.add(12, 12, -40.0);
        let mut factor = Factor::default();
        assert!(!a.factorise(0.0, &mut factor));
        assert!(a.factorise(60.0, &mut factor));
    }
}
