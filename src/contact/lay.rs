//! Contact points that come and go with the edges of the rod.

use super::points;
use super::wall::{Contact, Surface};

/// Spacing of the contact points in the front [`Contact::PATCH_MM`] of a rod over that behind it. The
/// tip stands on the wall with the last half millimetre, where the distributed force ends abruptly; the
/// component of it along the tip converges with the length of the cells there.
const FINER_AT_THE_FRONT: f64 = 0.5;

impl<const S: usize> Contact<'_, S> {
    /// Adds the points of an edge behind the last.
    pub fn push_edge(&mut self, edge: usize, length: f64) {
        let in_front = self.points.iter().map(|p| 2.0 * p.reach_mm()).sum();
        let spacing = Self::spacing_at(in_front, &self.surface);
        self.points.extend(points::on_edge(edge, length, spacing));
    }

    /// Largest spacing of contact points on an edge that begins so many mm behind the front.
    fn spacing_at(in_front_mm: f64, surface: &Surface) -> f64 {
        // An edge that begins at the end of the front but for rounding lies behind it.
        if in_front_mm < Self::PATCH_MM - 1e-6 {
            FINER_AT_THE_FRONT * surface.spacing
        } else {
            surface.spacing
        }
    }

    /// Lays the points anew: the tip's point and those of edges `0..lengths.len()`, of which those
    /// from `covered` on belong to the catheter. An edge that was edge `old[i]` before keeps its
    /// points.
    pub fn lay(&mut self, lengths: &[f64], covered: usize, old: &[Option<usize>]) {
        let before = std::mem::take(&mut self.points);
        self.look_anew();
        let layer = |edge: usize| usize::from(edge >= covered);
        let mut tip = points::tip_point(self.surface_of(layer(0)).radius);
        tip.layer = layer(0);
        if let (Some(Some(0)), Some(same)) = (old.first(), before.first()) {
            tip.remember(same);
        }
        self.points.push(tip);
        let mut in_front_mm = 0.0;
        for (edge, length) in lengths.iter().enumerate() {
            let first = self.points.len();
            if let Some(o) = old[edge] {
                let from = before.partition_point(|p| p.edge < o);
                let to = before.partition_point(|p| p.edge <= o);
                let kept = before[from..to].iter().filter(|p| !p.is_tip());
                self.points.extend(kept);
            }
            if self.points.len() == first {
                let spacing = Self::spacing_at(in_front_mm, self.surface_of(layer(edge)));
                self.points.extend(points::on_edge(edge, *length, spacing));
            }
            for p in &mut self.points[first..] {
                (p.edge, p.layer) = (edge, layer(edge));
                p.weight = 2.0 * p.cell.half * length;
            }
            in_front_mm += length;
        }
    }

    /// Takes the points of edge `edge` and all behind it away.
    pub fn truncate_edges(&mut self, edge: usize) {
        let keep = self.points.partition_point(|p| p.edge < edge);
        self.points.truncate(keep);
    }

    /// Sets the length of wire that the points of the last edge stand for.
    pub fn set_last_edge_length(&mut self, length: f64) {
        if let Some(edge) = self.points.last().map(|p| p.edge) {
            self.set_edge_length(edge, length);
        }
    }

    /// Sets the length of wire that the points of edge `edge` (not the first) stand for.
    pub fn set_edge_length(&mut self, edge: usize, length: f64) {
        let first = self.points.partition_point(|p| p.edge < edge);
        let end = self.points.partition_point(|p| p.edge <= edge);
        for p in &mut self.points[first..end] {
            p.weight = 2.0 * p.cell.half * length;
        }
    }
}
