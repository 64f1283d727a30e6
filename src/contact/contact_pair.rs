//! Two places on devices that press on each other: a spring between weighted sums of nodes, with
//! friction.

use nalgebra::{Matrix3, Vector3};

use super::friction::ActiveContact;
use crate::products::outer;
use crate::rod::HessianSink;

/// Unknowns on which one side of a contact pair depends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Side {
    /// First unknown of each node and the share of its position in the gap between the two places;
    /// the shares of one side add up to 1, those of the other to -1.
    pub nodes: [(usize, f64); 3],
    /// Unknown of the rotation there, and by how much it moves the surface against the other side's
    /// in mm/rad.
    pub spin: (usize, Vector3<f64>),
}

impl Side {
    /// Change of the gap in mm that the unknowns `x`, as a change, make on this side.
    fn gap(&self, x: &[f64], at: usize) -> Vector3<f64> {
        let mut sum = self.spin.1 * x[at + self.spin.0];
        for (first, share) in self.present() {
            sum += Vector3::from_fn(|c, _| x[at + first + c]) * share;
        }
        sum
    }

    fn present(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.nodes
            .iter()
            .copied()
            .filter(|(_, share)| share.abs() > 0.0)
    }

    /// Adds the generalised force that `force` in the gap exerts on this side's unknowns.
    fn pull(&self, force: &Vector3<f64>, at: usize, out: &mut [f64]) {
        for (first, share) in self.present() {
            for c in 0..3 {
                out[at + first + c] += share * force[c];
            }
        }
        out[at + self.spin.0] += self.spin.1.dot(force);
    }

    /// Adds this side's own second derivatives.
    fn add_own<const W: usize>(&self, matrix: &Matrix3<f64>, hessian: &mut impl HessianSink<W>) {
        let mut add = |row: usize, column: usize, value: f64| {
            let (high, low) = if row >= column {
                (row, column)
            } else {
                (column, row)
            };
            hessian.columns::<1>(low)[0][high - low] += value;
        };
        let (theta, spin) = self.spin;
        let along = matrix * spin;
        for (first, share) in self.present() {
            for c in 0..3 {
                add(first + c, theta, share * along[c]);
                for (other, also) in self.present().filter(|(other, _)| *other >= first) {
                    for r in (if other == first { c } else { 0 })..3 {
                        add(other + r, first + c, share * also * matrix[(r, c)]);
                    }
                }
            }
        }
        add(theta, theta, spin.dot(&along));
    }
}

/// A touch of two places with force and stiffness in the gap between them.
#[derive(Debug, Clone, Copy)]
pub struct ContactPair {
    /// The place that carries the contact point, and the one on which it presses.
    pub sides: [Side; 2],
    /// Normal and friction; the normal points to the contact point's axis.
    pub active: ActiveContact,
    force: Vector3<f64>,
    matrix: Matrix3<f64>,
    /// `mu t` where the touch slides in the direction `t`: friction force per normal force.
    sliding: Option<Vector3<f64>>,
}

impl ContactPair {
    /// The touch of two sides with normal and limit of `grip` at the gap's movement `u` (mm) in
    /// this step, for the Coulomb coefficient `friction`.
    pub(super) fn new(
        sides: [Side; 2],
        active: ActiveContact,
        friction: f64,
        u: &Vector3<f64>,
    ) -> Self {
        let mut force = active.normal * -active.normal_force;
        let mut matrix = outer(&active.normal, &active.normal) * active.normal_stiffness;
        let mut sliding = None;
        if active.limit > 0.0 {
            let s = active.displacement(u, 0.0);
            let (tangential, derivative) = active.force(&s);
            force += tangential;
            matrix += derivative;
            sliding = active.sliding(&s).map(|t| t * friction);
        }
        Self {
            sides,
            active,
            force,
            matrix,
            sliding,
        }
    }

    /// Adds to `out` what the change of the friction with the normal force makes of `x`, on both
    /// sides: the unsymmetric part of the tangent (see [`super::Coupling`]). Unknowns stand as in
    /// [`ContactPair::add_coupling`].
    pub(crate) fn add_sliding(&self, at: [usize; 2], x: &[f64], out: &mut [f64]) {
        let Some(friction) = self.sliding else {
            return;
        };
        let gap = self.sides[0].gap(x, at[0]) + self.sides[1].gap(x, at[1]);
        let pressed = -self.active.normal_stiffness * self.active.normal.dot(&gap);
        for (side, at) in self.sides.iter().zip(at) {
            side.pull(&(friction * pressed), at, out);
        }
    }

    /// Movement of the gap in mm between two sets of unknowns, given one after the other on each
    /// side as `change`.
    pub(super) fn moved(sides: &[Side; 2], change: [&[f64]; 2]) -> Vector3<f64> {
        sides[0].gap(change[0], 0) + sides[1].gap(change[1], 0)
    }

    /// Incremental potential of friction in mN mm at the gap's movement `u` in mm.
    pub(super) fn potential(&self, u: &Vector3<f64>) -> f64 {
        self.active.potential(&self.active.displacement(u, 0.0))
    }

    /// Elastic displacement kept for the next step at the gap's movement `u` in mm, and the energy
    /// lost to sliding in mN mm.
    pub(super) fn settle(&self, u: &Vector3<f64>) -> (Vector3<f64>, f64) {
        self.active.settle(&self.active.displacement(u, 0.0))
    }

    /// Friction force at the gap's movement `u` in mm over the Coulomb limit; 0 without friction.
    pub(super) fn share_of_coulomb(&self, friction: f64, u: &Vector3<f64>) -> f64 {
        self.active
            .share_of_coulomb(friction, &self.active.displacement(u, 0.0))
    }

    /// Adds the force on one side's unknowns to their gradient, and its own second derivatives.
    pub(super) fn add_side<const W: usize>(
        &self,
        side: usize,
        gradient: &mut [f64],
        hessian: &mut impl HessianSink<W>,
    ) {
        self.sides[side].pull(&self.force, 0, gradient);
        self.sides[side].add_own(&self.matrix, hessian);
    }

    /// Adds to `out` what the coupling of the two sides makes of `x`: the product with the part of
    /// the second derivatives between the unknowns of the one and of the other. The unknowns of the
    /// sides stand from the places `at` on.
    pub fn add_coupling(&self, at: [usize; 2], x: &[f64], out: &mut [f64]) {
        for (own, other) in [(0, 1), (1, 0)] {
            let gap = self.sides[other].gap(x, at[other]);
            self.sides[own].pull(&(self.matrix * gap), at[own], out);
        }
    }
}
