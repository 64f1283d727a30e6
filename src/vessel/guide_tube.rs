//! A lumen together with the guiding catheter that ends in it, for wire that lies back in the guide.

use nalgebra::{Matrix3, Vector3};

use super::bed::{Hang, MovedTree};
use super::blend::{smooth_min, smooth_min_wall};
use super::lumen::{Lumen, WallPoint};
use crate::products::outer;

/// Width in mm over which the guide's lumen blends into the vessel at its mouth.
const MOUTH_BLEND_MM: f64 = 0.3;

/// Spacing in mm at which the vessel is looked for behind the guide's mouth.
const SCAN_STEP_MM: f64 = 0.5;

/// A lumen and the straight tube of a guide that opens into it. Where the guide's end lies inside
/// a vessel, the union is the vessel: the guide's own wall is felt only outside of it.
#[derive(Clone, Copy)]
pub struct WithGuide<'a> {
    lumen: &'a dyn Lumen,
    exit: Vector3<f64>,
    axis: Vector3<f64>,
    radius_mm: f64,
    /// How far behind the mouth the guide's tube is alone, in mm.
    alone_behind_mm: f64,
}

impl<'a> WithGuide<'a> {
    /// The vessel `lumen` with a guide that opens at `exit` (mm) in the direction `axis` (a unit
    /// vector into the vessel), whose lumen has the radius `radius_mm` and is straight over
    /// `length_mm` behind its mouth.
    #[must_use]
    pub fn new(
        lumen: &'a dyn Lumen,
        exit: Vector3<f64>,
        axis: Vector3<f64>,
        radius_mm: f64,
        length_mm: f64,
    ) -> Self {
        let clear = radius_mm + MOUTH_BLEND_MM + SCAN_STEP_MM;
        let mut alone_behind_mm = 0.0;
        let mut behind = 0.0;
        while behind <= length_mm {
            if lumen.distance(&(exit - axis * behind)) < clear {
                alone_behind_mm = behind + SCAN_STEP_MM;
            }
            behind += SCAN_STEP_MM;
        }
        Self {
            lumen,
            exit,
            axis,
            radius_mm,
            alone_behind_mm,
        }
    }

    /// The guide's tube at `p`, if `p` does not lie beyond its mouth, and whether it is alone there.
    fn tube(&self, p: &Vector3<f64>) -> Option<(WallPoint, bool)> {
        let offset = p - self.exit;
        let along = offset.dot(&self.axis);
        let alone = along < -self.alone_behind_mm;
        let across = offset - self.axis * along;
        let from_axis = across.norm();
        let radial = from_axis - self.radius_mm;
        if along >= MOUTH_BLEND_MM {
            return None;
        }
        let axial = outer(&self.axis, &self.axis);
        if along > radial {
            // Nearer to the mouth than to the wall.
            let mouth = WallPoint {
                distance_mm: along,
                gradient: self.axis,
                velocity: Vector3::zeros(),
                hessian: Matrix3::zeros(),
            };
            return Some((mouth, alone));
        }
        let normal = across / from_axis.max(1e-3);
        let wall = WallPoint {
            distance_mm: radial,
            gradient: normal,
            velocity: Vector3::zeros(),
            hessian: (Matrix3::identity() - axial - outer(&normal, &normal)) / from_axis.max(1e-3),
        };
        Some((wall, alone))
    }
}

impl Lumen for WithGuide<'_> {
    fn near_wall(&self, p: &Vector3<f64>, time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        let Some((tube, alone)) = self.tube(p) else {
            return self.lumen.near_wall(p, time_s, margin_mm);
        };
        if tube.distance_mm < -margin_mm {
            return None;
        }
        if alone {
            return Some(tube);
        }
        let vessel = self.lumen.near_wall(p, time_s, margin_mm)?;
        let union = smooth_min_wall(&vessel, &tube, MOUTH_BLEND_MM);
        (union.distance_mm >= -margin_mm).then_some(union)
    }

    fn top_speed_mm_per_s(&self) -> f64 {
        self.lumen.top_speed_mm_per_s()
    }

    fn giving(&self) -> Option<&MovedTree> {
        self.lumen.giving()
    }

    fn at_rest(&self, p: &Vector3<f64>) -> Vector3<f64> {
        self.lumen.at_rest(p)
    }

    fn hang(&self, p: &Vector3<f64>) -> Option<(WallPoint, Hang)> {
        match self.tube(p) {
            None => self.lumen.hang(p),
            Some((_, true)) => None,
            Some((tube, false)) => {
                let vessel = self.lumen.hang(p)?;
                Some(Hang::join(vessel, (tube, Hang::default()), MOUTH_BLEND_MM))
            }
        }
    }

    fn distance(&self, p: &Vector3<f64>) -> f64 {
        match self.tube(p) {
            Some((tube, true)) => tube.distance_mm,
            Some((tube, false)) => {
                smooth_min(self.lumen.distance(p), tube.distance_mm, MOUTH_BLEND_MM)
            }
            None => self.lumen.distance(p),
        }
    }
}
