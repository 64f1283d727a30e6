//! Banded matrices without symmetry, and their LU factors.
//!
//! Coulomb friction makes the tangent of a sliding contact unsymmetric: the friction force changes
//! with the normal force, the normal force does not change with the friction. The coupling stays
//! among the unknowns of one edge, so that the band is that of the symmetric matrix.

use super::banded::Banded;
use crate::contact::Coupling;

/// A matrix of half-bandwidth `W - 1` to both sides, replaced by its factors `L U`.
///
/// There is no pivoting: rows that change places would widen the band. The symmetric part of a
/// tangent at a stable equilibrium is positive definite, and such a matrix needs none (Golub and Van
/// Loan, *Matrix Computations*, 4th ed. 2013, section 4.1.2); where a pivot is not positive the
/// factorisation is refused.
#[derive(Debug, Clone)]
pub struct Lu<const W: usize = 11> {
    /// The matrix while it is put together and eliminated: row after row, each from the column `W - 1`
    /// before its diagonal entry on, [`Lu::ROW`] entries apart; what would stand outside of the matrix is 0.
    rows: Vec<f64>,
    /// Column `j` of `L`: the inverse of the pivot, and the entries below it in rows `j + 1` to
    /// `j + W - 1`.
    lower: Vec<[f64; W]>,
    /// Row `i` of `U`: the pivot, and the entries in columns `i + 1` to `i + W - 1`.
    upper: Vec<[f64; W]>,
}

impl<const W: usize> Lu<W> {
    /// Entries of [`Lu::rows`] from one row to the next: `2 W - 1`, and one that is not used.
    const ROW: usize = 2 * W;

    /// Factors of a matrix without rows.
    #[must_use]
    pub fn empty() -> Self {
        Self {
            rows: Vec::new(),
            lower: Vec::new(),
            upper: Vec::new(),
        }
    }

