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
        for (edge, length) in lengths.iter().enumerate() {
            let first = self.points.len();
            if let Some(o) = old[edge] {
                let from = before.partition_point(|p| p.edge < o);
                let to = before.partition_point(|p| p.edge <= o);
                let kept = before[from..to].iter().filter(|p| !p.is_tip());
                self.points.extend(kept);
            }
            if self.points.len() == first {
                let spacing = self.surface_of(layer(edge)).spacing;
                self.points.extend(points::on_edge(edge, *length, spacing));
            }
            for p in &mut self.points[first..] {
                (p.edge, p.layer) = (edge, layer(edge));
                p.weight = 2.0 * p.cell.half * length;
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
            p.weight = 2.0 * p.cell.half * length;
        }
    }
}
