//! How the distance from a moved wall depends on the control vectors of the axes: of one tube, and of
//! the smooth union of two.

use nalgebra::{Matrix3, Vector3};

use super::spline::{Basis, SUPPORT};
use crate::products::outer;
use crate::vessel::blend::smooth_min_wall;
use crate::vessel::foot::Foot;
use crate::vessel::lumen::WallPoint;

/// How the distance from the wall depends on the control vectors of the axes, at one point.
///
/// Rows and columns belong to the control vectors in the order of [`Hang::controls`].
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Hang {
    /// Numbers of the control vectors.
    pub controls: Vec<usize>,
    /// Derivatives of the distance by the control vectors.
    pub gradient: Vec<Vector3<f64>>,
    /// Second derivatives by the point (rows) and each control vector (columns), in 1/mm.
    pub mixed: Vec<Matrix3<f64>>,
    /// Second derivatives by the control vectors: row by row, in 1/mm.
    pub second: Vec<Matrix3<f64>>,
    /// How far the wall's material next to the point goes with each control vector: for a tube
    /// `N I - N' t eᵀ`, with `e` from the axis to the point.
    pub carried: Vec<Matrix3<f64>>,
}

impl Hang {
    /// Nothing yet, with room for so many control vectors.
    fn with_room(controls: usize) -> Self {
        Self {
            controls: Vec::with_capacity(controls),
            gradient: Vec::with_capacity(controls),
            mixed: Vec::with_capacity(controls),
            second: Vec::with_capacity(controls * controls),
            carried: Vec::with_capacity(controls),
        }
    }

    /// How far the wall's material goes as the control vectors go from `start` to `moved`, in mm.
    #[must_use]
    pub fn way(&self, moved: &[Vector3<f64>], start: &[Vector3<f64>]) -> Vector3<f64> {
        Self::carried_way(&self.controls, &self.carried, moved, start)
    }

    /// [`Hang::way`] of the control vectors with these numbers, and how far each carries the material.
    pub(crate) fn carried_way(
        controls: &[usize],
        carried: &[Matrix3<f64>],
        moved: &[Vector3<f64>],
        start: &[Vector3<f64>],
    ) -> Vector3<f64> {
        let with = controls.iter().zip(carried);
        with.map(|(&j, carried)| carried * (moved[j] - start[j]))
            .sum()
    }

    /// Of the tube of one branch, seen from the point whose foot is given.
    ///
    /// With `n` the direction of the offset `e` of length `ρ`, `f` the first derivative of the moved axis
    /// and `D = f·f - e·c''`: the station changes with control vector j by `(N_j' e - N_j f)/D`, the
    /// distance by `-N_j n` and by the taper, and so on by differentiation; the second derivatives
    /// leave out the taper, as those by the point do.
    pub(super) fn of_tube(basis: &Basis, foot: &Foot, wall: &WallPoint, factor: f64) -> Self {
        let e = foot.offset;
        let f = foot.first;
        let n = e / foot.rho.max(1e-3);
        let per = if foot.stiffness > 0.0 {
            1.0 / foot.stiffness
        } else {
            0.0
        };
        let fn_t = outer(&f, &n);
        let nn_t = outer(&n, &n);
        let along = outer(&f, &e) / f.norm_squared();
        let mut out = Self::with_room(SUPPORT);
        out.controls.extend(basis.first..basis.first + SUPPORT);
        for j in 0..SUPPORT {
            let (v, s) = (basis.value[j], basis.slope[j]);
            let station = (e * s - f * v) * per;
            out.gradient.push(-n * v - station * (factor * foot.slope));
            out.mixed.push(wall.hessian * -v - fn_t * (s * per));
            out.carried.push(if foot.stiffness > 0.0 {
                Matrix3::identity() * v - along * s
            } else {
                Matrix3::identity() * v
            });
        }
        for i in 0..SUPPORT {
            for j in 0..SUPPORT {
                let (vi, si) = (basis.value[i], basis.slope[i]);
                let (vj, sj) = (basis.value[j], basis.slope[j]);
                out.second.push(
                    wall.hessian * (vi * vj)
                        + (fn_t * (vi * sj) + fn_t.transpose() * (si * vj)
                            - nn_t * (foot.rho * si * sj))
                            * per,
                );
            }
        }
        out
    }

    /// The smooth union of two walls, as [`smooth_min_wall`], with what they hang on.
    pub(in crate::vessel) fn join(
        a: (WallPoint, Self),
        b: (WallPoint, Self),
        width: f64,
    ) -> (WallPoint, Self) {
        let apart = (a.0.distance_mm - b.0.distance_mm).abs();
        let (near, far) = if b.0.distance_mm < a.0.distance_mm {
            (b, a)
        } else {
            (a, b)
        };
        if apart >= width {
            return near;
        }
        let wall = smooth_min_wall(&near.0, &far.0, width);
        let h = (width - apart) / width;
        let w = 0.5 * h * h;
        let turn = far.0.gradient - near.0.gradient;
        let (m, of_far) = (near.1.controls.len(), far.1.controls.len());
        let mut out = Self::with_room(m + of_far);
        // What the difference of the distances changes by with each control vector.
        let mut turns = Vec::with_capacity(m + of_far);
        for (hang, weight, sign) in [(&near.1, 1.0 - w, -1.0), (&far.1, w, 1.0)] {
            out.controls.extend_from_slice(&hang.controls);
            out.gradient
                .extend(hang.gradient.iter().map(|g| g * weight));
            out.carried.extend(hang.carried.iter().map(|c| c * weight));
            turns.extend(hang.gradient.iter().map(|g| g * sign));
            out.mixed.extend(hang.mixed.iter().map(|x| x * weight));
        }
        let bent = h / width;
        for (mixed, of) in out.mixed.iter_mut().zip(&turns) {
            *mixed -= outer(&turn, of) * bent;
        }
        let all = m + of_far;
        for i in 0..all {
            for j in 0..all {
                let own = match (i < m, j < m) {
                    (true, true) => near.1.second[i * m + j] * (1.0 - w),
                    (false, false) => far.1.second[(i - m) * of_far + j - m] * w,
                    _ => Matrix3::zeros(),
                };
                out.second.push(own - outer(&turns[i], &turns[j]) * bent);
            }
        }
        (wall, out)
    }
}
