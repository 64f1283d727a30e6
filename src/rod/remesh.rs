//! Nodes that come and go, with the state carried over.

use nalgebra::Vector3;

use super::frames::{parallel_transport, signed_angle, unwrap_near};
use super::state::{Edge, Rod};

impl<const S: usize> Rod<S> {
    /// Puts a node on edge `i` at `fraction` (0 to 1) of its length, on the cubic that leaves the
    /// edge's first node along the mean of the tangents there and arrives at its second node
    /// likewise. Both new edges take frame and rotations over from the old; their rest lengths are
    /// shares of the old one, the new hinges are copies of hinge `i + 1`, for the caller to set.
    pub fn split_edge(&mut self, i: usize, fraction: f64) {
        let x = self.point_on_cubic(i, fraction);
        let at = S * (i + 1);
        let mut new = [0.0; S];
        new[..3].copy_from_slice(x.as_slice());
        new[3..].copy_from_slice(&self.q[at - S + 3..at]);
        self.q.splice(at..at, new);
        let mut first = self.edges[i];
        let mut second = first;
        first.rest_length *= fraction;
        second.rest_length *= 1.0 - fraction;
        self.edges[i] = first;
        self.edges.insert(i + 1, second);
        for hinges in [&mut self.hinges, &mut self.cover] {
            if let Some(&copied) = hinges.get(i + 1) {
                hinges.insert(i + 1, copied);
            }
        }
        let k = &mut self.committed;
        let length = k.length[i];
        k.length[i] = length * fraction;
        k.length.insert(i + 1, length * (1.0 - fraction));
        k.tangent.insert(i + 1, k.tangent[i]);
        k.director.insert(i + 1, k.director[i]);
        k.reference_twist.insert(i + 1, 0.0);
        self.refresh();
    }

    /// Puts an edge of the given rest state in front of the first, straight on, with the frame and
    /// the rotations of that edge. The hinge between the two is a copy of the one behind it, for
    /// the caller to set.
    pub fn extend_front(&mut self, edge: Edge) {
        let t = self.tangent(0);
        let x = self.node(0) - t * edge.rest_length;
        let mut new = [0.0; S];
        new[..3].copy_from_slice(x.as_slice());
        new[3..].copy_from_slice(&self.q[3..S]);
        self.q.splice(0..0, new);
        self.edges.insert(0, edge);
        for hinges in [&mut self.hinges, &mut self.cover] {
            if let Some(&copied) = hinges.get(1) {
                hinges.insert(1, copied);
            }
        }
        let k = &mut self.committed;
        k.length.insert(0, edge.rest_length);
        k.tangent.insert(0, t);
        k.director.insert(0, k.director[0]);
        k.reference_twist.insert(1, 0.0);
        self.refresh();
    }

    /// Takes the first edge away.
    pub fn cut_front(&mut self) {
        self.q.drain(..S);
        self.edges.remove(0);
        for hinges in [&mut self.hinges, &mut self.cover] {
            if !hinges.is_empty() {
                hinges.remove(0);
            }
        }
        let k = &mut self.committed;
        k.length.remove(0);
        k.tangent.remove(0);
        k.director.remove(0);
        k.reference_twist.remove(0);
        k.reference_twist[0] = 0.0;
    }

    /// Point at `fraction` of edge `i` on the cubic Hermite curve through its nodes.
    fn point_on_cubic(&self, i: usize, fraction: f64) -> Vector3<f64> {
        let tangent = |node: usize| {
            let behind = node.saturating_sub(1);
            let ahead = node.min(self.edges.len() - 1);
            (self.tangent(behind) + self.tangent(ahead)).normalize()
        };
        let (a, b) = (self.node(i), self.node(i + 1));
        let length = (b - a).norm();
        let (s, t) = (fraction, 1.0 - fraction);
        a * (t * t * (1.0 + 2.0 * s))
            + b * (s * s * (1.0 + 2.0 * t))
            + (tangent(i) * (s * t * t) - tangent(i + 1) * (s * s * t)) * length
    }

    /// Takes the node between edges `i` and `i + 1` away. The joined edge keeps the rotations of
    /// edge `i`, and the twist to the next edge is the sum of the two twists that were there.
    pub fn merge_edges(&mut self, i: usize) {
        let e = self.node(i + 2) - self.node(i);
        let at = S * (i + 1);
        self.q.drain(at..at + S);
        let second = self.edges.remove(i + 1);
        self.edges[i].rest_length += second.rest_length;
        self.hinges.remove(i + 1);
        if i + 1 < self.cover.len() {
            self.cover.remove(i + 1);
        }
        let k = &mut self.committed;
        let t = e.normalize();
        let d = parallel_transport(&k.director[i], &k.tangent[i], &t);
        k.director[i] = (d - t * d.dot(&t)).normalize();
        k.tangent[i] = t;
        k.length[i] = e.norm();
        k.tangent.remove(i + 1);
        k.length.remove(i + 1);
        k.director.remove(i + 1);
        let joined = k.reference_twist.remove(i + 1);
        for (hinge, change) in [(i, 0.0), (i + 1, joined)] {
            if (1..self.edges.len()).contains(&hinge) {
                let expected = self.committed.reference_twist[hinge] + change;
                self.committed.reference_twist[hinge] = self.reference_twist_near(hinge, expected);
            }
        }
    }

    /// Twist of the reference frames at hinge `i`, in the turn nearest to `near` (rad).
    fn reference_twist_near(&self, i: usize, near: f64) -> f64 {
        let k = &self.committed;
        let carried = parallel_transport(&k.director[i - 1], &k.tangent[i - 1], &k.tangent[i]);
        unwrap_near(signed_angle(&carried, &k.director[i], &k.tangent[i]), near)
    }
}
