//! What the wire's core has flowed, in the cells of a rod through which it moves.

use super::layout::PairLayout;
use crate::rod::{Hinge, Rod};
use crate::solve::core_flow::{Lies, Stretch};
use crate::solve::guided::Layout;

impl PairLayout {
    /// Energy in mN mm that flow, as it is, adds to that of an elastic wire at the rod's positions, in
    /// the guide and outside.
    pub(super) fn stored_by_flow(&self, rod: &Rod<5>) -> f64 {
        if self.flow.is_untouched() {
            return 0.0;
        }
        let outside = (1..=self.exit).filter_map(|i| {
            let hinge = self.wire_hinge(i);
            let cell = self.flow.cell(&hinge, self.wire_lies(i, &hinge))?;
            (!cell.flow().is_empty()).then(|| rod.stored_by_flow(i, &hinge, &cell))
        });
        outside.sum::<f64>() + self.flow.held_beyond(&self.wire, self.wire_outside)
    }

    /// What of the wire flows in the cell of node `i`, of which `hinge` is the wire's part.
    ///
    /// At the catheter's tip it is the part in front, which bends more than the one behind; what that
    /// has flowed before counts as much as its natural curvature.
    pub(super) fn wire_lies(&self, i: usize, hinge: &Hinge) -> Option<Lies> {
        if !(1..=self.exit).contains(&i) || !hinge.is_present() {
            return None;
        }
        let (from, to) = self.cell(i);
        let (a, b) = (self.along_wire(from), self.along_wire(to));
        let limit = |a: f64, b: f64| {
            let stiffness = (b - a) / self.wire.compliance_between(a, b);
            (self.wire.yield_curvature(stiffness), stiffness)
        };
        if a < 0.0 {
            return Some(Lies {
                limit: limit(0.0, b).0 * hinge.length,
                flows: Stretch {
                    from: 0.0,
                    to: b,
                    weight: hinge.length / b,
                },
                adjacent: None,
            });
        }
        if i == self.ahead {
            let s = self.along_wire(self.stations()[i]);
            let (curvature, stiffness) = limit(a, s);
            let front = self.wire.compliance_between(a, s);
            let weight = (hinge.bending_compliance - front) / self.wire.compliance_between(s, b);
            return Some(Lies {
                limit: curvature * stiffness * hinge.bending_compliance,
                flows: Stretch {
                    from: a,
                    to: s,
                    weight: 1.0,
                },
                adjacent: Some(Stretch {
                    from: s,
                    to: b,
                    weight,
                }),
            });
        }
        Some(Lies::plain(&self.wire, a, b, hinge))
    }
}
