//! A place along a vessel's axis at which energy is counted.

use nalgebra::Vector3;

use super::bending::{AtRest, WallBeam};
use super::spline::{Basis, SUPPORT};

/// A place along a branch at which energy is counted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Station {
    pub basis: Basis,
    pub rest: AtRest,
    pub wall: WallBeam,
    /// Number of the branch.
    pub branch: usize,
    /// Where on it, in mm.
    pub at_mm: f64,
    /// Radius of the lumen there in mm.
    pub lumen_mm: f64,
    /// Length of axis for which it stands, in mm.
    pub weight: f64,
    /// Whether the bed holds it: not inside the parent's lumen.
    pub held: bool,
}

impl Station {
    /// Displacement of the axis, and the derivatives of its position by the station where it is `moved` from
    /// where it is at `rest`.
    pub(super) fn moved(&self, moved: &[Vector3<f64>], rest: &AtRest) -> [Vector3<f64>; 3] {
        let [u, first, second] = self.basis.jet(moved);
        [u, rest.first + first, rest.second + second]
    }

    /// The axis at rest here, where the vessel's own movement has carried it.
    pub(super) fn rest_in(&self, carried: &[Vector3<f64>]) -> AtRest {
        if carried.is_empty() {
            return self.rest;
        }
        let [_, first, second] = self.basis.jet(carried);
        let (first, second) = (self.rest.first + first, self.rest.second + second);
        let length = first.norm();
        let tangent = first / length;
        AtRest {
            tangent,
            curvature: (second - tangent * tangent.dot(&second)) / length,
            first,
            second,
        }
    }

    pub(super) fn is_moved(&self, moved: &[Vector3<f64>]) -> bool {
        moved[self.basis.first..self.basis.first + SUPPORT]
            .iter()
            .any(|u| u.amax() > 0.0)
    }
}
