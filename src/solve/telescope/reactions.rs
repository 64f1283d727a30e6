//! What the hands feel, and the work they do.
//!
//! Push forces are the derivatives of the elastic energy with respect to the length of each device
//! outside the guide at fixed positions, with what friction takes up at the nodes through which
//! devices flow; the derivatives are taken as central differences of [`PROBE_MM`].

use nalgebra::Vector3;

use super::layout::Layout;
use super::{Hands, ROTATIONS, Reactions, Telescope};

/// Half the difference in mm (and rad) by which energies are compared for the hands' forces.
const PROBE_MM: f64 = 1e-4;

impl Telescope<'_> {
    /// Work of the hands in a step that ends with the reactions `now`.
    pub(super) fn work(&self, now: &Reactions, hands: Hands) -> f64 {
        let mean = |before: f64, after: f64| 0.5 * (before + after);
        let before = &self.reactions;
        let mut sum = mean(before.steer, now.steer) * hands.steer;
        for k in 0..2 {
            sum += mean(before.push[k], now.push[k]) * hands.feeds()[k]
                + mean(before.torque[k], now.torque[k]) * hands.turns()[k];
        }
        sum
    }

    /// What the hands feel in the present equilibrium; `out` is the direction in which the wire
    /// leaves the catheter.
    pub(super) fn measured_reactions(&self, out: &Vector3<f64>) -> Reactions {
        let rod = &self.body.rod;
        let mut probed = rod.clone();
        // Elastic energy of both devices at the present positions, inside the guide and outside, if
        // they lay in the rod as a layout says.
        let mut energy_with = |layout: Layout| {
            layout.renew(&mut probed);
            probed.stored().total() + layout.held_straight()
        };
        let mut slope = |layout: &dyn Fn(f64) -> Layout| {
            (energy_with(layout(PROBE_MM)) - energy_with(layout(-PROBE_MM))) / (2.0 * PROBE_MM)
        };
        let (mut inflow, mut slip) = (0.0, 0.0);
        for contact in self.body.contact.iter().chain(&self.body.others) {
            inflow += contact.inflow_force(rod, &self.guide_tip.axis);
            slip += contact.slip_force(rod, out);
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
