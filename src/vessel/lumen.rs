//! What contact asks of a vessel: the signed distance to the lumen wall near a point.

use nalgebra::{Matrix3, Vector3};

/// The lumen's signed distance with its derivatives at one point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LumenPoint {
    /// Signed distance to the wall in mm, negative inside the lumen.
    pub distance_mm: f64,
    /// Gradient of the distance, pointing out of the lumen; length 1, or less where two tubes
    /// blend.
    pub gradient: Vector3<f64>,
    /// Second derivatives of the distance in 1/mm (the slow change of taper is left out).
    pub hessian: Matrix3<f64>,
}

/// A lumen that a wire can run in.
pub trait Lumen: Sync + Send {
    /// The lumen at `p` (mm) where the wall is nearer than `margin_mm`, or outside the lumen;
    /// `None` where the point lies more than `margin_mm` inside.
    fn near_wall(&self, p: &Vector3<f64>, margin_mm: f64) -> Option<LumenPoint>;

    /// Signed distance to the wall at `p` in mm, negative inside.
    fn distance(&self, p: &Vector3<f64>) -> f64;
}
