//! Contact points that come and go with the edges of the rod.

use super::points;
use super::wall::Contact;

impl<const S: usize> Contact<'_, S> {
    /// Adds the points of an edge behind the last.
    pub fn push_edge(&mut self, edge: usize, length: f64) {
        self.points
            .extend(points::on_edge(edge, length, self.surface.spacing));
    }

    /// Lays the points anew: the tip's point and those of edges `0..lengths.len()`, of which those
    /// from `covered` on belong to the catheter. An edge that was edge `old[i]` before and has as
    /// many points now keeps the memory of its friction.
    pub fn lay(&mut self, lengths: &[f64], covered: usize, old: &[Option<usize>]) {
        let before = std::mem::take(&mut self.points);
        self.look_anew();
        let layer = |edge: usize| usize::from(edge >= covered);
        let mut tip = points::tip_point(self.surface_of(layer(0)).radius);
        tip.layer = layer(0);
        self.points.push(tip);
        for (edge, length) in lengths.iter().enumerate() {
            let first = self.points.len();
            let spacing = self.surface_of(layer(edge)).spacing;
            self.points.extend(points::on_edge(edge, *length, spacing));
            let new = &mut self.points[first..];
            let kept = old[edge].map_or(&before[..0], |o| {
                let from = before.partition_point(|p| p.edge < o);
                let to = before.partition_point(|p| p.edge <= o);
                // Edge 0 holds the tip's point beside its own.
                &before[from + usize::from(o == 0)..to]
            });
            for p in &mut *new {
                p.layer = layer(edge);
            }
            if kept.len() == new.len() {
                for (p, same) in new.iter_mut().zip(kept) {
                    p.wall.friction = same.wall.friction;
                }
            }
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
            #[expect(clippy::cast_precision_loss, reason = "a handful of points")]
            let weight = length / (end - first) as f64;
            p.weight = weight;
        }
    }
}
