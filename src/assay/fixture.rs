//! Walls of fixtures: a plate, and jaws or plates on two sides.

use nalgebra::{Matrix3, Vector3};

use crate::vessel::{Lumen, WallPoint};

/// The half space on one side of a flat plate.
#[derive(Debug, Clone, Copy)]
pub struct Plate {
    /// A point of the plate in mm.
    pub at: Vector3<f64>,
    /// Unit normal into the plate, away from the wire.
    pub normal: Vector3<f64>,
}

impl Lumen for Plate {
    fn near_wall(&self, p: &Vector3<f64>, _time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        let distance_mm = self.distance(p);
        (distance_mm >= -margin_mm).then(|| WallPoint {
            distance_mm,
            gradient: self.normal,
            velocity: Vector3::zeros(),
            hessian: Matrix3::zeros(),
        })
    }

    fn distance(&self, p: &Vector3<f64>) -> f64 {
        (p - self.at).dot(&self.normal)
    }
}

/// The space between two parallel plates square to x, at `-half_mm` and `half_mm`.
#[derive(Debug, Clone, Copy)]
pub struct Slot {
    /// Half of the distance between the plates in mm.
    pub half_mm: f64,
}

impl Slot {
    fn nearer(self, p: &Vector3<f64>) -> Plate {
        let normal = Vector3::x() * p.x.signum();
        Plate {
            at: normal * self.half_mm,
            normal,
        }
    }
}

impl Lumen for Slot {
    fn near_wall(&self, p: &Vector3<f64>, time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        self.nearer(p).near_wall(p, time_s, margin_mm)
    }

    fn distance(&self, p: &Vector3<f64>) -> f64 {
        self.nearer(p).distance(p)
    }
}
