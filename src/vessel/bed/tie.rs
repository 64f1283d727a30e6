//! Where a branch begins: it goes and turns with its parent.

use nalgebra::{Matrix3, Vector3};

use super::spline::Basis;
use crate::products::outer;

/// A point of a branch inside its parent's lumen, tied to the parent's section at the attachment.
///
/// Equation: `E = K/2 |v - u - (t × u') × r|²`.
/// Symbols: `K` stiffness in mN/mm, `v` displacement of the point, `u`, `u'` displacement of the parent's
/// axis at the attachment and its derivative by the station, `t` the parent's tangent there, `r` from
/// the attachment to the point. `t × u'` is the rotation of the parent's section for small angles.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tie {
    /// The point on the branch.
    pub branch: Basis,
    /// The attachment on the parent.
    pub parent: Basis,
    /// The parent's tangent there.
    pub tangent: Vector3<f64>,
    /// From the attachment to the point in mm.
    pub arm: Vector3<f64>,
    /// Stiffness in mN/mm.
    pub stiffness: f64,
}

impl Tie {
    /// Control value and what its displacement adds to `v - u - (t × u') × r`, for each control value.
    fn rows(&self, carried: &[Vector3<f64>]) -> impl Iterator<Item = (usize, Matrix3<f64>)> + '_ {
        let (tangent, arm) = self.carried(carried);
        let own = (0..super::spline::SUPPORT).map(|k| {
            (
                self.branch.first + k,
                Matrix3::identity() * self.branch.value[k],
            )
        });
        let along = tangent.dot(&arm);
        let turning = Matrix3::identity() * along - outer(&tangent, &arm);
        let parents = (0..super::spline::SUPPORT).map(move |k| {
            let of = Matrix3::identity() * self.parent.value[k] + turning * self.parent.slope[k];
            (self.parent.first + k, -of)
        });
        own.chain(parents)
    }

    /// Tangent and arm where the vessel's own movement has `carried` both branches; empty for none.
    fn carried(&self, carried: &[Vector3<f64>]) -> (Vector3<f64>, Vector3<f64>) {
        if carried.is_empty() {
            return (self.tangent, self.arm);
        }
        let [at, slope, _] = self.parent.jet(carried);
        let tangent = (self.tangent + slope).normalize();
        (tangent, self.arm + self.branch.at(carried) - at)
    }

    fn gap(&self, moved: &[Vector3<f64>], carried: &[Vector3<f64>]) -> Vector3<f64> {
        self.rows(carried).map(|(j, row)| row * moved[j]).sum()
    }

    pub(super) fn energy(&self, moved: &[Vector3<f64>], carried: &[Vector3<f64>]) -> f64 {
        0.5 * self.stiffness * self.gap(moved, carried).norm_squared()
    }

    /// Adds the forces in mN at the control vectors `moved`.
    pub(super) fn add_gradient(
        &self,
        moved: &[Vector3<f64>],
        carried: &[Vector3<f64>],
        gradient: &mut [Vector3<f64>],
    ) {
        let force = self.gap(moved, carried) * self.stiffness;
        for (i, row) in self.rows(carried) {
            gradient[i] += row.tr_mul(&force);
        }
    }

    /// The same, and by `add` the second derivatives by a control vector and one that is not before it.
    pub(super) fn add_derivatives(
        &self,
        moved: &[Vector3<f64>],
        carried: &[Vector3<f64>],
        gradient: &mut [Vector3<f64>],
        add: &mut impl FnMut(usize, usize, &Matrix3<f64>),
    ) {
        let force = self.gap(moved, carried) * self.stiffness;
        let rows: [_; 2 * super::spline::SUPPORT] = {
            let mut rows = self.rows(carried);
            std::array::from_fn(|_| rows.next().unwrap_or((0, Matrix3::zeros())))
        };
        for (i, of_i) in &rows {
            gradient[*i] += of_i.tr_mul(&force);
            for (j, of_j) in rows.iter().filter(|(j, _)| j >= i) {
                add(*i, *j, &(of_i.tr_mul(of_j) * self.stiffness));
            }
        }
    }
}
