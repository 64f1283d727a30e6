//! Contacts with a wall that hangs on displacements of the vessel's axes.

use nalgebra::{Matrix3, Vector3};

use super::wall::Contact;
use crate::products::outer;
use crate::vessel::Hang;

/// How much further than a control vector the wall's material can go, which turns with the axis.
const LEVER: f64 = 1.5;

/// What a contact brings to the equilibrium of the vessel's axes, with all derivatives.
///
/// The contact sees the place of its point against the wall: with `C` how far the wall's material goes
/// with a control vector ([`Hang::carried`]), its friction and tangent depend on `p - sum C u`; the depth
/// has derivatives of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct HangingContact {
    /// First unknown of the edge's first node.
    pub first: usize,
    /// Shares of the edge's two nodes in the position of the contact point.
    pub share: [f64; 2],
    /// Place of the rotation behind the first node's first unknown.
    pub spin: usize,
    /// Numbers of the control vectors.
    pub controls: Vec<usize>,
    /// Gradient by each control vector in mN.
    pub force: Vec<Vector3<f64>>,
    /// Change of the force on the point (rows) with each control vector, in mN/mm.
    pub of_point: Vec<Matrix3<f64>>,
    /// Change of the force on each control vector (rows) with the point, in mN/mm.
    pub by_point: Vec<Matrix3<f64>>,
    /// Change of the force on a control vector (rows) with another (columns), row by row, in mN/mm.
    pub among: Vec<Matrix3<f64>>,
    /// Change of the moment on the wire with each control vector, in mN.
    pub of_spin: Vec<Vector3<f64>>,
    /// Change of the force on each control vector with the rotation, in mN.
    pub by_spin: Vec<Vector3<f64>>,
    /// Change of the normal force with each control vector, in mN/mm.
    pub rate: Vec<Vector3<f64>>,
    /// How far the wall's material goes with each control vector.
    pub carried: Vec<Matrix3<f64>>,
}

/// Forces and stiffnesses of one contact by the place of its point.
pub(super) struct AtPoint {
    /// Derivative of the wall's energy by the depth, in mN.
    pub press: f64,
    /// Its change with the depth, in mN/mm.
    pub stiffness: f64,
    /// Force in mN by which the normal turns, over the length of the distance's gradient.
    pub level: f64,
    /// Gradient of the distance by the point.
    pub gradient: Vector3<f64>,
    /// Friction in mN and its change with the displacement.
    pub friction: (Vector3<f64>, Matrix3<f64>),
    /// Change of the friction with the place, beyond that.
    pub change: Matrix3<f64>,
    /// Way of the surface with the rotation in mm.
    pub spin: Vector3<f64>,
    /// Change of the normal force over that of the depth.
    pub normal_rate: f64,
}

impl HangingContact {
    /// The contact of a point whose wall hangs as `hang` says, on the edge whose first unknown is `first`.
    pub(super) fn new(
        hang: Hang,
        at: &AtPoint,
        first: usize,
        share: [f64; 2],
        spin: usize,
    ) -> Self {
        let m = hang.controls.len();
        let (f, h) = at.friction;
        let along = h + at.change;
        let row = h * at.spin;
        let turned = at.change.tr_mul(&at.spin) + row;
        let mut out = Self {
            first,
            share,
            spin,
            force: Vec::with_capacity(m),
            of_point: Vec::with_capacity(m),
            by_point: Vec::with_capacity(m),
            among: Vec::with_capacity(m * m),
            of_spin: Vec::with_capacity(m),
            by_spin: Vec::with_capacity(m),
            rate: Vec::with_capacity(m),
            controls: hang.controls,
            carried: hang.carried,
        };
        for j in 0..m {
            let (g, c) = (hang.gradient[j], out.carried[j]);
            out.force.push(g * at.press - c.tr_mul(&f));
            let pressed = outer(&at.gradient, &g) * at.stiffness + hang.mixed[j] * at.level;
            out.of_point.push(pressed - along * c);
            out.by_point.push(pressed.transpose() - c.tr_mul(&along));
            out.of_spin.push(-c.tr_mul(&turned));
            out.by_spin.push(-c.tr_mul(&row));
            out.rate.push(g * at.normal_rate);
        }
        for i in 0..m {
            let by_friction = out.carried[i].tr_mul(&along);
            for j in 0..m {
                let pressed = outer(&hang.gradient[i], &hang.gradient[j]) * at.stiffness
                    + hang.second[i * m + j] * at.level;
                out.among.push(pressed + by_friction * out.carried[j]);
            }
        }
        out
    }
}

impl<const S: usize> Contact<'_, S> {
    /// Takes note that the vessel's axes have moved to these control vectors, in mm, while the step goes
    /// on; the lumen has been told.
    pub(crate) fn see_moved(&mut self, moved: &[Vector3<f64>]) {
        let ways = self.vessel.iter().zip(moved).map(|(a, b)| (a - b).norm());
        self.wall_gone_mm += LEVER * ways.fold(0.0, f64::max);
        self.vessel.clear();
        self.vessel.extend_from_slice(moved);
        self.vessel_start.resize(moved.len(), Vector3::zeros());
        self.seen.q.clear();
        for (active, hanging) in self.active_contacts.iter_mut().zip(&self.hanging) {
            let still = active.wall_velocity * self.step_s;
            let (controls, carried) = (&hanging.controls, &hanging.carried);
            active.wall_moved =
                still + Hang::carried_way(controls, carried, &self.vessel, &self.vessel_start);
        }
    }

    /// The contacts of the derivatives added last as the vessel's axes see them; empty where the vessel
    /// does not give way.
    #[must_use]
    pub fn hanging(&self) -> &[HangingContact] {
        &self.hanging
    }
}
