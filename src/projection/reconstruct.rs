//! A point from two views, with its error.

use nalgebra::{Matrix3, Vector2, Vector3};

use super::camera::{Camera, ProjectionError};

/// Least angle between two views that are to give depth, in degrees.
const LEAST_ANGLE_DEG: f64 = 1.0;

/// A point reconstructed from two views.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reconstructed {
    /// The point in mm.
    pub position: Vector3<f64>,
    /// How far the two lines of sight pass from each other, in mm: 0 for readings without error.
    pub gap_mm: f64,
    /// Covariance of the position in mm² for independent readings of standard deviation 1 mm in
    /// either direction of either image, at the scale of the isocentre.
    pub covariance_per_mm2: Matrix3<f64>,
}

impl Reconstructed {
    /// Root mean square distance in mm of the reconstructed point from the true one, for readings
    /// of standard deviation `reading_sd_mm`.
    #[must_use]
    pub fn error_mm(&self, reading_sd_mm: f64) -> f64 {
        reading_sd_mm * self.covariance_per_mm2.trace().sqrt()
    }

    /// Standard deviation in mm of the position along the unit vector `direction`.
    #[must_use]
    pub fn error_along_mm(&self, direction: &Vector3<f64>, reading_sd_mm: f64) -> f64 {
        let variance = direction.dot(&(self.covariance_per_mm2 * direction));
        reading_sd_mm * variance.sqrt()
    }
}

/// The point nearest to the two lines of sight of a point that two views show at `images`.
///
/// Equation: `x = A⁻¹ Σ P_i o_i`, `A = Σ P_i`, `P_i = I - d_i d_iᵀ`, with `o_i` a point on line i
/// and `d_i` its direction (least squares). For parallel beams and readings with the same standard
/// deviation s everywhere the covariance is s² A⁻¹: s²/2 square to both beams, and
/// s²/(1 ± cos g) in the plane of both, g the angle between them; the mean square error is
/// s² (1/2 + 2/sin² g). In perspective that holds as far as magnifications are those of the
/// isocentre.
///
/// # Errors
/// [`ProjectionError::SameView`] for views less than a degree apart.
pub fn reconstruct(
    cameras: [&Camera; 2],
    images: [Vector2<f64>; 2],
) -> Result<Reconstructed, ProjectionError> {
    let lines = [cameras[0].line(&images[0]), cameras[1].line(&images[1])];
    let square_to = |d: &Vector3<f64>| Matrix3::identity() - d * d.transpose();
    let planes = lines.map(|(_, d)| square_to(&d));
    let angle_deg = cameras[0].beam.angle_to(&cameras[1].beam).to_degrees();
    let inverse = (planes[0] + planes[1]).try_inverse();
    let (Some(inverse), true) = (inverse, angle_deg >= LEAST_ANGLE_DEG) else {
        return Err(ProjectionError::SameView {
            angle_deg,
            least_deg: LEAST_ANGLE_DEG,
        });
    };
    let position = inverse * (planes[0] * lines[0].0 + planes[1] * lines[1].0);
    let normal = lines[0].1.cross(&lines[1].1).normalize();
    Ok(Reconstructed {
        position,
        gap_mm: normal.dot(&(lines[1].0 - lines[0].0)).abs(),
        covariance_per_mm2: inverse,
    })
}
