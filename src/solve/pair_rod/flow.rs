//! What the wire's core has flowed, in the cells of a rod through which it moves.

use super::layout::PairLayout;
use super::reactions::PROBE_MM;
use crate::rod::{Hinge, Rod};
use crate::solve::core_flow::CoreSpan;
use crate::solve::guided::Layout;

impl PairLayout {
    /// Energy in mN mm that flow adds to that of an elastic wire at the rod's positions, in the guide and
    /// outside, with what is lost where wire flows that has come into another cell.
    pub(super) fn flow_energy(&self, rod: &Rod<5>) -> f64 {
        if self.flow.is_untouched() {
            return 0.0;
        }
        let mut outside = 0.0;
        for i in 1..=self.exit {
            if !self.is_near_flow(rod, i) {
                continue;
            }
            let hinge = self.wire_hinge(i);
            if let Some(cell) = self.flow.cell(&hinge, self.wire_span(i, &hinge)) {
                outside += rod.flow_energy(i, &hinge, &cell);
            }
        }
        outside + self.flow.held_beyond(&self.wire, self.wire_outside)
    }

    /// Whether the wire in the cell of node `i` has flowed or may flow at the rod's positions. `self` is the
    /// layout of the rod or one that is shifted from it by [`PROBE_MM`].
    fn is_near_flow(&self, rod: &Rod<5>, i: usize) -> bool {
        // A shift changes natural curvature and limit of a cell, integrated over it, by its length times their
        // curvature; no wire or bend is curved by more than ten per millimetre.
        const CHANGE: f64 = 10.0 * PROBE_MM;
        let (from, to) = self.cell(i);
        let (a, b) = (self.along_wire(from).max(0.0), self.along_wire(to));
        self.flow.has_flowed(a, b) || rod.is_near_flow(i, CHANGE)
    }

    /// What of the wire flows in the cell of node `i`, of which `hinge` is the wire's part.
    pub(super) fn wire_span(&self, i: usize, hinge: &Hinge) -> Option<CoreSpan> {
        if !(1..=self.exit).contains(&i) || !hinge.is_present() {
            return None;
        }
        let (from, to) = self.cell(i);
        let (a, b) = (self.along_wire(from), self.along_wire(to));
        if a < 0.0 {
            let stiffness = b / self.wire.compliance_between(0.0, b);
            return Some(CoreSpan {
                limit: self.wire.yield_curvature(stiffness) * hinge.length,
                from: 0.0,
                to: b,
                weight: hinge.length / b,
            });
        }
        Some(CoreSpan::plain(&self.wire, a, b, hinge))
    }
}
