//! A viewing direction in space: the beam and the axes of the image.

use nalgebra::{Matrix3, Vector2, Vector3};

use crate::scenario::view::ViewAngles;

/// A viewing direction with the axes of its image: three unit vectors, square to each other,
/// `right` × `up` = `along`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beam {
    /// From the isocentre to the detector: the way the photons travel.
    pub along: Vector3<f64>,
    /// To the right in the image: the patient's left in AP.
    pub right: Vector3<f64>,
    /// Upwards in the image: towards the head in AP.
    pub up: Vector3<f64>,
}

impl Beam {
    /// The beam of a view in patient coordinates.
    ///
    /// Equation: with a the primary and b the secondary angle,
    /// along = (cos b sin a, sin b, cos b cos a), right = (cos a, 0, -sin a),
    /// up = (-sin b sin a, cos b, -sin b cos a).
    /// Source: the convention of [the room's text](super); `along` has the angles theta = a and
    /// phi = b of the polar form of Dodge JT Jr et al., Circulation 1988;78:1167-1180, so that a
    /// vessel with direction (theta, phi) is seen end-on from LAO theta, CRA phi.
    #[must_use]
    pub fn in_patient(view: &ViewAngles) -> Self {
        let (sin_a, cos_a) = view.primary_rad.sin_cos();
        let (sin_b, cos_b) = view.secondary_rad.sin_cos();
        Self {
            along: Vector3::new(cos_b * sin_a, sin_b, cos_b * cos_a),
            right: Vector3::new(cos_a, 0.0, -sin_a),
            up: Vector3::new(-sin_b * sin_a, cos_b, -sin_b * cos_a),
        }
    }

    /// The beam of a view in the coordinates of a scene that `to_patient` turns into patient
    /// coordinates.
    #[must_use]
    pub fn in_scene(view: &ViewAngles, to_patient: &Matrix3<f64>) -> Self {
        let beam = Self::in_patient(view);
        let back = to_patient.transpose();
        Self {
            along: back * beam.along,
            right: back * beam.right,
            up: back * beam.up,
        }
    }

    /// A point or direction as a parallel beam shows it: right and up in mm.
    #[must_use]
    pub fn flat(&self, p: &Vector3<f64>) -> Vector2<f64> {
        Vector2::new(self.right.dot(p), self.up.dot(p))
    }

    /// Angle between the lines of two beams in rad, 0 to pi/2: opposite views show the same.
    #[must_use]
    pub fn angle_to(&self, other: &Self) -> f64 {
        let cross = self.along.cross(&other.along).norm();
        cross.atan2(self.along.dot(&other.along).abs())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn the_axes_are_square_and_right_handed() {
        for primary in [-170.0, -30.0, 0.0, 45.0, 90.0] {
            for secondary in [-60.0, 0.0, 33.0] {
                let beam = Beam::in_patient(&ViewAngles::from_degrees(primary, secondary));
                assert_relative_eq!(beam.right.cross(&beam.up), beam.along, epsilon = 1e-12);
                assert_relative_eq!(beam.right.norm(), 1.0, epsilon = 1e-12);
                assert_relative_eq!(beam.up.norm(), 1.0, epsilon = 1e-12);
            }
        }
    }

    #[test]
    fn plain_views_look_where_their_names_say() {
        let along = |primary, secondary| {
            Beam::in_patient(&ViewAngles::from_degrees(primary, secondary)).along
        };
        assert_relative_eq!(along(0.0, 0.0), Vector3::z(), epsilon = 1e-12);
        assert_relative_eq!(along(90.0, 0.0), Vector3::x(), epsilon = 1e-12);
        assert_relative_eq!(along(0.0, 90.0), Vector3::y(), epsilon = 1e-12);
        assert_relative_eq!(along(-90.0, 0.0), -Vector3::x(), epsilon = 1e-12);
    }
}
