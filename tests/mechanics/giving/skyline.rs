//! Matrices whose columns reach up by different lengths, and their LU factors.
//!
//! A wire's unknowns are coupled within a narrow band, those of a vessel that gives way with all the
//! wire that touches it there. In a common order along the vessel each column has a height of its own,
//! and nothing is filled above it.

/// A matrix with a symmetric pattern and values without symmetry, replaced by its factors `L U`.
///
/// There is no pivoting, as in the banded solver: where a pivot is next to nothing the factorisation is
/// refused.
///
/// Source: active column solution, Bathe, *Finite Element Procedures*, 1996, section 8.2 (from memory).
#[derive(Debug, Clone, Default)]
pub struct Skyline {
    /// First row of each column, and first column of each row.
    first: Vec<usize>,
    /// Where each column begins in `upper`, and each row in `lower`; one more than columns.
    start: Vec<usize>,
    /// Column `j`: rows `first[j]` to `j - 1`.
    upper: Vec<f64>,
    /// Row `i`: columns `first[i]` to `i - 1`.
    lower: Vec<f64>,
    diagonal: Vec<f64>,
}

impl Skyline {
    /// A matrix of zeros whose column `j` (and row `j`) begins at `first[j] <= j`.
    pub fn reset(&mut self, first: &[usize]) {
        let n = first.len();
        self.first.clear();
        self.first.extend_from_slice(first);
        self.start.clear();
        let mut sum = 0;
        self.start.push(0);
        for (j, first) in first.iter().enumerate() {
            sum += j - first;
            self.start.push(sum);
        }
        for entries in [&mut self.upper, &mut self.lower] {
            entries.clear();
            entries.resize(sum, 0.0);
        }
        self.diagonal.clear();
        self.diagonal.resize(n, 0.0);
    }

    /// Number of rows.
    #[must_use]
    pub fn size(&self) -> usize {
        self.diagonal.len()
    }

    /// Adds to an entry within the pattern.
    #[inline]
    pub fn add(&mut self, row: usize, column: usize, value: f64) {
        use std::cmp::Ordering::{Equal, Greater, Less};
        match row.cmp(&column) {
            Equal => self.diagonal[row] += value,
            Less => self.upper[self.start[column] + row - self.first[column]] += value,
            Greater => self.lower[self.start[row] + column - self.first[row]] += value,
        }
    }

    /// Largest diagonal entry.
    #[must_use]
    pub fn largest_diagonal(&self) -> f64 {
        self.diagonal.iter().copied().fold(0.0, f64::max)
    }

    /// Replaces the matrix plus `shift` on its diagonal by its factors, which may have pivots of either sign.
    /// Returns false, leaving them unusable, when a pivot is not above `1e-13` of the largest diagonal entry
    /// in size.
    pub fn factorise(&mut self, shift: f64) -> bool {
        let floor = 1e-13 * self.largest_diagonal();
        for j in 0..self.size() {
            let first = self.first[j];
            let (before, own) = (self.start[j], self.start[j + 1]);
            let (done_u, rest_u) = self.upper.split_at_mut(before);
            let (done_l, rest_l) = self.lower.split_at_mut(before);
            let (column, row) = (&mut rest_u[..own - before], &mut rest_l[..own - before]);
            let mut pivot = self.diagonal[j] + shift;
            for i in first..j {
                let from = first.max(self.first[i]);
                let other = self.start[i] + from - self.first[i]..self.start[i + 1];
                let mine = from - first..i - first;
                column[i - first] -= dot(&done_l[other.clone()], &column[mine.clone()]);
                let below = row[i - first] - dot(&row[mine], &done_u[other]);
                row[i - first] = below * self.diagonal[i];
                pivot -= row[i - first] * column[i - first];
            }
            if !(pivot.abs() > floor && pivot.is_finite()) {
                return false;
            }
            self.diagonal[j] = 1.0 / pivot;
        }
        true
    }

    /// Replaces the right-hand side `x` by the solution, with the factors made last.
    pub fn solve(&self, x: &mut [f64]) {
        let n = self.size();
        for i in 0..n {
            let first = self.first[i];
            x[i] -= dot(&self.lower[self.start[i]..self.start[i + 1]], &x[first..i]);
        }
        for j in (0..n).rev() {
            let value = x[j] * self.diagonal[j];
            x[j] = value;
            let column = &self.upper[self.start[j]..self.start[j + 1]];
            for (x, entry) in x[self.first[j]..j].iter_mut().zip(column) {
                *x -= entry * value;
            }
        }
    }
}

/// Sum of the products, in four sums side by side.
#[inline]
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut sums = [0.0; 4];
    let (a4, b4) = (a.chunks_exact(4), b.chunks_exact(4));
    let rest: f64 = a4
        .remainder()
        .iter()
        .zip(b4.remainder())
        .map(|(a, b)| a * b)
        .sum();
    for (a, b) in a4.zip(b4) {
        for k in 0..4 {
            sums[k] += a[k] * b[k];
        }
    }
    (sums[0] + sums[1]) + (sums[2] + sums[3]) + rest
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};

    #[test]
    fn solutions_are_those_of_a_dense_solver() {
        let n = 40;
        let first: Vec<usize> = (0..n)
            .map(|j: usize| j.saturating_sub(1 + (j * 7) % 13))
            .collect();
        let mut matrix = Skyline::default();
        matrix.reset(&first);
        let mut dense = DMatrix::zeros(n, n);
        for j in 0..n {
            for i in first[j]..=j {
                let wave = |k: usize| (1.7 * (k as f64)).sin();
                let (above, below) = (wave(i * 31 + j), wave(j * 17 + 3 * i));
                let mut put = |row: usize, column: usize, value: f64| {
                    matrix.add(row, column, value);
                    dense[(row, column)] += value;
                };
                if i == j {
                    put(i, j, 20.0 + above);
                } else {
                    put(i, j, above);
                    put(j, i, below);
                }
            }
        }
        let right: Vec<f64> = (0..n).map(|i| (0.3 * i as f64).cos()).collect();
        let expected = dense
            .lu()
            .solve(&DVector::from_vec(right.clone()))
            .expect("regular");
        assert!(matrix.factorise(0.0));
        let mut x = right;
        matrix.solve(&mut x);
        for (x, e) in x.iter().zip(expected.iter()) {
            approx::assert_relative_eq!(x, e, epsilon = 1e-12);
        }
        matrix.reset(&first);
        assert!(!matrix.factorise(0.0), "no pivot at all");
    }
}
