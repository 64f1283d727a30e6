//! A device and the axes of the vessel around it, solved together.
//!
//! A device touches few of the vessel's control vectors. The others are condensed: with `R` the tangent of
//! the device in a vessel that stands, `K` the stiffness of the axes, `C` and `D` what couples both, and `H`
//! what contacts add among the control vectors `u_a` that are touched,
//!
//! `R x + C u_a = b`, `K u + D x + H u_a = g`
//!
//! becomes `(F^-1 + H - D R^-1 C) u_a = F^-1 (K^-1 g)_a - D R^-1 b`, where `F` is the part of `K^-1` among
//! those that are touched. The factors of `K` stay as long as the stiffness does.
//!
//! Source: static condensation, Guyan 1965, AIAA J. 3:380 (from memory).

use std::collections::BTreeMap;
use std::sync::Arc;

use nalgebra::{DMatrix, DVector};

use super::banded::Banded;
use super::body::Body;
use super::giving::AxesFactor;
use super::lu::Lu;
use crate::contact::{Contact, HangingContact};

/// Smallest pivot over the largest diagonal entry.
const FLOOR: f64 = 1e-13;
/// Columns that are solved side by side.
const SIDE_BY_SIDE: usize = 8;

/// Memory of the solver for a device and a vessel.
#[derive(Debug, Clone)]
pub(super) struct Together<const W: usize> {
    /// Factors of `R`, and its entries: row, column, value.
    rod: Lu<W>,
    of_rod: Vec<(usize, usize, f64)>,
    /// Factors of `K`, and its answers to unit forces on the control vectors touched so far.
    axes: Arc<AxesFactor>,
    answers: BTreeMap<usize, [Vec<f64>; 3]>,
    /// Control vectors that are touched.
    touched: Vec<usize>,
    /// The control vectors whose stiffness is at hand.
    stiffness_of: Option<Vec<usize>>,
    /// `R^-1 C`, a column for each component of those, in blocks of [`SIDE_BY_SIDE`] columns.
    follows: Vec<Vec<[f64; SIDE_BY_SIDE]>>,
    /// Entries of `C` and `D`: component of a touched control vector, unknown of the device, value.
    of_axes: Vec<(usize, usize, f64)>,
    on_axes: Vec<(usize, usize, f64)>,
    /// `H`, with the shift of the diagonal.
    among: DMatrix<f64>,
    /// `F^-1`.
    stiffness: DMatrix<f64>,
    /// `F^-1 + H - D R^-1 C`, replaced by its factors `L U`.
    condensed: DMatrix<f64>,
}

impl<const W: usize> Together<W> {
    /// Nothing factorised.
    pub(super) fn empty() -> Self {
        Self {
            rod: Lu::empty(),
            of_rod: Vec::new(),
            axes: Arc::default(),
            answers: BTreeMap::new(),
            touched: Vec::new(),
            stiffness_of: None,
            follows: Vec::new(),
            of_axes: Vec::new(),
            on_axes: Vec::new(),
            among: DMatrix::zeros(0, 0),
            stiffness: DMatrix::zeros(0, 0),
            condensed: DMatrix::zeros(0, 0),
        }
    }

    /// Factorises the tangent at the state assembled last with `shift` on its diagonal, but for that of the
    /// axes that nothing touches; the friction's couplings count where they were built. Fixed unknowns keep
    /// the value of the right-hand side over `scale`. Returns false where a pivot is not positive.
    pub(super) fn factorise<const S: usize>(
        &mut self,
        body: &Body<'_, S>,
        banded: &Banded<W>,
        (shift, scale): (f64, f64),
    ) -> bool {
        let Some(giving) = &body.giving else {
            return false;
        };
        let n = body.rod.q.len();
        let couplings = body.contacts().flat_map(Contact::couplings);
        let shifts = (0..n).map(|i| (i, i, shift)).filter(|_| shift > 0.0);
        if !self
            .rod
            .factorise_with(banded, couplings, shifts, (&body.fixed, scale))
        {
            return false;
        }
        if !Arc::ptr_eq(&self.axes, giving.axes()) {
            self.axes = Arc::clone(giving.axes());
            self.answers.clear();
            self.stiffness_of = None;
        }
        let hanging = || body.contacts().flat_map(Contact::hanging);
        self.touched.clear();
        let controls = hanging().flat_map(|h| h.controls.iter().copied());
        self.touched
            .extend(controls.filter(|&j| !giving.is_kept(j)));
        self.touched.sort_unstable();
        self.touched.dedup();
        let size = 3 * self.touched.len();
        self.follows.resize(size.div_ceil(SIDE_BY_SIDE), Vec::new());
        for block in &mut self.follows {
            block.clear();
            block.resize(n, [0.0; SIDE_BY_SIDE]);
        }
        self.of_axes.clear();
        self.on_axes.clear();
        self.among = DMatrix::identity(size, size) * shift;
        let is_free = |row: usize| body.fixed.binary_search(&row).is_err();
        self.keep_rod(body, banded, (shift, scale), is_free);
        for contact in hanging() {
            self.add::<S>(contact, is_free);
        }
        for block in &mut self.follows {
            self.rod.solve_side_by_side(block);
        }
        self.condense()
    }

