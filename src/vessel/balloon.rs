//! A balloon inflated in a vessel, or another body like it: one that the wire cannot enter.

use std::f64::consts::FRAC_PI_2;

use nalgebra::Vector3;

use super::line::{ControlPoint, Line};
use super::lumen::{Lumen, WallPoint};

/// Length in mm of the axis of a balloon that is a ball.
const BALL_MM: f64 = 2e-3;
/// Spacing in mm of the points by which the balloon's axis is given.
const SPACING_MM: f64 = 0.5;
/// Pieces in which the outline of a round end is given.
const CAP: u32 = 6;

/// An inflated balloon on a stretch of a line: a tube of its diameter with round ends.
///
/// As a [`Lumen`] it is the space around the balloon: the signed distance is negative outside of
/// the balloon, and its gradient points into it.
#[derive(Debug, Clone)]
pub struct Balloon {
    axis: Vec<Vector3<f64>>,
    /// The axis without corners, which would be creases on the inner side of a bend.
    line: Line,
    radius_mm: f64,
}

impl Balloon {
    /// A balloon of `diameter_mm` whose near end stands at `from_mm` on a line and whose far end
    /// `length_mm` further on; all in mm and above 0. A balloon shorter than it is wide is a ball.
    /// `line` gives the point at a station of the line.
    #[must_use]
    pub fn new(
        line: impl Fn(f64) -> Vector3<f64>,
        from_mm: f64,
        length_mm: f64,
        diameter_mm: f64,
    ) -> Self {
        let radius_mm = 0.5 * diameter_mm;
        let first = from_mm + radius_mm;
        let last = (from_mm + length_mm - radius_mm).max(first + BALL_MM);
        let mut axis = Vec::new();
        let mut at = first;
        while at < last {
            axis.push(line(at));
            at += SPACING_MM;
        }
        axis.push(line(last));
        let control_point = |(name, at): (usize, &Vector3<f64>)| ControlPoint {
            at: *at,
            diameter_mm,
            name,
        };
        let mut smooth = Line::default();
        smooth.lay(axis.iter().enumerate().map(control_point));
        Self {
            axis,
            line: smooth,
            radius_mm,
        }
    }

    /// Diameter in mm.
    #[must_use]
    pub fn diameter_mm(&self) -> f64 {
        2.0 * self.radius_mm
    }

    /// The surface near `p`, as [`Lumen::near_wall`] gives it, of a balloon whose radius is smaller by `less_mm`.
    pub(super) fn near_wall_within(
        &self,
        p: &Vector3<f64>,
        margin_mm: f64,
        less_mm: f64,
    ) -> Option<WallPoint> {
        let mut seen = self.line.deepest(p, margin_mm - less_mm)?;
        seen.radius_mm -= less_mm;
        Some(seen.wall())
    }

    /// Points along the axis in mm from one end to the other, with the radius there in mm, which
    /// falls to 0 at the round ends.
    pub fn outline(&self) -> impl Iterator<Item = (Vector3<f64>, f64)> {
        let last = self.axis.len() - 1;
        let ends = |i: usize, towards: usize| {
            // A ball has no direction: any will do.
            let out = (self.axis[i] - self.axis[towards])
                .try_normalize(0.0)
                .unwrap_or_else(|| Vector3::x() * if i == 0 { -1.0 } else { 1.0 });
            (0..=CAP).map(move |k| {
                let angle = FRAC_PI_2 * f64::from(k) / f64::from(CAP);
                let p = self.axis[i] + out * (self.radius_mm * angle.sin());
                (p, self.radius_mm * angle.cos())
            })
        };
        let inner = self.axis.iter().skip(1).take(last.saturating_sub(1));
        ends(0, 1.min(last))
            .rev()
            .chain(inner.map(|p| (*p, self.radius_mm)))
            .chain(ends(last, last.saturating_sub(1)))
    }
}

impl Lumen for Balloon {
    fn near_wall(&self, p: &Vector3<f64>, _time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        self.near_wall_within(p, margin_mm, 0.0)
    }

    fn distance(&self, p: &Vector3<f64>) -> f64 {
        self.line.depth(p)
    }
}

#[cfg(test)]
mod tests {
    use super::super::lumen::tests::derivatives_agree;
    use super::*;

    fn balloon() -> Balloon {
        let straight = |station: f64| Vector3::new(station, 0.0, 0.0);
        Balloon::new(straight, 10.0, 8.0, 2.4)
    }

    /// The outline of a capsule lies on its surface, and goes from one pole to the other.
    #[test]
    fn the_outline_lies_on_the_surface() {
        let balloon = balloon();
        let outline: Vec<_> = balloon.outline().collect();
        for (p, radius) in &outline {
            let on = p + Vector3::z() * *radius;
            approx::assert_relative_eq!(balloon.distance(&on), 0.0, epsilon = 1e-9);
        }
        let ends = [outline[0], outline[outline.len() - 1]].map(|(p, _)| p.x);
        approx::assert_relative_eq!(ends[0], 10.0, epsilon = 1e-9);
        approx::assert_relative_eq!(ends[1], 18.0, epsilon = 1e-9);
    }

    #[test]
    fn distances_to_a_straight_balloon_are_those_of_a_capsule() {
        let balloon = balloon();
        for (p, expected) in [
            ((14.0, 1.0, 0.0), 0.2),
            ((14.0, 0.0, 2.0), -0.8),
            ((9.0, 0.0, 0.0), -1.0),
            ((20.0, 0.0, 0.0), -2.0),
        ] {
            let distance = balloon.distance(&Vector3::new(p.0, p.1, p.2));
            approx::assert_relative_eq!(distance, expected, epsilon = 1e-9);
        }
    }

    /// On the inner side of a bend of 6 mm, 4 mm from its middle, where the corners of an axis of
    /// straight stretches would be creases.
    #[test]
    fn a_bent_balloon_has_no_creases() {
        let bend_mm = 6.0;
        let at = |station: f64| {
            let angle = station / bend_mm;
            Vector3::new(angle.cos(), angle.sin(), 0.0) * bend_mm
        };
        let balloon = Balloon::new(at, 0.0, 9.0, 4.0);
        let mut last: Option<Vector3<f64>> = None;
        for k in 400..1100 {
            let direction = at(f64::from(k) * 1e-3 * bend_mm) / bend_mm;
            let seen = balloon
                .near_wall(&(direction * 4.0), 0.0, 1.0)
                .expect("near");
            approx::assert_abs_diff_eq!(seen.distance_mm, 0.0, epsilon = 0.01);
            if let Some(last) = last.replace(seen.gradient) {
                let turned: f64 = (seen.gradient - last).norm();
                assert!(turned < 2e-3, "{turned} at {k}");
            }
        }
    }

    #[test]
    fn gradient_and_hessian_are_the_derivatives_of_the_distance() {
        let balloon = balloon();
        let points = [(14.1, 0.9, 0.5), (10.3, 0.6, -0.4), (17.8, -0.3, 0.8)];
        derivatives_agree(&balloon, &points.map(|(x, y, z)| Vector3::new(x, y, z)));
    }
}
