//! What the hands feel.
//!
//! Push forces are the derivatives of the elastic energy with respect to the length of each device
//! outside the guide at fixed positions, with what friction takes up at the nodes through which
//! devices flow and along the bore in which the wire slides; the derivatives are taken as central
//! differences of [`PROBE_MM`]. What the core has flowed is known cell by cell alone, so its part is a
//! difference over about the length of a cell.

use nalgebra::Vector3;

use super::layout::PairLayout;
use super::{PairRod, ROTATIONS};
use crate::solve::Reactions;
use crate::solve::core_flow::CoreFlow;
use crate::solve::guided::Layout;

/// Half the difference in mm (and rad) by which energies are compared for the hands' forces.
const PROBE_MM: f64 = 1e-4;

/// The same for the energy of flow, over the edge at the tip. No edge is shorter than 0.4 of that.
const FLOW_PROBE: f64 = 0.3;

impl PairRod<'_> {
    /// What the hands feel in the present equilibrium; `out` is the direction in which the wire
    /// leaves the catheter.
    pub(super) fn measured_reactions(&self, out: &Vector3<f64>) -> Reactions {
        let rod = &self.body.rod;
        let mut probed = rod.clone();
        // Elastic energy of both devices at the present positions, inside the guide and outside, if
        // they lay in the rod as a layout says, and nothing had flowed.
        let mut energy_with = |mut layout: PairLayout| {
            layout.flow = CoreFlow::of(&layout.wire);
            layout.renew(&mut probed);
            probed.stored().total() + layout.held_straight()
        };
        let has_flowed = !self.layout.flow.is_untouched();
        let flow_probe_mm = FLOW_PROBE * self.settings.edge_mm;
        let mut elastic = |layout: &dyn Fn(f64) -> PairLayout| {
            (energy_with(layout(PROBE_MM)) - energy_with(layout(-PROBE_MM))) / (2.0 * PROBE_MM)
        };
        let flow = |layout: &dyn Fn(f64) -> PairLayout| {
            if !has_flowed {
                return 0.0;
            }
            let flow = [flow_probe_mm, -flow_probe_mm].map(|d| layout(d).stored_by_flow(rod));
            (flow[0] - flow[1]) / (2.0 * flow_probe_mm)
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
                elastic(&feed_wire) + flow(&feed_wire) + slip,
                elastic(&feed_catheter) + flow(&feed_catheter) + inflow - slip,
            ],
            torque: ROTATIONS.map(|k| -self.newton.gradient[5 * self.layout.exit + k]),
            // What the wire has flowed does not depend on the catheter's angle.
            steer: if self.layout.catheter.range_rad().is_some() {
                elastic(&steered)
            } else {
                0.0
            },
        }
    }
}
