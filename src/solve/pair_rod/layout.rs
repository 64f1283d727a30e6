//! Which node of the rod is what: the wire's, the catheter's tip, the catheter's, the exit.
//!
//! Lengths along the rod (`x`) count from its first node: the wire's tip, or the catheter's where
//! the wire's tip is inside it. `s` counts from the wire's tip and `c` from the catheter's.

use std::sync::Arc;

use super::port::Inner;
use crate::device::{Catheter, Wire, catheter_mesh, mesh};
use crate::rod::{Edge, Hinge, Rod};
use crate::solve::body::Body;
use crate::solve::core_flow::CoreFlow;
use crate::solve::guided::{GUIDE_EDGE_MM, Layout};

/// Share of an edge below which a cell that the wire's end reaches into counts as empty of it.
const LEAST_SHARE: f64 = 0.01;

/// Bookkeeping of both devices outside the guide.
#[derive(Debug, Clone)]
pub(in crate::solve) struct PairLayout {
    pub wire: Arc<Wire>,
    pub catheter: Arc<Catheter>,
    edge_mm: f64,
    longest_mm: f64,
    wire_mesh: Arc<[f64]>,
    catheter_mesh: Arc<[f64]>,
    /// Nodes in front of the catheter's tip, which is the number of that node.
    pub ahead: usize,
    /// Number of the exit node.
    pub exit: usize,
    /// Length of the wire outside the guide in mm.
    pub wire_outside: f64,
    /// Length of the catheter outside the guide in mm.
    pub catheter_outside: f64,
    /// A wire that runs in the catheter to a side port.
    pub(super) inner: Option<Inner>,
    /// What the wire's core has flowed.
    pub flow: CoreFlow,
    pub(super) stations: Vec<f64>,
}

impl PairLayout {
    /// Devices that stand out of the guide by these lengths (mm) and will never stand out by more
    /// than `longest_mm`.
    pub(super) fn new(
        wire: &Wire,
        catheter: &Catheter,
        edge_mm: f64,
        [wire_outside, catheter_outside]: [f64; 2],
        longest_mm: f64,
    ) -> Self {
        let wire_mesh = mesh(wire, edge_mm, longest_mm + 4.0);
        let catheter_mesh = catheter_mesh(catheter, edge_mm, longest_mm + 4.0);
        // At least two edges of the catheter, so that every cell has its neighbours.
        let catheter_outside = catheter_outside.max(catheter_mesh[2]);
        let bare = wire_outside - catheter_outside;
        let ahead = if bare < 0.5 * wire_mesh[1] {
            0
        } else {
            wire_mesh
                .partition_point(|&s| s < bare - 0.4 * edge_mm)
                .max(1)
        };
        let covered = catheter_mesh.partition_point(|&c| c < catheter_outside - 0.4 * edge_mm);
        let mut layout = Self {
            wire: Arc::new(wire.clone()),
            catheter: Arc::new(catheter.clone()),
            edge_mm,
            longest_mm: longest_mm + 4.0,
            wire_mesh: wire_mesh.into(),
            catheter_mesh: catheter_mesh.into(),
            ahead,
            exit: ahead + covered,
            wire_outside,
            catheter_outside,
            inner: None,
            flow: CoreFlow::of(wire),
            stations: Vec::new(),
        };
        layout.measure();
        layout
    }

    /// Has another wire in the place of the one whose tip is inside the catheter.
    pub(super) fn take_wire(&mut self, wire: &Wire) {
        let (edge_mm, length_mm) = (self.edge_mm, self.longest_mm);
        self.wire = Arc::new(wire.clone());
        self.flow = CoreFlow::of(wire);
        self.wire_mesh = mesh(wire, edge_mm, length_mm).into();
    }

    /// Bends the catheter's tip to an angle in rad.
    pub(super) fn bend_catheter(&mut self, angle_rad: f64) {
        self.catheter = Arc::new(Catheter::clone(&self.catheter).bent(angle_rad));
    }

