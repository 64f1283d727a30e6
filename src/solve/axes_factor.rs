//! The factorised stiffness of a vessel's axes.
//!
//! A control vector is coupled with three to either side along its branch and, where the branch begins,
//! with those of its parent. Branches are eliminated from their far ends, each before its parent: so nothing
//! is filled but what couples the beginnings of branches.
//!
//! Source: Davis, *Direct Methods for Sparse Linear Systems*, 2006, chapter 4 (from memory).

use nalgebra::{Matrix3, SMatrix, Vector3};

/// Smallest pivot over the largest diagonal entry.
const FLOOR: f64 = 1e-13;

/// The symmetric stiffness of the control vectors that are free as `L D Lᵀ` of blocks of three rows, eliminated
/// from the last to the first.
#[derive(Debug, Clone, Default)]
pub(super) struct AxesFactor {
    /// Place of each control vector among those that are free.
    places: Vec<Option<usize>>,
    /// The matrix itself: blocks on the diagonal, and above it in each block column.
    diagonal: Vec<Matrix3<f64>>,
    above: Vec<Column>,
    /// Factors of each block of `D`.
    pivots: Vec<Pivot>,
    /// Where the entries of each block column of `L` begin in `entries`; one more than columns.
    start: Vec<usize>,
    /// Row, which is above the column, and block.
    entries: Vec<(usize, Matrix3<f64>)>,
}

/// A symmetric block as `l d lᵀ` with a unit lower triangle `l`: what is stiff along the axis and what is soft
/// across it would be mixed by an inverse.
#[derive(Debug, Clone, Copy, Default)]
struct Pivot {
    /// Entries of `l`: second row, then third.
    l: [f64; 3],
    /// `1/d`.
    inverse: [f64; 3],
}

impl Pivot {
    /// The factors of a block whose pivots are above `floor` in size; `None` for another.
    fn of(block: &Matrix3<f64>, floor: f64) -> Option<Self> {
        let sound = |pivot: f64| pivot.abs() > floor && pivot.is_finite();
        let first = block[(0, 0)];
        let (l10, l20) = (block[(1, 0)] / first, block[(2, 0)] / first);
        let second = block[(1, 1)] - l10 * block[(1, 0)];
        let below = block[(2, 1)] - l20 * block[(1, 0)];
        let l21 = below / second;
        let third = block[(2, 2)] - l20 * block[(2, 0)] - l21 * below;
        (sound(first) && sound(second) && sound(third)).then(|| Self {
            l: [l10, l20, l21],
            inverse: [1.0 / first, 1.0 / second, 1.0 / third],
        })
    }

    /// The block's inverse times `x`.
    fn solve<const K: usize>(&self, mut x: SMatrix<f64, 3, K>) -> SMatrix<f64, 3, K> {
        let [l10, l20, l21] = self.l;
        for k in 0..K {
            let a = x[(0, k)];
            let b = x[(1, k)] - l10 * a;
            let c = (x[(2, k)] - l20 * a - l21 * b) * self.inverse[2];
            let b = b * self.inverse[1] - l21 * c;
            x[(0, k)] = a * self.inverse[0] - l10 * b - l20 * c;
            (x[(1, k)], x[(2, k)]) = (b, c);
        }
        x
    }
}

/// Blocks above the diagonal of one block column.
type Column = Vec<(usize, Matrix3<f64>)>;

/// The block of a column in a row, which is put there where none is.
fn entry(column: &mut Column, row: usize) -> &mut Matrix3<f64> {
    let at = column.iter().position(|(r, _)| *r == row);
    let at = at.unwrap_or_else(|| {
        column.push((row, Matrix3::zeros()));
        column.len() - 1
    });
    &mut column[at].1
}

