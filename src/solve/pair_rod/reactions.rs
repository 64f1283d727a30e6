//! What the hands feel.
//!
//! Push forces are the derivatives of the elastic energy with respect to the length of each device
//! outside the guide at fixed positions, with what friction takes up at the nodes through which
//! devices flow and along the bore in which the wire slides; the derivatives are taken as central
//! differences of [`PROBE_MM`], but for stretch: an edge is so stiff that a difference is off by more than the
//! force.
//!
//! What the core has flowed goes with the wire, and wire flows on where it comes into a cell of another
//! curvature. What that loses resists either way of sliding, as friction does: while the wire slides through
//! the catheter's tip the difference is taken that way, and while it does not, the force is the last one as far
//! as it lies between those of both ways. The sum of both push forces has no such doubt.

use nalgebra::Vector3;

use super::layout::PairLayout;
use super::{PairRod, ROTATIONS};
use crate::solve::Reactions;
use crate::solve::guided::Layout;

/// Half the difference in mm (and rad) by which energies are compared for the hands' forces.
pub(super) const PROBE_MM: f64 = 1e-4;

/// How energy changes with a length or an angle, in mN (or mN mm).
struct Rate {
    elastic: f64,
    /// With what is stored by flow and lost to it, when the length shrinks and when it grows.
    by_flow: [f64; 2],
}

impl Rate {
    fn mean(&self) -> f64 {
        self.elastic + 0.5 * (self.by_flow[0] + self.by_flow[1])
    }

    /// The force that moves the wire where it slid by `slid` mm to get here, and where it did not, the one
    /// nearest to `before` that moves it neither way.
    fn where_slides(&self, slid: f64, before: f64) -> f64 {
        let [back, on] = self.by_flow.map(|by_flow| self.elastic + by_flow);
        match slid {
            _ if slid > 0.0 => on,
            _ if slid < 0.0 => back,
            _ => before.max(back.min(on)).min(back.max(on)),
        }
    }
}

impl PairRod<'_> {
    /// What the hands feel in the present equilibrium, to which the wire slid forward in the catheter by
    /// `slid` mm; `out` is the direction in which it leaves the catheter.
    pub(super) fn measured_reactions(&self, slid: f64, out: &Vector3<f64>) -> Reactions {
        let rod = &self.body.rod;
        let mut probed = rod.clone();
        probed.core.clear();
        // Energy of both devices but for stretch and flow at the present positions, inside the guide and outside,
        // if they lay in the rod as a layout says.
        let mut elastic = |layout: PairLayout| {
            layout.renew_elastic(&mut probed);
            let stored = probed.stored();
            stored.bend + stored.twist + layout.held_straight()
        };
        let flowed = self.layout.flow_energy(rod);
        let mut rate = |layout: &dyn Fn(f64) -> PairLayout| {
            let [there, back] = [layout(PROBE_MM), layout(-PROBE_MM)];
            let longer = there.lengths().into_iter().zip(back.lengths());
            let stretch = longer
                .enumerate()
                .map(|(e, (a, b))| rod.stretch_rate(e) * (a - b));
            let by_flow = [
                flowed - back.flow_energy(rod),
                there.flow_energy(rod) - flowed,
            ];
            let stretch: f64 = stretch.sum();
            Rate {
                elastic: (stretch + elastic(there) - elastic(back)) / (2.0 * PROBE_MM),
                by_flow: by_flow.map(|change| change / PROBE_MM),
            }
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
        let both = rate(&|d| self.layout.lengthened([d, d])).mean() + inflow;
        let wire = rate(&|d| self.layout.lengthened([d, 0.0]));
        let wire = wire.where_slides(slid, self.reactions.push[0] - slip) + slip;
        let steered = |d: f64| {
            let mut layout = self.layout.clone();
            layout.bend_catheter_beyond(angle + d);
            layout
        };
        Reactions {
            push: [wire, both - wire],
            torque: ROTATIONS.map(|k| -self.newton.gradient[5 * self.layout.exit + k]),
            steer: if self.layout.catheter.range_rad().is_some() {
                rate(&steered).mean()
            } else {
                0.0
            },
        }
    }
}