    /// The same, whatever the range of its steering.
    pub(super) fn bend_catheter_beyond(&mut self, angle_rad: f64) {
        self.catheter = Arc::new(Catheter::clone(&self.catheter).bent_beyond(angle_rad));
    }

    /// Length of wire in front of the catheter's tip; negative where its tip is inside.
    pub(super) fn bare(&self) -> f64 {
        self.wire_outside - self.catheter_outside
    }

    /// Length of the rod in front of the catheter's tip.
    pub(super) fn lead(&self) -> f64 {
        if self.ahead > 0 { self.bare() } else { 0.0 }
    }

    /// Rest lengths of the edges outside the guide in mm.
    pub(super) fn lengths(&self) -> Vec<f64> {
        let ends = self.stations[..=self.exit].windows(2);
        ends.map(|pair| pair[1] - pair[0]).collect()
    }

    /// Distance `c` of a place along the rod from the catheter's tip.
    pub(super) fn along_catheter(&self, x: f64) -> f64 {
        x - self.lead()
    }

    /// Distance along the rod from its front of a place `c` mm behind the catheter's tip.
    pub(super) fn along_rod(&self, c: f64) -> f64 {
        self.lead() + c
    }

    /// The edge on which the place `c` mm behind the catheter's tip lies, and its share of that edge
    /// from the front; outside the guide.
    pub(super) fn at_catheter(&self, c: f64) -> (usize, f64) {
        let x = self.along_rod(c);
        let behind = self.stations[..=self.exit].partition_point(|&s| s <= x);
        let edge = behind.saturating_sub(1).clamp(self.ahead, self.exit - 1);
        let (from, to) = (self.stations[edge], self.stations[edge + 1]);
        (edge, ((x - from) / (to - from)).clamp(0.0, 1.0))
    }

    fn measure(&mut self) {
        let lead = self.lead();
        let end = lead + self.catheter_outside;
        let covered = self.exit - self.ahead;
        self.stations.clear();
        self.stations
            .extend_from_slice(&self.wire_mesh[..self.ahead]);
        self.stations
            .extend(self.catheter_mesh[..covered].iter().map(|c| lead + c));
        self.stations.extend([end, end + GUIDE_EDGE_MM]);
    }

    fn edge(&self, i: usize) -> Edge {
        let wire = self.wire.axial_stiffness_cap();
        Edge {
            rest_length: self.stations[i + 1] - self.stations[i],
            axial_stiffness: if i < self.ahead {
                wire
            } else {
                wire.max(self.catheter.axial_stiffness_cap())
            },
        }
    }

    /// Ends of the cell of node `i` along the rod: from the middle of one edge to the middle of the next, but
    /// for the catheter's tip. There stiffness and natural curvature jump, so no cell reaches over it: that of
    /// its node ends there, and that of the node behind begins there.
    pub(super) fn cell(&self, i: usize) -> (f64, f64) {
        let middle = |k: usize| 0.5 * (self.stations[k] + self.stations[k + 1]);
        let from = match i {
            _ if i == self.ahead + 1 => self.stations[self.ahead],
            0 => 0.0,
            _ => middle(i - 1),
        };
        let to = if i == self.ahead || i >= self.exit {
            self.stations[i.min(self.exit)]
        } else {
            middle(i)
        };
        (from, to.max(from))
    }