impl AxesFactor {
    /// The factors of the sum of `blocks`: second derivatives by a control vector and one that is not before
    /// it, without those that are `kept`. It need not be positive definite: axes that are strongly compressed
    /// may be held by the device alone. Where it has no factors, as much is added on its diagonal as gives it
    /// some; only the tangent changes by that.
    pub(super) fn new(blocks: &[(usize, usize, Matrix3<f64>)], kept: &[bool]) -> Self {
        let mut size = 0;
        let place = |kept: &bool| {
            (!kept).then(|| {
                size += 1;
                size - 1
            })
        };
        let places: Vec<_> = kept.iter().map(place).collect();
        let mut diagonal = vec![Matrix3::zeros(); size];
        let mut columns = vec![Column::new(); size];
        for (i, j, block) in blocks {
            let (Some(row), Some(column)) = (places[*i], places[*j]) else {
                continue;
            };
            if row == column {
                diagonal[row] += block;
            } else {
                *entry(&mut columns[column], row) += block;
            }
        }
        let largest = diagonal.iter().flat_map(|d| [d[0], d[4], d[8]]);
        let largest = largest.fold(0.0, f64::max);
        let mut factor = Self {
            places,
            ..Self::default()
        };
        let mut shift = 0.0;
        loop {
            let shifted = diagonal.iter().map(|d| d + Matrix3::identity() * shift);
            let shifted: Vec<_> = shifted.collect();
            if factor.eliminate(shifted.clone(), columns.clone(), FLOOR * largest) {
                (factor.diagonal, factor.above) = (shifted, columns);
                return factor;
            }
            shift = (100.0 * shift).max(1e-9 * largest);
        }
    }

    /// Eliminates all columns; pivots may have either sign. False where one is not above `floor` in size.
    fn eliminate(
        &mut self,
        mut diagonal: Vec<Matrix3<f64>>,
        mut columns: Vec<Column>,
        floor: f64,
    ) -> bool {
        let size = diagonal.len();
        self.pivots.clear();
        self.pivots.resize(size, Pivot::default());
        for j in (0..size).rev() {
            let Some(pivot) = Pivot::of(&diagonal[j], floor) else {
                return false;
            };
            self.pivots[j] = pivot;
            let column = std::mem::take(&mut columns[j]);
            let over = |w: &Matrix3<f64>| pivot.solve(w.transpose()).transpose();
            let lower: Column = column.iter().map(|(i, w)| (*i, over(w))).collect();
            for (i, of_i) in &lower {
                for (k, w) in &column {
                    match k.cmp(i) {
                        std::cmp::Ordering::Less => {
                            *entry(&mut columns[*i], *k) -= w * of_i.transpose();
                        }
                        std::cmp::Ordering::Equal => diagonal[*i] -= of_i * w.transpose(),
                        std::cmp::Ordering::Greater => {}
                    }
                }
            }
            columns[j] = lower;
        }
        self.start.clear();
        self.entries.clear();
        for column in columns {
            self.start.push(self.entries.len());
            self.entries.extend(column);
        }
        self.start.push(self.entries.len());
        true
    }

    /// Place of a control vector among those that are free.
    pub(super) fn place(&self, control: usize) -> Option<usize> {
        self.places[control]
    }

    /// Replaces forces on the free control vectors by their displacements, `K` at a time.
    fn solve_free<const K: usize>(&self, x: &mut [SMatrix<f64, 3, K>]) {
        for j in (0..x.len()).rev() {
            let value = x[j];
            for (i, block) in &self.entries[self.start[j]..self.start[j + 1]] {
                x[*i] -= block * value;
            }
        }
        for j in 0..x.len() {
            let mut value = self.pivots[j].solve(x[j]);
            for (i, block) in &self.entries[self.start[j]..self.start[j + 1]] {
                value -= block.tr_mul(&x[*i]);
            }
            x[j] = value;
        }
    }

    /// Replaces forces on all control vectors, component by component, by their displacements; 0 for those
    /// that keep their values.
    pub(super) fn solve(&self, x: &mut [f64]) {
        let mut work = vec![Vector3::zeros(); self.pivots.len()];
        for (x, place) in x.chunks_exact(3).zip(&self.places) {
            if let Some(at) = *place {
                work[at] = Vector3::from_column_slice(x);
            }
        }
        self.solve_free(&mut work);
        for (x, place) in x.chunks_exact_mut(3).zip(&self.places) {
            match *place {
                Some(at) => x.copy_from_slice(work[at].as_slice()),
                None => x.fill(0.0),
            }
        }
    }

