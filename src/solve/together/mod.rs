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

mod elimination;
mod touch;

use std::collections::BTreeMap;
use std::sync::Arc;

use nalgebra::{DMatrix, DVector, Matrix3, Matrix3x4, Matrix4x3, Vector4};

use self::elimination::{eliminate, solve_eliminated};
use self::touch::{Between, Touch};
use super::axes_factor::AxesFactor;
use super::banded::Banded;
use super::body::Body;
use super::lu::Lu;
use crate::contact::{Contact, Coupling, HangingContact};

/// Columns that are solved side by side.
const SIDE_BY_SIDE: usize = 8;

/// Memory of the solver for a device and a vessel.
#[derive(Debug, Clone)]
pub(super) struct Together<const W: usize> {
    /// Factors of `R`.
    rod: Lu<W>,
    /// `R` itself: the symmetric part, the friction's couplings, what is added on the diagonal, the unknowns that
    /// are fixed and what stands on the diagonal for them.
    of_rod: Banded<W>,
    couplings: Vec<Coupling>,
    shift: f64,
    fixed: Vec<usize>,
    scale: f64,
    /// Factors of `K`, and its answers to unit forces on the control vectors touched so far.
    axes: Arc<AxesFactor>,
    answers: BTreeMap<usize, Vec<Matrix3<f64>>>,
    /// Control vectors that are touched.
    touched: Vec<usize>,
    /// The control vectors whose stiffness is at hand.
    stiffness_of: Option<Vec<usize>>,
    /// The contacts. `C` and `D` are the sums of what each brings between its point and the control vectors, of
    /// which the place of the point makes unknowns of the device.
    touches: Vec<Touch>,
    between: Vec<Between>,
    /// `R^-1 C`, a column for each component of those, in blocks of [`SIDE_BY_SIDE`] columns.
    follows: Vec<Vec<[f64; SIDE_BY_SIDE]>>,
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
            of_rod: Banded::empty(),
            couplings: Vec::new(),
            shift: 0.0,
            fixed: Vec::new(),
            scale: 1.0,
            axes: Arc::default(),
            answers: BTreeMap::new(),
            touched: Vec::new(),
            stiffness_of: None,
            follows: Vec::new(),
            touches: Vec::new(),
            between: Vec::new(),
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
        self.of_rod.clone_from(banded);
        self.couplings.clear();
        let couplings = body.contacts().flat_map(Contact::couplings);
        self.couplings.extend(couplings.copied());
        self.fixed.clone_from(&body.fixed);
        (self.shift, self.scale) = (shift, scale);
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
        self.among = DMatrix::identity(size, size) * shift;
        self.touches.clear();
        self.between.clear();
        let is_free = |row: usize| body.fixed.binary_search(&row).is_err();
        for contact in hanging() {
            self.add::<S>(contact, is_free);
        }
        self.load(n, size);
        for block in &mut self.follows {
            self.rod.solve_side_by_side(block);
        }
        self.condense()
    }

    /// Where the components of a touched control vector begin.
    fn place(&self, control: usize) -> Option<usize> {
        self.touched.binary_search(&control).ok().map(|at| 3 * at)
    }

    /// Adds what a contact brings.
    fn add<const S: usize>(&mut self, contact: &HangingContact, is_free: impl Fn(usize) -> bool) {
        let nodes = [contact.first, contact.first + S];
        let theta = contact.first + contact.spin;
        let m = contact.controls.len();
        let from = self.between.len();
        for (k, &j) in contact.controls.iter().enumerate() {
            let Some(at) = self.place(j) else { continue };
            let mut of_point = Matrix4x3::zeros();
            let mut on_axes = Matrix3x4::zeros();
            of_point
                .fixed_rows_mut::<3>(0)
                .copy_from(&contact.of_point[k]);
            of_point.set_row(3, &contact.of_spin[k].transpose());
            on_axes
                .fixed_columns_mut::<3>(0)
                .copy_from(&contact.by_point[k]);
            on_axes.set_column(3, &contact.by_spin[k]);
            self.between.push(Between {
                at,
                of_point,
                on_axes,
            });
            for (l, &other) in contact.controls.iter().enumerate() {
                if let Some(to) = self.place(other) {
                    let mut block = self.among.fixed_view_mut::<3, 3>(at, to);
                    block += contact.among[k * m + l];
                }
            }
        }
        if self.between.len() == from {
            return;
        }
        let free = |row: usize, share: f64| if is_free(row) { share } else { 0.0 };
        self.touches.push(Touch {
            nodes,
            share: [0, 1].map(|n| [0, 1, 2].map(|c| free(nodes[n] + c, contact.share[n]))),
            spin: (theta, free(theta, 1.0)),
            between: from..self.between.len(),
        });
    }

    /// Puts the columns of `C` into the blocks; the device has `n` unknowns, the control vectors that are touched
    /// have `size` components.
    fn load(&mut self, n: usize, size: usize) {
        let blocks = &mut self.follows;
        blocks.resize(size.div_ceil(SIDE_BY_SIDE), Vec::new());
        for block in &mut *blocks {
            block.clear();
            block.resize(n, [0.0; SIDE_BY_SIDE]);
        }
        let mut put = |unknown: usize, column: usize, value: f64| {
            blocks[column / SIDE_BY_SIDE][unknown][column % SIDE_BY_SIDE] += value;
        };
        for touch in &self.touches {
            for component in 0..4 {
                let rows: [(usize, f64); 2] = if component == 3 {
                    [touch.spin, (touch.spin.0, 0.0)]
                } else {
                    [0, 1].map(|n| (touch.nodes[n] + component, touch.share[n][component]))
                };
                for (unknown, share) in rows {
                    for between in &self.between[touch.between.clone()] {
                        for c in 0..3 {
                            let value = share * between.of_point[(component, c)];
                            put(unknown, between.at + c, value);
                        }
                    }
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
            for (to, &other) in self.touched.iter().enumerate() {
                let place = axes.place(other);
                let answer = place.map_or_else(Matrix3::zeros, |place| answers[place]);
                flexibility
                    .fixed_view_mut::<3, 3>(3 * to, 3 * at)
                    .copy_from(&answer);
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
        // Places and rotations of the points by the components of the control vectors.
        let mut places = DMatrix::zeros(4 * self.touches.len(), size);
        for (number, block) in self.follows.iter().enumerate() {
            let first = SIDE_BY_SIDE * number;
            let width = SIDE_BY_SIDE.min(size - first);
            for (t, touch) in self.touches.iter().enumerate() {
                for component in 0..4 {
                    let row = touch.of(component, block);
                    for (c, value) in row[..width].iter().enumerate() {
                        places[(4 * t + component, first + c)] = *value;
                    }
                }
            }
        }
        self.condensed = &self.stiffness + &self.among;
        for (t, touch) in self.touches.iter().enumerate() {
            for between in &self.between[touch.between.clone()] {
                for column in 0..size {
                    let of = places.fixed_view::<4, 1>(4 * t, column);
                    let force = between.on_axes * of;
                    for c in 0..3 {
                        self.condensed[(between.at + c, column)] -= force[c];
                    }
                }
            }
        }
        eliminate(&mut self.condensed)
    }

    /// Subtracts from the forces on the control vectors those of the device with the unknowns `rod`.
    fn subtract_press(&self, rod: &[f64], force: &mut DVector<f64>) {
        for touch in &self.touches {
            let place = touch.of_all(rod);
            for between in &self.between[touch.between.clone()] {
                let press = between.on_axes * place;
                for c in 0..3 {
                    force[between.at + c] -= press[c];
                }
            }
        }
    }

    /// Forces and moment on each point by the components of the control vectors.
    fn on_points(&self, moved: &DVector<f64>) -> Vec<f64> {
        let of = |touch: &Touch| {
            let parts = self.between[touch.between.clone()].iter();
            let force = parts.map(|b| b.of_point * moved.fixed_rows::<3>(b.at));
            let force: [f64; 4] = force.sum::<Vector4<f64>>().into();
            force
        };
        self.touches.iter().flat_map(of).collect()
    }

    /// The components of the control vectors that are touched, out of those of all.
    fn touched_of(&self, axes: &[f64]) -> DVector<f64> {
        let entries = self.touched.iter().flat_map(|&j| &axes[3 * j..3 * j + 3]);
        DVector::from_iterator(3 * self.touched.len(), entries.copied())
    }

    /// Replaces the right-hand side by the solution: the unknowns of the device, and behind them the control
    /// vectors, component by component.
    ///
    /// What is stiff along the axes or the device loses digits in what is soft; a second solution for what the
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
        let mut free = rod.to_vec();
        for &i in &self.fixed {
            free[i] = 0.0;
        }
        let mut image = vec![0.0; free.len()];
        for (j, column) in self.of_rod.columns_of_lower().iter().enumerate() {
            image[j] += (column[0] + self.shift) * free[j];
            let below = &column[1..W.min(free.len() - j)];
            for (k, value) in below.iter().enumerate() {
                image[j + 1 + k] += value * free[j];
                image[j] += value * free[j + 1 + k];
            }
        }
        for coupling in &self.couplings {
            coupling.for_each_entry(|row, column, value| image[row] += value * free[column]);
        }
        let moved = self.touched_of(axes);
        for (touch, force) in self.touches.iter().zip(self.on_points(&moved).chunks(4)) {
            for (node, share) in touch.nodes.into_iter().zip(touch.share) {
                for c in 0..3 {
                    image[node + c] += share[c] * force[c];
                }
            }
            image[touch.spin.0] += touch.spin.1 * force[3];
        }
        for &i in &self.fixed {
            image[i] = self.scale * rod[i];
        }
        for (b, image) in b_rod.iter_mut().zip(image) {
            *b -= image;
        }
        let mut force = &self.among * -&moved;
        self.subtract_press(rod, &mut force);
        for (at, &j) in self.touched.iter().enumerate() {
            for c in 0..3 {
                b_axes[3 * j + c] += force[3 * at + c];
            }
        }
        self.axes.subtract_image(axes, b_axes);
    }

    /// The same once.
    fn solve_roughly(&self, x: &mut [f64]) {
        let (rod, axes) = x.split_at_mut(self.rod.size());
        self.rod.solve(rod);
        let mut alone = axes.to_vec();
        self.axes.solve(&mut alone);
        let mut moved = &self.stiffness * self.touched_of(&alone);
        self.subtract_press(rod, &mut moved);
        solve_eliminated(&self.condensed, &mut moved);
        let parts = moved.as_slice().chunks(SIDE_BY_SIDE);
        for (block, by) in self.follows.iter().zip(parts) {
            for (x, follows) in rod.iter_mut().zip(block) {
                *x -= follows.iter().zip(by).map(|(a, b)| a * b).sum::<f64>();
            }
        }
        let mut force = &self.among * -&moved;
        self.subtract_press(rod, &mut force);
        for (at, &j) in self.touched.iter().enumerate() {
            for c in 0..3 {
                axes[3 * j + c] += force[3 * at + c];
            }
        }
        self.axes.solve(axes);
    }
}