    /// Factorises the symmetric `matrix` plus `couplings`, without the unknowns `fixed`, which keep the
    /// value of the right-hand side over `scale`.
    ///
    /// Returns false, leaving the factors unusable, when a pivot is not above `1e-13` of the largest
    /// diagonal entry.
    pub fn factorise<'c>(
        &mut self,
        matrix: &Banded<W>,
        couplings: impl Iterator<Item = &'c Coupling>,
        fixed: &[usize],
        scale: f64,
    ) -> bool {
        self.factorise_with(matrix, couplings, std::iter::empty(), (fixed, scale))
    }

    /// The same with further entries: row, column and value each.
    pub(super) fn factorise_with<'c>(
        &mut self,
        matrix: &Banded<W>,
        couplings: impl Iterator<Item = &'c Coupling>,
        further: impl Iterator<Item = (usize, usize, f64)>,
        (fixed, scale): (&[usize], f64),
    ) -> bool {
        self.load(matrix);
        for coupling in couplings {
            coupling.for_each_entry(|row, column, value| self.add(row, column, value));
        }
        for (row, column, value) in further {
            self.add(row, column, value);
        }
        for &i in fixed {
            self.fix(i, scale);
        }
        self.eliminate(1e-13 * matrix.largest_diagonal())
    }

    /// Number of rows.
    pub(super) fn size(&self) -> usize {
        self.lower.len()
    }

    /// Place of the entry in `row` and `column`, which lies in the band.
    fn at(row: usize, column: usize) -> usize {
        Self::ROW * row + (W - 1) + column - row
    }

    fn load(&mut self, matrix: &Banded<W>) {
        let columns = matrix.columns_of_lower();
        // Below the last row of the matrix stand rows of zeros, of which nothing is ever read.
        self.rows.clear();
        self.rows.resize(Self::ROW * (columns.len() + W - 1), 0.0);
        for (j, column) in columns.iter().enumerate() {
            let diagonal = Self::at(j, j);
            self.rows[diagonal..diagonal + W].copy_from_slice(column);
            let below = &mut self.rows[diagonal..][..(W - 1) * (Self::ROW - 1) + 1];
            for k in 1..W {
                below[k * (Self::ROW - 1)] = column[k];
            }
        }
    }

    fn add(&mut self, row: usize, column: usize, value: f64) {
        self.rows[Self::at(row, column)] += value;
    }

    /// Takes unknown `i` out of the system.
    fn fix(&mut self, i: usize, scale: f64) {
        self.rows[Self::ROW * i..][..Self::ROW].fill(0.0);
        let rows = self.rows.len() / Self::ROW;
        for j in i.saturating_sub(W - 1)..rows.min(i + W) {
            self.rows[Self::at(j, i)] = 0.0;
        }
        self.rows[Self::at(i, i)] = scale;
    }

    /// Replaces the matrix by its factors, two pivots at a time: each row below is read and written once for
    /// both, and by whole vectors of the processor.
    fn eliminate(&mut self, floor: f64) -> bool {
        let n = self.rows.len() / Self::ROW - (W - 1);
        self.lower.clear();
        self.upper.clear();
        for j in (0..n - n % 2).step_by(2) {
            if !self.eliminate_two(j, floor) {
                return false;
            }
        }
        n.is_multiple_of(2) || self.eliminate_last(n - 1, floor)
    }

    /// Takes rows `j` and `j + 1` off the rows below them.
    fn eliminate_two(&mut self, j: usize, floor: f64) -> bool {
        let (above, below) = self.rows.split_at_mut(Self::ROW * (j + 2));
        let (first, second) = above[Self::ROW * j..].split_at_mut(Self::ROW);
        let Some(&first) = first[W - 1..].first_chunk::<W>() else {
            return false;
        };
        let Some(inverse) = inverse_of(first[0], floor) else {
            return false;
        };
        let mut column = [inverse; W];
        let entries = &mut second[W - 2..][..W];
        column[1] = entries[0] * inverse;
        for k in 1..W {
            entries[k] -= column[1] * first[k];
        }
        let Some(&second) = second[W - 1..].first_chunk::<W>() else {
            return false;
        };
        let Some(inverse) = inverse_of(second[0], floor) else {
            return false;
        };
        let mut next = [inverse; W];
        // The first row from column `j + 2` on; it ends one column before the second.
        let mut ahead = [0.0; W];
        ahead[..W - 2].copy_from_slice(&first[2..]);
        for k in 2..=W {
            let row = &mut below[Self::ROW * (k - 2)..][..Self::ROW];
            let mut factor = 0.0;
            if k < W {
                factor = row[W - 1 - k] * column[0];
                column[k] = factor;
            }
            let entries = &mut row[W - k..][..W];
            entries[0] -= factor * first[1];
            let further = entries[0] * inverse;
            next[k - 1] = further;
            for i in 1..W {
                entries[i] = entries[i] - factor * ahead[i - 1] - further * second[i];
            }
        }
        self.lower.push(column);
        self.lower.push(next);
        self.upper.push(first);
        self.upper.push(second);
        true
    }

    /// Takes the last row out, below which nothing stands.
    fn eliminate_last(&mut self, j: usize, floor: f64) -> bool {
        let Some(&row) = self.rows[Self::at(j, j)..].first_chunk::<W>() else {
            return false;
        };
        let Some(inverse) = inverse_of(row[0], floor) else {
            return false;
        };
        let mut column = [0.0; W];
        column[0] = inverse;
        self.lower.push(column);
        self.upper.push(row);
        true
    }

    /// Solves for `K` right-hand sides side by side, in place: row by row, so that each entry of the factors
    /// is read once for all of them.
    pub(super) fn solve_side_by_side<const K: usize>(&self, b: &mut [[f64; K]]) {
        let n = self.lower.len();
        // What stands above the first entry stays 0.
        let is_empty = |row: &[f64; K]| row.iter().all(|value| *value == 0.0);
        let first = b.iter().take_while(|row| is_empty(row)).count();
        for j in first..n {
            let rows = &mut b[j..n.min(j + W)];
            let value = rows[0];
            let entries = &self.lower[j][..rows.len()];
            for i in 1..rows.len() {
                for k in 0..K {
                    rows[i][k] -= entries[i] * value[k];
                }
            }
        }
        for j in (0..n).rev() {
            let rows = &mut b[j..n.min(j + W)];
            let mut value = rows[0];
            let entries = &self.upper[j][..rows.len()];
            for i in 1..rows.len() {
                for k in 0..K {
                    value[k] -= entries[i] * rows[i][k];
                }
            }
            for k in 0..K {
                rows[0][k] = value[k] * self.lower[j][0];
            }
        }
    }

    /// Solves for the right-hand side `b`, in place.
    ///
    /// What is still to be taken off the next rows is kept apart from `b`, and two rows are done at a time:
    /// so it moves on by whole vectors of the processor, and none is read that was half written just before.
    pub fn solve(&self, b: &mut [f64]) {
        let mut pending = [0.0; W];
        let n = b.len();
        for pair in 0..n / 2 {
            let columns = &self.lower[2 * pair..][..2];
            let (first, second) = (&columns[0], &columns[1]);
            let values = &mut b[2 * pair..][..2];
            values[0] -= pending[0];
            values[1] -= pending[1] + first[1] * values[0];
            for k in 0..W - 2 {
                pending[k] = pending[k + 2] + first[k + 2] * values[0] + second[k + 1] * values[1];
            }
            pending[W - 2] = second[W - 1] * values[1];
        }
        if !n.is_multiple_of(2) {
            b[n - 1] -= pending[0];
        }
        let mut last = 0.0;
        for j in (0..n).rev() {
            let row = &self.upper[j];
            let behind = &b[j + 1..n.min(j + W)];
            let mut sum = 0.0;
            for k in (1..behind.len()).rev() {
                sum += row[k + 1] * behind[k];
            }
            // The row that was found last comes last: the others need not wait for it.
            last = (b[j] - (sum + row[1] * last)) * self.lower[j][0];
            b[j] = last;
        }
    }
}