    /// Where the components of a touched control vector begin.
    fn place(&self, control: usize) -> Option<usize> {
        self.touched.binary_search(&control).ok().map(|at| 3 * at)
    }

    /// Keeps the entries of `R`.
    fn keep_rod<const S: usize>(
        &mut self,
        body: &Body<'_, S>,
        banded: &Banded<W>,
        (shift, scale): (f64, f64),
        is_free: impl Fn(usize) -> bool,
    ) {
        let entries = &mut self.of_rod;
        entries.clear();
        let columns = banded.columns_of_lower();
        for (j, column) in columns.iter().enumerate() {
            if !is_free(j) {
                entries.push((j, j, scale));
                continue;
            }
            entries.push((j, j, column[0] + shift));
            let below = (j + 1..columns.len()).zip(&column[1..]);
            for (i, value) in below.filter(|(i, _)| is_free(*i)) {
                entries.extend([(i, j, *value), (j, i, *value)]);
            }
        }
        for coupling in body.contacts().flat_map(Contact::couplings) {
            coupling.for_each_entry(|row, column, value| {
                if is_free(row) && is_free(column) {
                    entries.push((row, column, value));
                }
            });
        }
    }

    /// Adds an entry each to `C` and `D`.
    fn couple(&mut self, component: usize, unknown: usize, (of_axes, on_axes): (f64, f64)) {
        let block = &mut self.follows[component / SIDE_BY_SIDE];
        block[unknown][component % SIDE_BY_SIDE] += of_axes;
        self.of_axes.push((component, unknown, of_axes));
        self.on_axes.push((component, unknown, on_axes));
    }

    fn add<const S: usize>(&mut self, contact: &HangingContact, is_free: impl Fn(usize) -> bool) {
        let nodes = [contact.first, contact.first + S];
        let theta = contact.first + contact.spin;
        let m = contact.controls.len();
        for (k, &j) in contact.controls.iter().enumerate() {
            let Some(at) = self.place(j) else { continue };
            for (node, share) in nodes.into_iter().zip(contact.share) {
                for row in (0..3).filter(|r| is_free(node + r)) {
                    for c in 0..3 {
                        let of_point = share * contact.of_point[k][(row, c)];
                        let by_point = share * contact.by_point[k][(c, row)];
                        self.couple(at + c, node + row, (of_point, by_point));
                    }
                }
            }
            if is_free(theta) {
                for c in 0..3 {
                    let both = (contact.of_spin[k][c], contact.by_spin[k][c]);
                    self.couple(at + c, theta, both);
                }
            }
            for (l, &other) in contact.controls.iter().enumerate() {
                if let Some(to) = self.place(other) {
                    let mut block = self.among.fixed_view_mut::<3, 3>(at, to);
                    block += contact.among[k * m + l];
                }
            }
        }
    }

    /// The stiffness of the axes among what is touched; false where it has none.
    fn stiffen(&mut self) -> bool {
        if self.stiffness_of.as_ref() == Some(&self.touched) {
            return true;
        }
        let size = 3 * self.touched.len();
        let mut flexibility = DMatrix::zeros(size, size);
        for (at, &j) in self.touched.iter().enumerate() {
            let axes = &self.axes;
            let answers = self.answers.entry(j).or_insert_with(|| axes.answers(j));
            for (c, answer) in answers.iter().enumerate() {
                for (to, &other) in self.touched.iter().enumerate() {
                    for row in 0..3 {
                        flexibility[(3 * to + row, 3 * at + c)] = answer[3 * other + row];
                    }
                }
            }
        }
        let Some(stiffness) = flexibility.try_inverse() else {
            return false;
        };
        self.stiffness = stiffness;
        self.stiffness_of = Some(self.touched.clone());
        true
    }

