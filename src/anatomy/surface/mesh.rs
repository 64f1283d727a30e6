//! A closed surface of triangles that face outwards.

use nalgebra::Vector3;
use rayon::prelude::*;
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
    let mut sides = Vec::with_capacity(3 * triangles.len());
    for (t, corners) in (0_u32..).zip(triangles) {
        for k in 0..3_u32 {
            let (a, b) = (corners[k as usize], corners[(k as usize + 1) % 3]);
            sides.push(([a.min(b), a.max(b)], t, k));
        }
    }
    sides.par_sort_unstable();
    sides
}
