//! Lumens with closed forms, written without any of the crate's own geometry.

use crate::vessel::{Lumen, WallPoint};
use nalgebra::{Matrix3, Vector3};

/// Nearest point of a centreline: position, unit tangent, curvature vector.
#[derive(Debug, Clone, Copy)]
pub struct Foot {
    /// Where it lies, in mm.
    pub at: Vector3<f64>,
    /// Unit tangent there.
    pub tangent: Vector3<f64>,
    /// Curvature vector there in 1/mm.
    pub curvature: Vector3<f64>,
}

/// The wall of a tube of radius `radius` (mm) about the centreline with that foot, as seen from `p` (mm).
#[must_use]
pub fn tube(p: &Vector3<f64>, foot: &Foot, radius: f64) -> WallPoint {
    let out = p - foot.at;
    let rho = out.norm().max(1e-12);
    let g = out / rho;
    let tt = foot.tangent * foot.tangent.transpose();
    let bent = foot.curvature.dot(&g);
    WallPoint {
        distance_mm: rho - radius,
        gradient: g,
        velocity: Vector3::zeros(),
        hessian: (Matrix3::identity() - g * g.transpose() - tt) / rho
            - tt * (bent / (1.0 - rho * bent)),
    }
}

/// A tube in the x-y plane: straight along +x from far behind to `lead` mm, an arc of `bend` mm
/// radius towards +y through `angle` rad (up to half a turn), then straight on without end.
#[derive(Debug, Clone, Copy)]
pub struct BendTube {
    /// Straight part from the origin on, in mm.
    pub lead: f64,
    /// Radius of the bend in mm.
    pub bend: f64,
    /// Angle of the bend in rad.
    pub angle: f64,
    /// Radius of the lumen in mm.
    pub radius: f64,
}

impl BendTube {
    fn foot(&self, p: &Vector3<f64>) -> Foot {
        let line = |from: Vector3<f64>, tangent: Vector3<f64>| Foot {
            at: from + tangent * (p - from).dot(&tangent),
            tangent,
            curvature: Vector3::zeros(),
        };
        let centre = Vector3::new(self.lead, self.bend, 0.0);
        let (x, y) = (p.x - centre.x, centre.y - p.y);
        let turned = x.atan2(y);
        if x < 0.0 && y > 0.0 {
            return line(Vector3::zeros(), Vector3::x());
        }
        let (sin, cos) = self.angle.sin_cos();
        if turned > self.angle || x < 0.0 {
            let from = centre + Vector3::new(sin, -cos, 0.0) * self.bend;
            return line(from, Vector3::new(cos, sin, 0.0));
        }
        let out = Vector3::new(turned.sin(), -turned.cos(), 0.0);
        Foot {
            at: centre + out * self.bend,
            tangent: Vector3::new(turned.cos(), turned.sin(), 0.0),
            curvature: -out / self.bend,
        }
    }
}

impl Lumen for BendTube {
    fn near_wall(&self, p: &Vector3<f64>, _time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        let point = tube(p, &self.foot(p), self.radius);
        (point.distance_mm >= -margin_mm).then_some(point)
    }

    fn distance(&self, p: &Vector3<f64>) -> f64 {
        (p - self.foot(p).at).norm() - self.radius
    }
}

/// The half space above the plane `z = 0`.
#[derive(Debug, Clone, Copy)]
pub struct Floor;

impl Lumen for Floor {
    fn near_wall(&self, p: &Vector3<f64>, _time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        (p.z <= margin_mm).then(|| WallPoint {
            distance_mm: -p.z,
            gradient: -Vector3::z(),
            velocity: Vector3::zeros(),
            hessian: Matrix3::zeros(),
        })
    }

    fn distance(&self, p: &Vector3<f64>) -> f64 {
        -p.z
    }
}
