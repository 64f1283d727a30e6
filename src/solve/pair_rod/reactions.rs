//! What the hands feel.
//!
//! Push forces are the derivatives of the elastic energy with respect to the length of each device
//! outside the guide at fixed positions, with what friction takes up at the nodes through which
//! devices flow and along the bore in which the wire slides; the derivatives are taken as central
//! differences of [`PROBE_MM`], but for stretch: an edge is so stiff that a difference is off by more than the
//! force. What the core has flowed goes with the wire.

use nalgebra::Vector3;

use super::layout::PairLayout;
use super::{PairRod, ROTATIONS};
use crate::solve::Reactions;
use crate::solve::core_flow::CoreFlow;
use crate::solve::guided::Layout;

/// Half the difference in mm (and rad) by which energies are compared for the hands' forces.
const PROBE_MM: f64 = 1e-4;

impl PairRod<'_> {
    /// What the hands feel in the present equilibrium; `out` is the direction in which the wire
    /// leaves the catheter.
    pub(super) fn measured_reactions(&self, out: &Vector3<f64>) -> Reactions {
        let rod = &self.body.rod;
        let mut probed = rod.clone();
        // Energy of both devices but for stretch at the present positions, inside the guide and outside,
        // with what flow stores, if they lay in the rod as a layout says.
        let mut energy_with = |mut layout: PairLayout| {
            let by_flow = layout.stored_by_flow(rod);
            layout.flow = CoreFlow::of(&layout.wire);
            layout.renew(&mut probed);
            let stored = probed.stored();
            stored.bend + stored.twist + layout.held_straight() + by_flow
        };
        let mut stored = |layout: &dyn Fn(f64) -> PairLayout| {
            let [there, back] = [layout(PROBE_MM), layout(-PROBE_MM)];
            let longer = there.lengths().into_iter().zip(back.lengths());
            let stretch = longer
                .enumerate()
                .map(|(e, (a, b))| rod.stretch_rate(e) * (a - b));
            (stretch.sum::<f64>() + energy_with(there) - energy_with(back)) / (2.0 * PROBE_MM)
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
        let feed_wire = |d| self.layout.lengthened([d, 0.0]);
        let feed_catheter = |d| self.layout.lengthened([0.0, d]);
        Reactions {
            push: [
                stored(&feed_wire) + slip,
                stored(&feed_catheter) + inflow - slip,
            ],
            torque: ROTATIONS.map(|k| -self.newton.gradient[5 * self.layout.exit + k]),
            // What the wire has flowed does not depend on the catheter's angle.
            steer: if self.layout.catheter.range_rad().is_some() {
                stored(&steered)
            } else {
                0.0
            },
        }
    }
}