    /// The wire's part in the cell of node `i`. Where the wire ends within the cell, its energy is that of the
    /// part which it fills, at the cell's curvature.
    pub(super) fn wire_hinge(&self, i: usize) -> Hinge {
        let (from, to) = self.cell(i);
        let length = to - from;
        let (a, b) = (self.along_wire(from), self.along_wire(to));
        if b <= 0.0 || (a < 0.0 && b < LEAST_SHARE * length) {
            return Hinge::absent(length);
        }
        let ratio = self.wire.torsion_ratio();
        if a < 0.0 {
            let filled = self.wire.compliance_between(0.0, b) * (length / b).powi(2);
            return Hinge {
                length,
                bending_compliance: filled,
                torsional_compliance: filled / ratio,
                natural_curvature: self
                    .wire
                    .natural_curvature_between(0.0, b)
                    .map(|k| k * length / b),
                natural_twist: 0.0,
            };
        }
        let alone = self.wire.compliance_between(a, b);
        Hinge {
            length,
            bending_compliance: alone,
            torsional_compliance: alone / ratio,
            natural_curvature: self.wire.natural_curvature_between(a, b),
            natural_twist: 0.0,
        }
    }

    /// The catheter's part in the cell of node `i`: nothing up to its tip, where it ends free.
    fn catheter_hinge(&self, i: usize) -> Hinge {
        let (from, to) = self.cell(i);
        if i <= self.ahead {
            return Hinge::absent(to - from);
        }
        let (a, b) = (self.along_catheter(from), self.along_catheter(to));
        let alone = self.catheter.compliance_between(a, b);
        let inner = self.inner.as_ref();
        Hinge {
            length: to - from,
            bending_compliance: inner.map_or(alone, |i| i.stiffened(self, a, b, alone)),
            torsional_compliance: alone / self.catheter.torsion_ratio(),
            natural_curvature: self.catheter.natural_curvature_between(a, b),
            natural_twist: 0.0,
        }
    }

    /// Rest state of all edges and hinges: edges, wire, catheter.
    pub(super) fn rest(&self) -> (Vec<Edge>, Vec<Hinge>, Vec<Hinge>) {
        let nodes = self.stations.len();
        (
            (0..nodes - 1).map(|i| self.edge(i)).collect(),
            (0..nodes).map(|i| self.wire_hinge(i)).collect(),
            (0..nodes).map(|i| self.catheter_hinge(i)).collect(),
        )
    }

    /// Gives the rod the rest state of the present lengths, with what has flowed.
    pub(super) fn renew(&self, rod: &mut Rod<5>) {
        self.renew_elastic(rod);
        self.lay_flow(rod);
    }

    /// Gives the rod the rest state of the present lengths; its core is left as it is.
    pub(super) fn renew_elastic(&self, rod: &mut Rod<5>) {
        for i in 0..rod.edges.len() {
            rod.edges[i] = self.edge(i);
        }
        for i in 0..rod.hinges.len() {
            rod.hinges[i] = self.wire_hinge(i);
            rod.cover[i] = self.catheter_hinge(i);
        }
    }

    /// Changes the lengths outside by these amounts in mm; rod and contact follow.
    pub(super) fn lengthen(&mut self, body: &mut Body<'_, 5>, [wire, catheter]: [f64; 2]) {
        self.wire_outside += wire;
        self.catheter_outside += catheter;
        self.measure();
        self.renew(&mut body.rod);
        for edge in [self.ahead.max(1) - 1, self.exit - 1] {
            let length = body.rod.edges[edge].rest_length;
            for contact in body.contacts_mut().filter(|_| edge > 0) {
                contact.set_edge_length(edge, length);
            }
        }
    }

    /// The same devices and nodes with the lengths outside changed by these amounts in mm.
    pub(super) fn lengthened(&self, [wire, catheter]: [f64; 2]) -> Self {
        let mut out = self.clone();
        out.wire_outside += wire;
        out.catheter_outside += catheter;
        out.measure();
        out
    }

