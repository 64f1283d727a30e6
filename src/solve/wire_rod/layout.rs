//! The wire's mesh and its end at the guide: nodes that come and go, cells cut by the exit.

use std::sync::Arc;

use nalgebra::Vector3;

use crate::device::{Wire, mesh};
use crate::rod::{Edge, Hinge, Rod};
use crate::solve::GuideTip;
use crate::solve::body::Body;
use crate::solve::core_flow::{CoreFlow, CoreSpan};
use crate::solve::guided::{GUIDE_EDGE_MM, Layout};

/// The hinge whose cell reaches from `a` to `b` mm behind the tip of a wire, `a < b`.
#[must_use]
pub fn wire_hinge(wire: &Wire, a: f64, b: f64) -> Hinge {
    let compliance = wire.compliance_between(a, b);
    Hinge {
        length: b - a,
        bending_compliance: compliance,
        torsional_compliance: compliance / wire.torsion_ratio(),
        natural_curvature: wire.natural_curvature_between(a, b),
        natural_twist: 0.0,
    }
}

/// Bookkeeping of the part of the wire outside the guide.
#[derive(Debug, Clone)]
pub(in crate::solve) struct WireLayout {
    pub(super) wire: Arc<Wire>,
    /// Stations of all material nodes from the tip, in mm.
    mesh: Arc<[f64]>,
    /// Stations of the rod's nodes: material nodes, exit, guide node.
    pub(super) stations: Vec<f64>,
    /// Length outside the guide in mm.
    pub(super) outside: f64,
    /// What the wire's core has flowed.
    pub(in crate::solve) flow: CoreFlow,
}

impl WireLayout {
    pub(super) fn new(wire: &Wire, edge_mm: f64, outside_mm: f64, longest_mm: f64) -> Self {
        let mesh = mesh(wire, edge_mm, longest_mm + 4.0);
        // At least two material nodes, so that every cell has its neighbours.
        let outside = outside_mm.max(mesh[2]);
        let material = mesh.partition_point(|&s| s < outside - 0.4 * edge_mm);
        let mut stations = mesh[..material].to_vec();
        stations.extend([outside, outside + GUIDE_EDGE_MM]);
        Self {
            flow: CoreFlow::of(wire),
            wire: Arc::new(wire.clone()),
            mesh: mesh.into(),
            stations,
            outside,
        }
    }

    /// The rod at rest, straight along the guide's axis.
    pub(super) fn straight_rod(&self, guide_tip: &GuideTip, roll: f64) -> Rod {
        self.rod_along(guide_tip, roll, |behind| guide_tip.axis * behind)
    }

    /// The rod on a path that begins at the guide's end along the guide's axis; `path` gives the
    /// place from the guide's end, in mm, against the length of path from there (negative inside
    /// the guide).
    pub(super) fn rod_along(
        &self,
        guide_tip: &GuideTip,
        roll: f64,
        path: impl Fn(f64) -> Vector3<f64>,
    ) -> Rod {
        let nodes: Vec<_> = self
            .stations
            .iter()
            .map(|s| guide_tip.exit + path(self.outside - s))
            .collect();
        let edges = (0..nodes.len() - 1).map(|i| self.edge(i)).collect();
        let hinges = (0..nodes.len()).map(|i| self.hinge(i)).collect();
        let mut rod = Rod::new(&nodes, edges, hinges, guide_tip.reference());
        for i in 0..nodes.len() - 1 {
            rod.q[4 * i + 3] = -roll;
        }
        rod.refresh();
        rod
    }

    fn edge(&self, i: usize) -> Edge {
        Edge {
            rest_length: self.stations[i + 1] - self.stations[i],
            axial_stiffness: self.wire.axial_stiffness_cap(),
        }
    }

    /// Ends of the cell of node `i`, from the tip, in mm.
    pub(super) fn cell(&self, i: usize) -> (f64, f64) {
        let middle = |k: usize| 0.5 * (self.stations[k] + self.stations[k + 1]);
        let from = if i == 0 { 0.0 } else { middle(i - 1) };
        let to = if i >= self.exit() {
            self.outside
        } else {
            middle(i)
        };
        (from, to.max(from))
    }

    fn hinge(&self, i: usize) -> Hinge {
        let (a, b) = self.cell(i);
        wire_hinge(&self.wire, a, b)
    }

    /// Changes the length outside; edge and cells at the exit follow.
    pub(super) fn set_outside(&mut self, body: &mut Body<'_>, feed: f64) {
        self.outside += feed;
        let exit = self.exit();
        self.stations[exit] = self.outside;
        self.stations[exit + 1] = self.outside + GUIDE_EDGE_MM;
        self.renew(body);
        self.lay_flow(&mut body.rod);
    }