/// The inverse of a pivot, unless it is not above a floor.
fn inverse_of(pivot: f64, floor: f64) -> Option<f64> {
    (pivot > floor && pivot.is_finite()).then(|| 1.0 / pivot)
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector, Vector3};

    #[test]
    fn a_solution_agrees_with_a_dense_library_solver() {
        let n = 43;
        let mut matrix: Banded = Banded::empty();
        matrix.reset(n);
        for j in 0..n {
            for i in j..n.min(j + 11) {
                let value = ((3 * i + 7 * j) as f64).sin();
                matrix.add(i, j, if i == j { 12.0 + value } else { value });
            }
        }
        let coupling = Coupling {
            first: 8,
            apart: 4,
            share: [0.3, 0.7],
            force: Vector3::new(0.5, -1.0, 2.0) * Vector3::new(1.5, 1.0, -0.5).transpose(),
            spin: (3, Vector3::new(0.6, 0.4, -0.2)),
        };
        let mut dense = DMatrix::from_fn(n, n, |i, j| matrix.get(i, j));
        coupling.for_each_entry(|i, j, value| dense[(i, j)] += value);
        assert!((&dense - dense.transpose()).norm() > 1.0, "unsymmetric");
        let b = DVector::from_fn(n, |i, _| (i as f64).cos());
        let expected = dense.lu().solve(&b).expect("well conditioned");
        let mut lu = Lu::empty();
        assert!(lu.factorise(&matrix, std::iter::once(&coupling), &[], 1.0));
        let mut x = b.as_slice().to_vec();
        lu.solve(&mut x);
        let mut both: Vec<_> = b.iter().map(|b| [*b, -2.0 * b]).collect();
        lu.solve_side_by_side(&mut both);
        for i in 0..n {
            for found in [x[i], both[i][0], -0.5 * both[i][1]] {
                let close = 1e-11;
                approx::assert_relative_eq!(
                    found,
                    expected[i],
                    epsilon = 1e-13,
                    max_relative = close
                );
            }
        }
    }

    #[test]
    fn a_matrix_with_a_negative_pivot_is_refused() {
        let mut matrix: Banded = Banded::empty();
        matrix.reset(5);
        for i in 0..5 {
            matrix.add(i, i, if i == 3 { -1.0 } else { 1.0 });
        }
        let mut lu = Lu::empty();
        assert!(!lu.factorise(&matrix, std::iter::empty(), &[], 1.0));
        assert!(lu.factorise(&matrix, std::iter::empty(), &[3], 1.0));
    }
}