    /// Subtracts from `b` what the matrix makes of `x`, both on all control vectors, component by component;
    /// nothing from those that keep their values.
    pub(super) fn subtract_image(&self, x: &[f64], b: &mut [f64]) {
        let mut free = vec![Vector3::zeros(); self.pivots.len()];
        for (x, place) in x.chunks_exact(3).zip(&self.places) {
            if let Some(at) = *place {
                free[at] = Vector3::from_column_slice(x);
            }
        }
        let mut image: Vec<_> = self
            .diagonal
            .iter()
            .zip(&free)
            .map(|(d, x)| d * x)
            .collect();
        for (j, column) in self.above.iter().enumerate() {
            for (i, block) in column {
                image[*i] += block * free[j];
                image[j] += block.tr_mul(&free[*i]);
            }
        }
        for (b, place) in b.chunks_exact_mut(3).zip(&self.places) {
            if let Some(at) = *place {
                for c in 0..3 {
                    b[c] -= image[at][c];
                }
            }
        }
    }

    /// Displacements of the free control vectors (rows) by a unit force on each component of one.
    pub(super) fn answers(&self, control: usize) -> Vec<Matrix3<f64>> {
        let mut x = vec![Matrix3::zeros(); self.pivots.len()];
        if let Some(at) = self.places[control] {
            x[at] = Matrix3::identity();
        }
        self.solve_free(&mut x);
        x
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};

    /// Two chains, the second tied to the middle of the first, with some control vectors kept.
    #[test]
    fn solutions_are_those_of_a_dense_solver() {
        let n = 24;
        let kept: Vec<bool> = (0..n).map(|j| j < 3 || j == 12).collect();
        let wave = |k: usize| (1.7 * (k as f64)).sin();
        let mut blocks = Vec::new();
        let mut dense = DMatrix::zeros(3 * n, 3 * n);
        let chained = |i: usize, j: usize| j - i <= 3 && (i < 14) == (j < 14);
        let tied = |i: usize, j: usize| (6..10).contains(&i) && (14..18).contains(&j);
        for j in 0..n {
            for i in (0..=j).filter(|&i| chained(i, j) || tied(i, j)) {
                let mut block = Matrix3::from_fn(|r, c| wave(31 * i + 7 * j + 3 * r + c));
                if i == j {
                    block = (block + block.transpose()) * 0.5 + Matrix3::identity() * 12.0;
                }
                // In two parts, as stations bring them.
                blocks.extend([(i, j, block * 0.25), (i, j, block * 0.75)]);
                for r in 0..3 {
                    for c in 0..3 {
                        dense[(3 * i + r, 3 * j + c)] = block[(r, c)];
                        dense[(3 * j + c, 3 * i + r)] = block[(r, c)];
                    }
                }
            }
        }
        for i in (0..3 * n).filter(|i| kept[i / 3]) {
            dense.row_mut(i).fill(0.0);
            dense.column_mut(i).fill(0.0);
            dense[(i, i)] = 1.0;
        }
        let right: Vec<f64> = (0..3 * n).map(|i| (0.3 * i as f64).cos()).collect();
        let mut of_free = DVector::from_vec(right.clone());
        for i in (0..3 * n).filter(|i| kept[i / 3]) {
            of_free[i] = 0.0;
        }
        let inverse = dense.try_inverse().expect("regular");
        let expected = &inverse * of_free;
        let factor = AxesFactor::new(&blocks, &kept);
        let mut x = right.clone();
        factor.solve(&mut x);
        for (x, e) in x.iter().zip(expected.iter()) {
            approx::assert_relative_eq!(x, e, epsilon = 1e-12);
        }
        let mut left = right.clone();
        factor.subtract_image(&x, &mut left);
        for (i, left) in left.iter().enumerate() {
            let expected = if kept[i / 3] { right[i] } else { 0.0 };
            approx::assert_relative_eq!(*left, expected, epsilon = 1e-12);
        }
        let answers = factor.answers(15);
        for j in 0..n {
            let Some(at) = factor.place(j) else { continue };
            let expected = inverse.fixed_view::<3, 3>(3 * j, 45);
            approx::assert_relative_eq!(answers[at], expected.into_owned(), epsilon = 1e-12);
        }
    }

    #[test]
    fn what_nothing_holds_is_held_a_little() {
        let nothing = [(0, 0, Matrix3::from_diagonal(&Vector3::new(1.0, 0.0, 1.0)))];
        let factor = AxesFactor::new(&nothing, &[false]);
        let mut x = [1.0, 0.0, 1.0];
        factor.solve(&mut x);
        approx::assert_relative_eq!(x[0], 1.0, epsilon = 1e-6);
        assert!(x.iter().all(|x| x.is_finite()));
    }
}