    /// Sets edge, cells and contact weights at the exit from the stations.
    fn renew(&self, body: &mut Body<'_>) {
        let exit = self.exit();
        body.rod.edges[exit - 1] = self.edge(exit - 1);
        for i in exit.saturating_sub(2).max(1)..=exit {
            body.rod.hinges[i] = self.hinge(i);
        }
        let length = body.rod.edges[exit - 1].rest_length;
        for contact in body.contacts_mut() {
            contact.set_last_edge_length(length);
        }
    }

    /// Before a step: adds nodes where the edge at the exit has grown, takes nodes away where it
    /// would become too short. Returns whether anything changed.
    pub(super) fn remesh(&mut self, body: &mut Body<'_>, feed: f64) -> bool {
        if feed < 0.0 {
            self.make_room(body, feed)
        } else {
            self.split(body)
        }
    }

    /// Before wire is drawn back by `-feed`: takes nodes away that would come too near to the
    /// exit. Returns whether any were.
    fn make_room(&mut self, body: &mut Body<'_>, feed: f64) -> bool {
        let mut changed = false;
        loop {
            let exit = self.exit();
            if exit <= 2 {
                return changed;
            }
            let rest = self.outside + feed - self.stations[exit - 1];
            if rest >= 0.4 * (self.stations[exit - 1] - self.stations[exit - 2]) {
                return changed;
            }
            body.rod.merge_edges(exit - 2);
            self.stations.remove(exit - 1);
            for contact in body.contacts_mut() {
                contact.truncate_edges(exit - 2);
                contact.push_edge(exit - 2, self.stations[exit - 1] - self.stations[exit - 2]);
            }
            self.renew(body);
            changed = true;
        }
    }

    /// Splits the edge at the exit while it is long enough for one more node. Returns whether it
    /// was split.
    fn split(&mut self, body: &mut Body<'_>) -> bool {
        let mut changed = false;
        loop {
            let exit = self.exit();
            // Material nodes outside are the first `exit` of the mesh.
            let Some(&next) = self.mesh.get(exit) else {
                return changed;
            };
            let length = next - self.stations[exit - 1];
            let rest = self.outside - self.stations[exit - 1];
            if rest <= 1.5 * length {
                return changed;
            }
            body.rod.split_edge(exit - 1, length / rest);
            self.stations.insert(exit, next);
            body.rod.edges[exit - 1] = self.edge(exit - 1);
            for contact in body.contacts_mut() {
                contact.truncate_edges(exit - 1);
                contact.push_edge(exit - 1, length);
                contact.push_edge(exit, rest - length);
            }
            self.renew(body);
            changed = true;
        }
    }

    /// Derivative of the elastic energy, the part held straight in the guide included, with
    /// respect to the length outside at fixed positions, in mN.
    pub(super) fn configurational_force(&self, rod: &Rod) -> f64 {
        let exit = self.exit();
        let mut force = rod.stretch_rate(exit - 1);
        let (middle, end) = self.cell(exit);
        // How fast the lower and the upper end of the cell move with the length outside.
        for (i, lower, upper) in [(exit, 0.5, 1.0), (exit - 1, 0.0, 0.5)] {
            let at = if i == exit { end } else { middle };
            let compliance = upper / self.wire.bending_stiffness(at)
                - lower / self.wire.bending_stiffness(middle);
            let (n_end, n_middle) = (
                self.wire.natural_curvature(at),
                self.wire.natural_curvature(middle),
            );
            let natural = [0, 1].map(|k| upper * n_end[k] - lower * n_middle[k]);
            force += rod.hinge_rate(
                i,
                compliance,
                compliance / self.wire.torsion_ratio(),
                natural,
            );
        }
        let n = self.wire.natural_curvature(self.outside);
        let shaped = 0.5 * self.wire.bending_stiffness(self.outside) * (n[0] * n[0] + n[1] * n[1]);
        force - shaped + self.flow_force(rod)
    }

    /// The part of the configurational force that flow of the core brings, in mN, as a central
    /// difference.
    fn flow_force(&self, rod: &Rod) -> f64 {
        const PROBE_MM: f64 = 1e-4;
        let exit = self.exit();
        if self.flow.is_untouched() && !(exit - 1..=exit).any(|i| rod.is_flowing(i)) {
            return 0.0;
        }
        let (middle, end) = self.cell(exit);
        let (start, _) = self.cell(exit - 1);
        let energy = |longer: f64| {
            let ends = [start, middle + 0.5 * longer, end + longer];
            let flowing = [exit - 1, exit].into_iter().zip(ends.windows(2));
            let outside: f64 = flowing
                .filter_map(|(i, ends)| {
                    let hinge = wire_hinge(&self.wire, ends[0], ends[1]);
                    let span = CoreSpan::plain(&self.wire, ends[0], ends[1], &hinge);
                    let cell = self.flow.cell(&hinge, Some(span))?;
                    Some(rod.flow_energy(i, &hinge, &cell))
                })
                .sum();
            outside + self.flow.held_beyond(&self.wire, self.outside + longer)
        };
        (energy(PROBE_MM) - energy(-PROBE_MM)) / (2.0 * PROBE_MM)
    }
}
