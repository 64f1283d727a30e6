//! What the hands feel.
//!
//! Push forces are the derivatives of the elastic energy with respect to the length of each device
//! outside the guide at fixed positions, with what friction takes up at the nodes through which
//! devices flow and along the bore in which the wire slides; the derivatives are taken as central differences of [`PROBE_MM`].

use nalgebra::Vector3;

use super::layout::PairLayout;
use super::{PairRod, ROTATIONS};
use crate::solve::Reactions;
use crate::solve::guided::Layout;

/// Half the difference in mm (and rad) by which energies are compared for the hands' forces.
const PROBE_MM: f64 = 1e-4;

impl PairRod<'_> {
    /// What the hands feel in the present equilibrium; `out` is the direction in which the wire
    /// leaves the catheter.
    pub(super) fn measured_reactions(&self, out: &Vector3<f64>) -> Reactions {
        let rod = &self.body.rod;
        let mut probed = rod.clone();
        // Elastic energy of both devices at the present positions, inside the guide and outside, if
        // they lay in the rod as a layout says.
        let mut energy_with = |layout: PairLayout| {
            layout.renew(&mut probed);
            probed.stored().total() + layout.held_straight()
        };
        let mut slope = |layout: &dyn Fn(f64) -> PairLayout| {
            (energy_with(layout(PROBE_MM)) - energy_with(layout(-PROBE_MM))) / (2.0 * PROBE_MM)
        };
        let (mut inflow, mut slip) = (0.0, 0.0);
        for contact in self.body.contacts() {
            inflow += contact.inflow_force(rod, &self.guide_tip.axis);
            slip += contact.slip_force(rod, out);
        }
        if let Some(bore) = &self.body.bore {
            slip += bore.along::<5>(&rod.q);
        }
        let angle = self.layout.catheter.angle_rad();
        let steered = |d: f64| {
            let mut layout = self.layout.clone();
            layout.catheter = layout.catheter.bent_beyond(angle + d);
            layout
        };
        Reactions {
            push: [
                slope(&|d| self.layout.lengthened([d, 0.0])) + slip,
                slope(&|d| self.layout.lengthened([0.0, d])) + inflow - slip,
            ],
            torque: ROTATIONS.map(|k| -self.newton.gradient[5 * self.layout.exit + k]),
            steer: if self.layout.catheter.range_rad().is_some() {
                slope(&steered)
            } else {
                0.0
            },
        }
    }
}
