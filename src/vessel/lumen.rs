//! What contact asks of a vessel: the signed distance to the lumen wall near a point, and how the
//! wall moves there.

use nalgebra::{Matrix3, Vector3};

use super::bed::{Hang, MovedTree};
use crate::products::outer;

/// The lumen's signed distance with its derivatives at one point and time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WallPoint {
    /// Signed distance to the wall in mm, negative inside the lumen.
    pub distance_mm: f64,
    /// Gradient of the distance, pointing out of the lumen; length 1, or less where two tubes
    /// blend.
    pub gradient: Vector3<f64>,
    /// Velocity in mm/s of the wall's material next to the point; zero where the wall stands.
    pub velocity: Vector3<f64>,
    /// Second derivatives of the distance in 1/mm (the slow change of taper is left out).
    pub hessian: Matrix3<f64>,
}

impl WallPoint {
    /// The space around a round body of `radius_mm`, seen from a point that lies `offset` (mm) from
    /// its axis: negative outside of the body, with the gradient into it. `along` is the direction
    /// of the axis, where the point lies beside it and not beyond a round end; a unit vector where
    /// the axis is straight.
    pub(super) fn around(
        radius_mm: f64,
        offset: &Vector3<f64>,
        along: Option<&Vector3<f64>>,
    ) -> Self {
        let distance = offset.norm();
        let normal = offset / distance.max(1e-3);
        let mut curved = Matrix3::identity() - outer(&normal, &normal);
        if let Some(t) = along {
            curved -= outer(t, t);
        }
        Self {
            distance_mm: radius_mm - distance,
            gradient: -normal,
            velocity: Vector3::zeros(),
            hessian: curved * (-1.0 / distance.max(1e-3)),
        }
    }
}

/// A lumen that a wire can run in. One whose wall moves is another type with this trait: it gives
/// wall and velocity at a time, and how fast it moves at most.
pub trait Lumen: Sync + Send {
    /// The lumen at `p` (mm) and `time_s` (s since the devices were brought in) where the wall is
    /// nearer than `margin_mm`, or outside the lumen; `None` where the point lies more than
    /// `margin_mm` inside.
    fn near_wall(&self, p: &Vector3<f64>, time_s: f64, margin_mm: f64) -> Option<WallPoint>;

    /// Upper bound of the wall's speed in mm/s, 0 for a wall that stands: a contact point that is
    /// clear of the wall is not tested again before point and wall can have met.
    fn top_speed_mm_per_s(&self) -> f64 {
        0.0
    }

    /// The wall at `p` (mm), and how its distance depends on the displacements of a vessel that gives way; `None` for one
    /// that does not.
    fn hang(&self, _p: &Vector3<f64>) -> Option<(WallPoint, Hang)> {
        None
    }

    /// The vessel that gives way whose lumen this is, if it is one.
    fn giving(&self) -> Option<&MovedTree> {
        None
    }

    /// Where the point `p` (mm) of the lumen lies when the vessel is at rest.
    fn at_rest(&self, p: &Vector3<f64>) -> Vector3<f64> {
        *p
    }

    /// Signed distance to the wall at `p` in mm, negative inside; of a moving wall, at time 0.
    fn distance(&self, p: &Vector3<f64>) -> f64;
}

#[cfg(test)]
pub(super) mod tests {
    use super::{Lumen, Vector3};

    /// Compares gradient and Hessian with differences of the distance and of the gradient.
    pub(in crate::vessel) fn derivatives_agree(lumen: &dyn Lumen, points: &[Vector3<f64>]) {
        let h = 1e-5;
        for p in points {
            let look = |q: Vector3<f64>| lumen.near_wall(&q, 0.0, 10.0).expect("near");
            let here = look(*p);
            for i in 0..3 {
                let step = Vector3::ith(i, h);
                let (a, b) = (look(p + step), look(p - step));
                let slope = (a.distance_mm - b.distance_mm) / (2.0 * h);
                approx::assert_relative_eq!(slope, here.gradient[i], epsilon = 1e-8);
                let bend = (a.gradient - b.gradient) / (2.0 * h);
                let column = here.hessian.column(i).into_owned();
                approx::assert_relative_eq!(bend, column, epsilon = 1e-6);
            }
        }
    }
}