    /// Condenses the axes to what is touched; false where a pivot is not positive.
    fn condense(&mut self) -> bool {
        if !self.stiffen() {
            return false;
        }
        let size = 3 * self.touched.len();
        self.condensed = &self.stiffness + &self.among;
        for (number, block) in self.follows.iter().enumerate() {
            let first = SIDE_BY_SIDE * number;
            let columns = SIDE_BY_SIDE.min(size - first);
            let mut sums = vec![[0.0; SIDE_BY_SIDE]; size];
            for &(row, unknown, value) in &self.on_axes {
                for (sum, follows) in sums[row].iter_mut().zip(&block[unknown]) {
                    *sum += value * follows;
                }
            }
            for (row, sums) in sums.iter().enumerate() {
                for (column, sum) in sums[..columns].iter().enumerate() {
                    self.condensed[(row, first + column)] -= sum;
                }
            }
        }
        eliminate(&mut self.condensed)
    }

    /// Replaces the right-hand side by the solution: the unknowns of the device, and behind them the control
    /// vectors, component by component.
    ///
    /// What is stiff along the axes loses digits in `F` and its inverse; a second solution for what the
    /// first one leaves over brings them back.
    pub(super) fn solve(&self, x: &mut [f64]) {
        let mut left = x.to_vec();
        self.solve_roughly(x);
        self.subtract_image(x, &mut left);
        self.solve_roughly(&mut left);
        for (x, left) in x.iter_mut().zip(left) {
            *x += left;
        }
    }

    /// Subtracts from `b` what the matrix makes of `x`.
    fn subtract_image(&self, x: &[f64], b: &mut [f64]) {
        let (rod, axes) = x.split_at(self.rod.size());
        let (b_rod, b_axes) = b.split_at_mut(self.rod.size());
        for &(row, column, value) in &self.of_rod {
            b_rod[row] -= value * rod[column];
        }
        let moved = self.touched_of(axes);
        for &(component, unknown, value) in &self.of_axes {
            b_rod[unknown] -= value * moved[component];
        }
        let mut force = &self.among * &moved;
        for &(component, unknown, value) in &self.on_axes {
            force[component] += value * rod[unknown];
        }
        for (at, &j) in self.touched.iter().enumerate() {
            for c in 0..3 {
                b_axes[3 * j + c] -= force[3 * at + c];
            }
        }
        self.axes.subtract_image(axes, b_axes);
    }

    /// The components of the control vectors that are touched, out of those of all.
    fn touched_of(&self, axes: &[f64]) -> DVector<f64> {
        let entries = self.touched.iter().flat_map(|&j| &axes[3 * j..3 * j + 3]);
        DVector::from_iterator(3 * self.touched.len(), entries.copied())
    }

    fn solve_roughly(&self, x: &mut [f64]) {
        let (rod, axes) = x.split_at_mut(self.rod.size());
        self.rod.solve(rod);
        let mut alone = axes.to_vec();
        self.axes.solve(&mut alone);
        let mut moved = &self.stiffness * self.touched_of(&alone);
        for &(row, unknown, value) in &self.on_axes {
            moved[row] -= value * rod[unknown];
        }
        solve_eliminated(&self.condensed, &mut moved);
        for (block, by) in self
            .follows
            .iter()
            .zip(moved.as_slice().chunks(SIDE_BY_SIDE))
        {
            for (x, follows) in rod.iter_mut().zip(block) {
                *x -= follows.iter().zip(by).map(|(a, b)| a * b).sum::<f64>();
            }
        }
        let mut force = &self.among * -&moved;
        for &(row, unknown, value) in &self.on_axes {
            force[row] -= value * rod[unknown];
        }
        for (at, &j) in self.touched.iter().enumerate() {
            for c in 0..3 {
                axes[3 * j + c] += force[3 * at + c];
            }
        }
        self.axes.solve(axes);
    }
}

/// Replaces a matrix by its factors `L U` without pivoting; false where a pivot is not positive.
fn eliminate(matrix: &mut DMatrix<f64>) -> bool {
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
fn solve_eliminated(factors: &DMatrix<f64>, x: &mut DVector<f64>) {
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
