//! What can be read off the catheter of a pair at rest.

use nalgebra::Vector3;

use super::PairRod;
use crate::solve::guided::{Layout, Readings};

impl PairRod<'_> {
    /// Length of wire in mm in front of the catheter's tip; negative where its tip is inside.
    pub(in crate::solve) fn bare_mm(&self) -> f64 {
        self.layout.bare()
    }

    /// Length of catheter outside the guide in mm.
    pub(in crate::solve) fn catheter_outside_mm(&self) -> f64 {
        self.layout.catheter_outside
    }

    /// Angle in rad by which the catheter's tip is bent when it is free.
    pub(in crate::solve) fn catheter_angle_rad(&self) -> f64 {
        self.layout.catheter.angle_rad()
    }

    /// Largest wall force on the catheter alone within one contact patch, in mN.
    pub(in crate::solve) fn catheter_wall_force(&self) -> f64 {
        self.body.contact.as_ref().map_or(0.0, |c| {
            c.largest_force_on(1, &self.body.rod, self.layout.stations())
        })
    }

    /// Position of the catheter's tip in mm and the direction in which it points.
    pub(in crate::solve) fn catheter_tip(&self) -> (Vector3<f64>, Vector3<f64>) {
        let k = self.layout.ahead;
        (self.body.rod.node(k), -self.body.rod.tangent(k))
    }

    /// Position in mm of the point of the catheter's axis at a distance behind its tip, in mm; the
    /// exit where no more is outside.
    pub(in crate::solve) fn behind_catheter_tip(&self, distance_mm: f64) -> Vector3<f64> {
        self.behind_front(self.layout.along_rod(distance_mm))
    }

    /// Number of nodes outside the guide, from the exit up to that point of the catheter.
    pub(in crate::solve) fn nodes_to(&self, distance_mm: f64) -> usize {
        self.layout.exit - self.layout.at_catheter(distance_mm).0
    }

    /// Outer radius of the catheter in mm.
    pub(in crate::solve) fn catheter_radius_mm(&self) -> f64 {
        self.layout.catheter.radius_mm()
    }
}
