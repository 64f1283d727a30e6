//! The sheets of the wall inside a cell of the grid.
//!
//! Where two parts of the wall pass through one cell, such as on both sides of a thin carina, a
//! point for each keeps them apart (G. M. Nielson, Dual marching cubes, IEEE Visualization 2004).
//! On a face whose four edges are all cut, the sign at the saddle of the bilinear function says
//! which of them belong together (G. M. Nielson and B. Hamann, The asymptotic decider, IEEE
//! Visualization 1991), so that both cells at a face agree.

use nalgebra::Vector3;

/// Edges of a cell.
pub(super) const EDGES: usize = 12;

/// Number of an edge of a cell: its axis, and its steps along the axis after that (`u`) and the
/// one after that (`v`), 0 or 1 each.
pub(super) const fn edge(axis: usize, u: usize, v: usize) -> usize {
    4 * axis + u + 2 * v
}

/// Values at the eight corners of a cell, negative inside; corner (x, y, z) is `x + 2 y + 4 z`.
pub(super) struct Corners(pub(super) [f64; 8]);

impl Corners {
    /// Corner that lies `u` and `v` steps along the two axes after `axis`, and `along` steps on it.
    fn value(&self, axis: usize, along: usize, u: usize, v: usize) -> f64 {
        self.0[(along << axis) + (u << ((axis + 1) % 3)) + (v << ((axis + 2) % 3))]
    }

    /// Where the wall cuts each edge, in cells from the cell's corner.
    fn cuts(&self) -> [Option<Vector3<f64>>; EDGES] {
        let mut cuts = [None; EDGES];
        for axis in 0..3 {
            for (u, v) in [(0, 0), (1, 0), (0, 1), (1, 1)] {
                let (a, b) = (self.value(axis, 0, u, v), self.value(axis, 1, u, v));
                if (a < 0.0) != (b < 0.0) {
                    let mut p = Vector3::zeros();
                    p[axis] = a / (a - b);
                    p[(axis + 1) % 3] = if u == 1 { 1.0 } else { 0.0 };
                    p[(axis + 2) % 3] = if v == 1 { 1.0 } else { 0.0 };
                    cuts[edge(axis, u, v)] = Some(p);
                }
            }
        }
        cuts
    }

    /// Pairs of edges that the wall joins across the face with the normal `axis` at `side`.
    fn joined(&self, axis: usize, side: usize, mut join: impl FnMut(usize, usize)) {
        let (a, b) = ((axis + 1) % 3, (axis + 2) % 3);
        // Corners and edges around the face; edge i runs from corner i to the next.
        let corners = [(0, 0), (1, 0), (1, 1), (0, 1)].map(|(u, v)| self.value(axis, side, u, v));
        let edges = [
            edge(a, 0, side),
            edge(b, side, 1),
            edge(a, 1, side),
            edge(b, side, 0),
        ];
        let is_cut = |i: usize| (corners[i] < 0.0) != (corners[(i + 1) % 4] < 0.0);
        if (0..4).all(is_cut) {
            // The saddle is (c0 c2 - c1 c3) / (c0 + c2 - c1 - c3); where it has the sign of corners
            // 0 and 2, these are joined through the middle and the wall goes round 1 and 3.
            let are_joined = corners[0] * corners[2] > corners[1] * corners[3];
            for around in if are_joined { [1, 3] } else { [0, 2] } {
                join(edges[(around + 3) % 4], edges[around]);
            }
        } else {
            let mut cut = (0..4).filter(|i| is_cut(*i));
            if let (Some(i), Some(j)) = (cut.next(), cut.next()) {
                join(edges[i], edges[j]);
            }
        }
    }

    /// The sheets of the wall in this cell: the mean of each one's cuts, in cells from the cell's
    /// corner, and the sheet of each edge that is cut.
    pub(super) fn sheets(&self) -> (Vec<Vector3<f64>>, [u8; EDGES]) {
        let cuts = self.cuts();
        let mut group: [usize; EDGES] = std::array::from_fn(|i| i);
        for axis in 0..3 {
            for side in 0..2 {
                self.joined(axis, side, |i, j| {
                    let (from, to) = (group[i], group[j]);
                    group
                        .iter_mut()
                        .filter(|g| **g == from)
                        .for_each(|g| *g = to);
                });
            }
        }
        let mut means = Vec::new();
        let mut sheet = [0; EDGES];
        for leader in 0..EDGES {
            let members = (0..EDGES).filter(|i| group[*i] == leader);
            let own: Vec<Vector3<f64>> = members.filter_map(|i| cuts[i]).collect();
            if own.is_empty() {
                continue;
            }
            for i in (0..EDGES).filter(|i| group[*i] == leader) {
                sheet[i] = u8::try_from(means.len()).unwrap_or(u8::MAX);
            }
            means.push(own.iter().sum::<Vector3<f64>>() / own.len() as f64);
        }
        (means, sheet)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cell(inside: &[usize]) -> Corners {
        Corners(std::array::from_fn(|i| {
            if inside.contains(&i) { -1.0 } else { 1.5 }
        }))
    }

    #[test]
    fn one_corner_inside_is_one_sheet_of_three_cuts() {
        let (means, sheet) = cell(&[0]).sheets();
        assert_eq!(means.len(), 1);
        approx::assert_relative_eq!(means[0], Vector3::repeat(0.4 / 3.0), epsilon = 1e-12);
        assert_eq!([sheet[0], sheet[4], sheet[8]], [0; 3]);
    }

    #[test]
    fn two_far_corners_inside_are_two_sheets() {
        assert_eq!(cell(&[0, 7]).sheets().0.len(), 2);
    }

    /// Corners (0, 0) and (1, 1) of a face at -1 and the others at b: the saddle is inside for
    /// b below 1, outside above.
    #[test]
    fn a_face_with_four_cuts_is_decided_by_its_saddle() {
        for (b, sheets) in [(0.9, 1), (1.1, 2)] {
            let mut corners = [b; 8];
            (corners[0], corners[3]) = (-1.0, -1.0);
            assert_eq!(Corners(corners).sheets().0.len(), sheets, "{b}");
        }
    }
}
