//! Reference frames: transport in time, twist between neighbours.

use nalgebra::Vector3;

/// Carries `v`, perpendicular to the unit vector `from`, along with the smallest rotation that
/// turns `from` into the unit vector `to`.
///
/// Equation: `v' = v - (v·to) / (1 + from·to) (from + to)`, which is the rotation about
/// `from × to` applied to a vector without component along `from`.
/// Source: Bergou et al. 2008, section 4.2.2 (parallel transport). Not for `to = -from`, where
/// the rotation is undefined.
#[must_use]
pub fn parallel_transport(
    v: &Vector3<f64>,
    from: &Vector3<f64>,
    to: &Vector3<f64>,
) -> Vector3<f64> {
    v - (from + to) * (v.dot(to) / (1.0 + from.dot(to)))
}

/// Angle in rad from `a` to `b` about the unit axis, for `a` and `b` perpendicular to it; in
/// (-pi, pi].
pub(super) fn signed_angle(a: &Vector3<f64>, b: &Vector3<f64>, axis: &Vector3<f64>) -> f64 {
    a.cross(b).dot(axis).atan2(a.dot(b))
}

/// `angle` shifted by whole turns so that it lies within half a turn of `near`.
pub(super) fn unwrap_near(angle: f64, near: f64) -> f64 {
    use std::f64::consts::TAU;
    angle + ((near - angle) / TAU).round() * TAU
}

/// Any unit vector perpendicular to the unit vector `t`.
pub(super) fn any_normal(t: &Vector3<f64>) -> Vector3<f64> {
    let axis = t.iamin();
    let mut v = Vector3::zeros();
    v[axis] = 1.0;
    (v - t * t[axis]).normalize()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use nalgebra::{Rotation3, Unit};

    #[test]
    fn transport_equals_the_rotation_between_the_tangents() {
        let from = Vector3::new(0.3, -0.5, 0.8).normalize();
        let to = Vector3::new(-0.2, 0.4, 0.9).normalize();
        let v = any_normal(&from);
        let axis = Unit::new_normalize(from.cross(&to));
        let turned = Rotation3::from_axis_angle(&axis, from.angle(&to)) * v;
        assert_relative_eq!(parallel_transport(&v, &from, &to), turned, epsilon = 1e-14);
    }

    #[test]
    fn an_angle_is_unwrapped_to_the_nearest_turn() {
        assert_relative_eq!(unwrap_near(0.1, 12.6), 0.1 + 4.0 * std::f64::consts::PI);
        assert_relative_eq!(unwrap_near(-3.0, 3.1), -3.0 + 2.0 * std::f64::consts::PI);
    }
}
