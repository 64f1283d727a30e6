//! A device that lies in a lumen beside the wire: a flexible line with a thickness, laid anew as it
//! moves.

use std::sync::{PoisonError, RwLock};

use nalgebra::Vector3;

use super::line::{ControlPoint, Line};
use super::lumen::{Lumen, WallPoint};

/// A line through points, each length between two of them with its radius, without corners.
///
/// As a [`Lumen`] it is the space around the line: the signed distance is negative outside of it,
/// and its gradient points into it. Where nothing is laid, everything is outside.
#[derive(Debug, Default)]
pub struct FlexibleTube {
    line: RwLock<Line>,
}

impl FlexibleTube {
    /// Lays the line through `points` (mm); `diameters` in mm, one for each point, hold up to the
    /// next. Pieces shorter than a micrometre are left out.
    pub fn lay(&self, points: &[Vector3<f64>], diameters: &[f64]) {
        let control_points = points.iter().zip(diameters).enumerate();
        let mut line = self.line.write().unwrap_or_else(PoisonError::into_inner);
        let _gone = line.lay(
            control_points.map(|(name, (at, diameter_mm))| ControlPoint {
                at: *at,
                diameter_mm: *diameter_mm,
                name,
            }),
        );
    }
}

impl Lumen for FlexibleTube {
    fn near_wall(&self, p: &Vector3<f64>, _time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        let line = self.line.read().unwrap_or_else(PoisonError::into_inner);
        Some(line.deepest(p, margin_mm)?.wall())
    }

    fn distance(&self, p: &Vector3<f64>) -> f64 {
        let line = self.line.read().unwrap_or_else(PoisonError::into_inner);
        line.depth(p)
    }
}

#[cfg(test)]
mod tests {
    use super::super::lumen::tests::derivatives_agree;
    use super::*;

    /// A zigzag of 60 pieces, thick at first and thin later.
    fn zigzag() -> (Vec<Vector3<f64>>, Vec<f64>) {
        let points: Vec<_> = (0..60)
            .map(|i| {
                let x = f64::from(i);
                Vector3::new(0.5 * x, (0.3 * x).sin(), 0.4 * (0.2 * x).cos())
            })
            .collect();
        let diameters = (0..60).map(|i| if i < 30 { 1.0 } else { 0.36 }).collect();
        (points, diameters)
    }

    #[test]
    fn the_deepest_place_is_found_as_by_looking_along_the_whole_line() {
        let (points, diameters) = zigzag();
        let strand = FlexibleTube::default();
        assert!(strand.near_wall(&Vector3::zeros(), 0.0, 5.0).is_none());
        strand.lay(&points, &diameters);
        let places = strand.line.read().expect("no panic").places();
        for k in 0..400 {
            let x = f64::from(k);
            let p = Vector3::new(0.08 * x, (0.7 * x).sin(), (1.3 * x).cos());
            let depths = places.iter().map(|(at, radius)| radius - (p - at).norm());
            let slow = depths.fold(f64::NEG_INFINITY, f64::max);
            approx::assert_abs_diff_eq!(strand.distance(&p), slow, epsilon = 2e-6);
            let near = strand.near_wall(&p, 0.0, 0.4);
            assert_eq!(near.is_some(), strand.distance(&p) >= -0.4);
        }
    }

    /// On a circle of radius R through points a length h apart, the line lies R - R cos(h/2R) inside
    /// where it touches a length.
    #[test]
    fn a_bent_line_is_smooth() {
        let (bend_mm, step) = (8.0, 0.1_f64);
        let point = |angle: f64| Vector3::new(angle.cos(), angle.sin(), 0.0) * bend_mm;
        let points: Vec<_> = (0..30).map(|i| point(f64::from(i) * step)).collect();
        let strand = FlexibleTube::default();
        strand.lay(&points, &[1.0; 30]);
        let inside = bend_mm * (1.0 - (0.5 * step).cos());
        let mut last = None;
        for k in 100..2000 {
            let direction = point(f64::from(k) * 1e-3) / bend_mm;
            for aside in [-0.6, 0.6] {
                let depth = strand.distance(&(direction * (bend_mm - inside + aside)));
                approx::assert_abs_diff_eq!(depth, -0.1, epsilon = 2e-5);
            }
            let seen = strand.near_wall(&(direction * (bend_mm - 0.6)), 0.0, 1.0);
            let gradient = seen.expect("near").gradient;
            if let Some(last) = last.replace(gradient) {
                let turned: f64 = (gradient - last).norm();
                assert!(turned < 2e-3, "{turned} at {k}");
            }
        }
    }

    #[test]
    fn gradient_and_hessian_are_the_derivatives_of_the_distance() {
        let strand = FlexibleTube::default();
        let line = [(0.0, 0.0), (4.0, 0.0), (8.0, 0.0), (11.0, 2.5)];
        strand.lay(
            &line.map(|(x, y)| Vector3::new(x, y, 0.0)),
            &[1.0, 0.4, 0.4, 0.4],
        );
        let points = [
            (2.1, 0.4, 0.2),
            (5.3, -0.2, 0.1),
            (-0.3, 0.2, -0.1),
            (7.6, 0.3, 0.1),
            (8.1, -0.2, 0.2),
        ];
        derivatives_agree(&strand, &points.map(|(x, y, z)| Vector3::new(x, y, z)));
    }
}
