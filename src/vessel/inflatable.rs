//! A balloon whose diameter a hand changes while devices lie around it.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use nalgebra::Vector3;

use super::balloon::Balloon;
use super::lumen::{Lumen, WallPoint};

/// Bound on the speed of a surface that is set to another diameter between two steps, in mm/s: so large that
/// no contact point counts as clear of it any more.
const SET_ANEW_MM_PER_S: f64 = 1e6;

/// A balloon at its place in a vessel, inflated to any diameter from 0 to its own.
///
/// A smaller one has the same axis with a thinner tube around it. At diameter 0 it is folded on its shaft and
/// takes no room in the lumen.
#[derive(Debug)]
pub struct InflatableBalloon {
    full: Balloon,
    /// Diameter in mm, as bits.
    diameter: AtomicU64,
    changes: AtomicBool,
}

impl InflatableBalloon {
    /// A balloon that is inflated to its own diameter.
    #[must_use]
    pub fn new(full: Balloon) -> Self {
        Self {
            diameter: AtomicU64::new(full.diameter_mm().to_bits()),
            full,
            changes: AtomicBool::new(false),
        }
    }

    /// The balloon at its own diameter.
    #[must_use]
    pub fn full(&self) -> &Balloon {
        &self.full
    }

    /// Diameter in mm.
    #[must_use]
    pub fn diameter_mm(&self) -> f64 {
        f64::from_bits(self.diameter.load(Ordering::Relaxed))
    }

    /// Has another diameter in mm, from 0 to its own, in the step that is made next.
    pub fn set(&self, diameter_mm: f64) {
        let within = diameter_mm.clamp(0.0, self.full.diameter_mm());
        self.diameter.store(within.to_bits(), Ordering::Relaxed);
        self.changes.store(true, Ordering::Relaxed);
    }

    /// Stands from now on.
    pub fn rest(&self) {
        self.changes.store(false, Ordering::Relaxed);
    }

    /// By how much its radius is smaller than that of the full balloon, in mm.
    fn less_mm(&self) -> f64 {
        0.5 * (self.full.diameter_mm() - self.diameter_mm())
    }
}

impl Lumen for InflatableBalloon {
    fn near_wall(&self, p: &Vector3<f64>, _time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        if self.diameter_mm() <= 0.0 {
            return None;
        }
        self.full.near_wall_within(p, margin_mm, self.less_mm())
    }

    fn top_speed_mm_per_s(&self) -> f64 {
        if self.changes.load(Ordering::Relaxed) {
            SET_ANEW_MM_PER_S
        } else {
            0.0
        }
    }

    fn distance(&self, p: &Vector3<f64>) -> f64 {
        if self.diameter_mm() <= 0.0 {
            return f64::NEG_INFINITY;
        }
        self.full.distance(p) - self.less_mm()
    }
}

#[cfg(test)]
mod tests {
    use super::super::lumen::tests::derivatives_agree;
    use super::*;

    fn balloon() -> InflatableBalloon {
        let straight = |s: f64| Vector3::new(s, 0.0, 0.0);
        InflatableBalloon::new(Balloon::new(straight, 10.0, 8.0, 2.4))
    }

    #[test]
    fn a_smaller_balloon_is_a_thinner_tube_round_the_same_axis() {
        let balloon = balloon();
        balloon.set(1.0);
        // The axis goes from 11.2 to 16.8 mm.
        for (p, expected) in [
            ((14.0, 0.9, 0.0), -0.4),
            ((14.0, 0.0, -0.3), 0.2),
            ((10.2, 0.0, 0.0), -0.5),
            ((17.8, 0.0, 0.0), -0.5),
        ] {
            let p = Vector3::new(p.0, p.1, p.2);
            approx::assert_relative_eq!(balloon.distance(&p), expected, epsilon = 1e-9);
            let near = balloon.near_wall(&p, 0.0, 0.6).expect("near");
            approx::assert_relative_eq!(near.distance_mm, expected, epsilon = 1e-9);
        }
        let far = Vector3::new(14.0, 1.2, 0.0);
        assert!(balloon.near_wall(&far, 0.0, 0.6).is_none());
        derivatives_agree(&balloon, &[Vector3::new(14.1, 0.5, 0.4)]);
    }

    #[test]
    fn a_deflated_balloon_takes_no_room_and_a_full_one_is_the_plain_one() {
        let balloon = balloon();
        let on_axis = Vector3::new(14.0, 0.1, 0.0);
        let plain = balloon.full().near_wall(&on_axis, 0.0, 1.0);
        assert_eq!(balloon.near_wall(&on_axis, 0.0, 1.0), plain);
        assert!(plain.is_some());
        balloon.set(-1.0);
        assert!(balloon.near_wall(&on_axis, 0.0, 10.0).is_none());
        balloon.set(9.0);
        approx::assert_relative_eq!(balloon.diameter_mm(), 2.4);
    }

    #[test]
    fn what_was_clear_is_looked_at_again_while_it_changes_and_only_then() {
        let balloon = balloon();
        assert!(balloon.top_speed_mm_per_s() <= 0.0);
        balloon.set(2.0);
        assert!(balloon.top_speed_mm_per_s() > 1e3);
        balloon.rest();
        assert!(balloon.top_speed_mm_per_s() <= 0.0);
    }
}