    /// Before a step in which the lengths outside change by these amounts: adds nodes where an edge
    /// through which a device flows has grown, takes nodes away where it would become too short.
    /// Returns whether anything changed.
    pub(super) fn remesh(&mut self, body: &mut Body<'_, 5>, [wire, catheter]: [f64; 2]) -> bool {
        let mut origin: Vec<Option<usize>> = (0..body.rod.edges.len()).map(Some).collect();
        let mut changed = self.remesh_tip(&mut body.rod, wire - catheter, &mut origin);
        changed |= self.remesh_exit(&mut body.rod, catheter, &mut origin);
        if changed {
            self.renew(&mut body.rod);
            let lengths = self.lengths();
            for contact in body.contacts_mut() {
                contact.lay(&lengths, self.ahead, &origin);
            }
        }
        changed
    }

    /// Lays the cells of the bore, if the wire rubs in it, on the catheter's edges.
    pub(super) fn lay_bore(&self, body: &mut Body<'_, 5>) {
        if let Some(bore) = &mut body.bore {
            bore.lay(self.ahead, &self.lengths()[self.ahead..]);
        }
    }

    /// In front of the catheter's tip, from which `feed` mm more of wire will stand out.
    fn remesh_tip(&mut self, rod: &mut Rod<5>, feed: f64, origin: &mut Vec<Option<usize>>) -> bool {
        let mut changed = false;
        loop {
            let bare = self.bare() + feed;
            let k = self.ahead;
            if k == 0 {
                if feed < 0.0 || bare < 0.6 * self.wire_mesh[1] {
                    return changed;
                }
                rod.extend_front(Edge {
                    rest_length: bare,
                    axial_stiffness: self.wire.axial_stiffness_cap(),
                });
                origin.insert(0, None);
                self.ahead = 1;
                self.exit += 1;
            } else if feed < 0.0 {
                if bare - self.wire_mesh[k - 1] >= 0.4 * self.spacing(k) {
                    return changed;
                }
                if k == 1 {
                    rod.cut_front();
                    origin.remove(0);
                } else {
                    rod.merge_edges(k - 2);
                    origin.remove(k - 1);
                    origin[k - 2] = None;
                }
                self.ahead -= 1;
                self.exit -= 1;
            } else {
                let (Some(&next), last) = (self.wire_mesh.get(k), self.wire_mesh[k - 1]) else {
                    return changed;
                };
                let rest = self.bare() - last;
                if rest <= 1.5 * (next - last) {
                    return changed;
                }
                rod.split_edge(k - 1, (next - last) / rest);
                origin[k - 1] = None;
                origin.insert(k, None);
                self.ahead += 1;
                self.exit += 1;
            }
            self.measure();
            changed = true;
        }
    }

    /// Length of the edge of the wire's mesh in front of the last node before the catheter's tip.
    fn spacing(&self, ahead: usize) -> f64 {
        if ahead == 1 {
            self.wire_mesh[1]
        } else {
            self.wire_mesh[ahead - 1] - self.wire_mesh[ahead - 2]
        }
    }

    /// At the exit, from which `feed` mm more of catheter will stand out.
    fn remesh_exit(
        &mut self,
        rod: &mut Rod<5>,
        feed: f64,
        origin: &mut Vec<Option<usize>>,
    ) -> bool {
        let mut changed = false;
        loop {
            let (exit, covered) = (self.exit, self.exit - self.ahead);
            let last = self.catheter_mesh[covered - 1];
            let before = self.catheter_mesh[covered.max(2) - 2];
            if feed < 0.0 {
                let rest = self.catheter_outside + feed - last;
                if covered <= 2 || rest >= 0.4 * (last - before) {
                    return changed;
                }
                rod.merge_edges(exit - 2);
                origin.remove(exit - 1);
                origin[exit - 2] = None;
                self.exit -= 1;
            } else {
                let Some(&next) = self.catheter_mesh.get(covered) else {
                    return changed;
                };
                let rest = self.catheter_outside - last;
                if rest <= 1.5 * (next - last) {
                    return changed;
                }
                rod.split_edge(exit - 1, (next - last) / rest);
                origin[exit - 1] = None;
                origin.insert(exit, None);
                self.exit += 1;
            }
            self.measure();
            changed = true;
        }
    }
}
