//! Where lines along x through the middles of voxels cross a surface.

use nalgebra::Vector3;
use rayon::prelude::*;

use super::mesh::Mesh;

/// Where lines along x through the middles of all columns cross the surface: column and place in
/// voxels, sorted.
///
/// A line that meets an edge is counted for one of its two triangles only, because both ask the
/// same question about the edge, with its points in the same order.
pub(super) fn crossings(
    mesh: &Mesh,
    origin: &Vector3<f64>,
    edge: f64,
    rows: i32,
    layers: i32,
) -> Vec<(u32, f64)> {
    let mut out: Vec<(u32, f64)> = (0..mesh.triangles.len())
        .into_par_iter()
        .flat_map_iter(|t| {
            let corners = mesh.corners(t).map(|p| (p - origin) / edge);
            let ids = mesh.triangles[t];
            let range = |axis: usize, most: i32| {
                let values = corners.map(|p| p[axis]);
                let low = values.iter().copied().fold(f64::INFINITY, f64::min);
                let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                (
                    whole((low - 0.5).ceil()).max(0),
                    whole((high - 0.5).floor()).min(most - 1),
                )
            };
            let (y, z) = (range(1, rows), range(2, layers));
            let mut found = Vec::new();
            for layer in z.0..=z.1 {
                // Of a long triangle aslant, most rows between its ends lie beside it.
                let (low, high) = cut(&corners, f64::from(layer) + 0.5);
                let from = whole((low - 0.5).ceil()).max(y.0);
                let to = whole((high - 0.5).floor()).min(y.1);
                for row in from..=to {
                    let at = (f64::from(row) + 0.5, f64::from(layer) + 0.5);
                    if let Some(x) = crossing(&corners, ids, at) {
                        let column = index(layer) * index(rows) + index(row);
                        found.push((u32::try_from(column).unwrap_or(u32::MAX), x));
                    }
                }
            }
            found
        })
        .collect();
    out.par_sort_unstable_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    out
}

/// From where to where along y a triangle, in voxels, lies at a height `z` of some of its points, with
/// some more for rounding.
fn cut(corners: &[Vector3<f64>; 3], z: f64) -> (f64, f64) {
    /// Edges that rise by less are taken from end to end, in voxels.
    const LEVEL: f64 = 1e-6;
    const ROUNDING: f64 = 0.01;
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for (a, b) in [(0, 1), (1, 2), (2, 0)] {
        let (a, b) = (&corners[a], &corners[b]);
        if z < a.z.min(b.z) || z > a.z.max(b.z) {
            continue;
        }
        let rise = b.z - a.z;
        let (from, to) = if rise.abs() < LEVEL {
            (a.y, b.y)
        } else {
            let y = a.y + (b.y - a.y) * ((z - a.z) / rise);
            (y, y)
        };
        low = low.min(from).min(to);
        high = high.max(from).max(to);
    }
    (low - ROUNDING, high + ROUNDING)
}

/// Where the line along x at (y, z) crosses a triangle, in voxels; `None` where it passes it by.
fn crossing(corners: &[Vector3<f64>; 3], ids: [u32; 3], (y, z): (f64, f64)) -> Option<f64> {
    let side = |i: usize, j: usize| {
        let swapped = ids[i] > ids[j];
        let (a, b) = if swapped {
            (corners[j], corners[i])
        } else {
            (corners[i], corners[j])
        };
        let value = (b.y - a.y) * (z - a.z) - (b.z - a.z) * (y - a.y);
        // On the line itself the point counts as on the left of the edge in its one direction.
        let left = value >= 0.0;
        let value = if swapped { -value } else { value };
        (value, left != swapped)
    };
    let (wc, c) = side(0, 1);
    let (wa, a) = side(1, 2);
    let (wb, b) = side(2, 0);
    if a != b || b != c {
        return None;
    }
    let sum = wa + wb + wc;
    if sum.abs() <= f64::MIN_POSITIVE {
        return None;
    }
    Some((wa * corners[0].x + wb * corners[1].x + wc * corners[2].x) / sum)
}

/// A number without fraction as one of voxels.
#[expect(
    clippy::cast_possible_truncation,
    reason = "the cast saturates; sides are limited in length"
)]
pub(super) fn whole(x: f64) -> i32 {
    x as i32
}

/// A place among rows or layers as an index.
pub(super) fn index(i: i32) -> usize {
    usize::try_from(i).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The slow twin looks at every line through the box of a triangle.
    #[test]
    fn a_triangle_is_crossed_by_no_line_beside_the_rows_that_are_looked_at() {
        let mut found = 0;
        for k in 0..300 {
            let part = |i: i32| 40.0 * ((f64::from(9 * k + i) * 0.618_034) % 1.0);
            // Every third has an edge along a row, or points at the middles of voxels.
            let snapped = |i: i32| {
                if k % 3 == 0 {
                    part(i).floor() + 0.5
                } else {
                    part(i)
                }
            };
            let corner = |i: i32| Vector3::new(part(i), snapped(i + 1), snapped(i + 2));
            let corners = [corner(0), corner(3), corner(6)];
            for layer in 0..40 {
                let z = f64::from(layer) + 0.5;
                let (low, high) = cut(&corners, z);
                for row in 0..40 {
                    let y = f64::from(row) + 0.5;
                    if crossing(&corners, [0, 1, 2], (y, z)).is_some() {
                        found += 1;
                        assert!(low <= y && y <= high, "{corners:?} at {y}, {z}");
                    }
                }
            }
        }
        assert!(found > 10_000, "{found}");
    }
}
