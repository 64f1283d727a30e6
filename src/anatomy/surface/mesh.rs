//! A closed surface of triangles that face outwards.

use nalgebra::Vector3;
use serde::{Deserialize, Serialize};

/// A closed surface of triangles, in mm in the scene's frame; the corners of each run
/// counter-clockwise as seen from outside the lumen.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Mesh {
    /// Points.
    pub points: Vec<Vector3<f64>>,
    /// Corners of the triangles.
    pub triangles: Vec<[u32; 3]>,
}

impl Mesh {
    /// The corners of a triangle.
    #[must_use]
    #[inline]
    pub fn corners(&self, triangle: usize) -> [Vector3<f64>; 3] {
        self.triangles[triangle].map(|i| self.points[i as usize])
    }

    /// Normal of a triangle, as long as twice its area.
    #[must_use]
    pub fn area_normal(&self, triangle: usize) -> Vector3<f64> {
        let [a, b, c] = self.corners(triangle);
        (b - a).cross(&(c - a))
    }

    /// Enclosed volume in mm³; negative if the triangles face inwards.
    ///
    /// Equation: V = sum of a . (b x c) / 6 over the triangles (divergence theorem), counted from
    /// the first point so that far coordinates lose no digits.
    #[must_use]
    pub fn volume(&self) -> f64 {
        let origin = self.points.first().copied().unwrap_or_default();
        (0..self.triangles.len())
            .map(|t| {
                let [a, b, c] = self.corners(t).map(|p| p - origin);
                a.dot(&b.cross(&c)) / 6.0
            })
            .sum()
    }

    /// Area in mm².
    #[must_use]
    pub fn area(&self) -> f64 {
        (0..self.triangles.len())
            .map(|t| 0.5 * self.area_normal(t).norm())
            .sum()
    }

    /// For each edge of each triangle (from its corner k to k + 1) the triangle on its other side;
    /// `u32::MAX` at a hole.
    #[must_use]
    pub fn neighbours(&self) -> Vec<[u32; 3]> {
        let mut out = vec![[u32::MAX; 3]; self.triangles.len()];
        let sides = sides(&self.triangles);
        for pair in sides.windows(2) {
            let [(edge, t, k), (other, u, l)] = [pair[0], pair[1]];
            if edge == other {
                out[t as usize][k as usize] = u;
                out[u as usize][l as usize] = t;
            }
        }
        out
    }
}

/// All edges with their triangle and its corner, sorted: both sides of an edge stand together.
pub(super) fn sides(triangles: &[[u32; 3]]) -> Vec<([u32; 2], u32, u32)> {
    let points = triangles
        .iter()
        .flatten()
        .max()
        .map_or(0, |i| *i as usize + 1);
    // Sides are put in their places by their first point, which leaves a few of each to sort.
    let mut from = vec![0_usize; points + 1];
    let of = |corners: &[u32; 3], k: usize| {
        let (a, b) = (corners[k], corners[(k + 1) % 3]);
        [a.min(b), a.max(b)]
    };
    for corners in triangles {
        for k in 0..3 {
            from[of(corners, k)[0] as usize + 1] += 1;
        }
    }
    for i in 0..points {
        from[i + 1] += from[i];
    }
    let mut sides = vec![([0; 2], 0, 0); 3 * triangles.len()];
    let mut next = from.clone();
    for (t, corners) in (0_u32..).zip(triangles) {
        for (k, number) in (0_u32..3).enumerate() {
            let edge = of(corners, k);
            let place = &mut next[edge[0] as usize];
            sides[*place] = (edge, t, number);
            *place += 1;
        }
    }
    for i in 0..points {
        sides[from[i]..from[i + 1]].sort_unstable();
    }
    sides
}

#[cfg(test)]
impl Mesh {
    /// A block between two corners, in mm, its triangles turned outwards.
    pub(in crate::anatomy::surface) fn block(low: [f64; 3], high: [f64; 3]) -> Self {
        let at = |i: usize| Vector3::from([0, 1, 2].map(|k| [low, high][i >> k & 1][k]));
        let squares = [
            [0, 2, 3, 1],
            [4, 5, 7, 6],
            [0, 1, 5, 4],
            [2, 6, 7, 3],
            [0, 4, 6, 2],
            [1, 3, 7, 5],
        ];
        Self {
            points: (0..8).map(at).collect(),
            triangles: squares
                .iter()
                .flat_map(|[a, b, c, d]| [[*a, *b, *c], [*a, *c, *d]])
                .collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sides_are_sorted_by_edge_triangle_and_corner() {
        let triangles = [[4, 1, 0], [0, 1, 3], [3, 4, 0], [1, 4, 3], [1, 4, 3]];
        let mut expected = Vec::new();
        for (t, [a, b, c]) in (0..).zip(triangles) {
            for (k, (p, q)) in (0..).zip([(a, b), (b, c), (c, a)]) {
                expected.push(([p.min(q), p.max(q)], t, k));
            }
        }
        expected.sort_unstable();
        assert_eq!(sides(&triangles), expected);
        assert!(sides(&[]).is_empty());
    }
}
