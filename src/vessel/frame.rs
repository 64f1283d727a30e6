//! Directions along a curve: the starting normal and its parallel transport.

use nalgebra::Vector3;

/// Cosine of 20 degrees: a direction nearer to the y axis takes +z as its reference.
const NEAR_Y_AXIS: f64 = 0.939_692_620_785_908_4;

/// Running normal at a start with unit direction `tangent`: +y made square to it, or +z where
/// the direction lies within 20 degrees of the y axis.
pub(super) fn start_normal(tangent: &Vector3<f64>) -> Vector3<f64> {
    let reference = if tangent.y.abs() > NEAR_Y_AXIS {
        Vector3::z()
    } else {
        Vector3::y()
    };
    square_to(&reference, tangent)
}

/// The part of `v` square to the unit vector `tangent`, made a unit vector.
pub(super) fn square_to(v: &Vector3<f64>, tangent: &Vector3<f64>) -> Vector3<f64> {
    (v - tangent * v.dot(tangent)).normalize()
}

/// The unit direction at `angle_rad` about `tangent` from `normal` (unit vectors, square to each
/// other).
pub(super) fn around(
    tangent: &Vector3<f64>,
    normal: &Vector3<f64>,
    angle_rad: f64,
) -> Vector3<f64> {
    normal * angle_rad.cos() + tangent.cross(normal) * angle_rad.sin()
}

/// Carries a normal from one point of a curve to the next without turning about the tangent.
///
/// Double reflection, fourth order in the distance of the points: Wang, Jüttler, Zheng, Liu,
/// Computation of rotation minimizing frames, ACM Transactions on Graphics 27(1), 2008.
pub(super) fn transport(
    normal: &Vector3<f64>,
    from: (&Vector3<f64>, &Vector3<f64>),
    to: (&Vector3<f64>, &Vector3<f64>),
) -> Vector3<f64> {
    let reflect = |v: &Vector3<f64>, across: &Vector3<f64>| {
        let square = across.norm_squared();
        if square > 0.0 {
            v - across * (2.0 * across.dot(v) / square)
        } else {
            *v
        }
    };
    let chord = to.0 - from.0;
    let normal_l = reflect(normal, &chord);
    let tangent_l = reflect(from.1, &chord);
    square_to(&reflect(&normal_l, &(to.1 - tangent_l)), to.1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn the_starting_normal_changes_its_reference_at_20_degrees() {
        let at = |degrees: f64| {
            let a = degrees.to_radians();
            start_normal(&Vector3::new(a.sin(), a.cos(), 0.0))
        };
        assert_relative_eq!(at(19.9), Vector3::z(), epsilon = 1e-12);
        assert!(at(20.1).z.abs() < 1e-12);
    }

    #[test]
    fn transport_round_a_planar_circle_keeps_the_angle_to_the_plane() {
        let at = |a: f64| {
            (
                Vector3::new(a.cos(), a.sin(), 0.0) * 7.0,
                Vector3::new(-a.sin(), a.cos(), 0.0),
            )
        };
        let mut normal = Vector3::new(0.6, 0.0, 0.8);
        for i in 0..100 {
            let (from, to) = (at(f64::from(i) * 0.03), at(f64::from(i + 1) * 0.03));
            normal = transport(&normal, (&from.0, &from.1), (&to.0, &to.1));
        }
        let outward = Vector3::new(3.0_f64.cos(), 3.0_f64.sin(), 0.0);
        assert_relative_eq!(normal.z, 0.8, epsilon = 1e-12);
        assert_relative_eq!(normal.dot(&outward), 0.6, epsilon = 1e-12);
    }
}
