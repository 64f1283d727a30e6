//! The inside of a closed surface as runs of voxels along x.

use nalgebra::Vector3;
use rayon::prelude::*;

use super::bvh::Bvh;
use super::crossings::{crossings, index, whole};
use super::mesh::Mesh;
use crate::anatomy::error::{At, Checked, Fault};

/// Most voxels along one side.
const LONGEST_SIDE: f64 = 1200.0;
/// Most voxels inside, by the volume.
const MOST: f64 = 600_000.0;
/// By how much the voxels found inside may be more than that. The volume is smaller than what is inside
/// where a part of a surface is turned inside out, and counts against the rest.
const MORE: f64 = 2.0;
/// Most places at which lines through the middles of voxels cross the surface; a vessel has fewer than
/// voxels, a stack of thin sheets many more.
const MOST_CROSSINGS: f64 = 10_000_000.0;

/// Voxels whose distance from the wall is looked at before those of all are taken.
const LOOKED_AT: usize = 200;
/// Most parts of the surface that are looked into for all voxels together.
const MOST_PARTS: f64 = 5.5e7;
/// Binary digits of the edge of a block of voxels whose depths are found one after the other.
const BLOCK: u32 = 3;
/// How many voxels to each side are searched for the nearest one, before all are.
const NEAR_BY: [i32; 3] = [1, 4, 16];

/// A run of voxels inside, along x.
#[derive(Debug, Clone, Copy)]
struct Run {
    from: i32,
    to: i32,
    /// Number of its first voxel.
    first: u32,
}

/// The voxels inside a surface, numbered.
#[derive(Debug)]
pub(super) struct Voxels {
    /// Edge of a voxel in mm.
    pub edge: f64,
    origin: Vector3<f64>,
    rows: i32,
    layers: i32,
    /// First run of each column, and one more.
    columns: Vec<u32>,
    runs: Vec<Run>,
    /// Index of each voxel.
    pub places: Vec<[i32; 3]>,
    /// Distance of each voxel's middle from the wall in mm.
    pub depth: Vec<f64>,
}

impl Voxels {
    /// The inside of `mesh` with voxels of about `edge` mm, larger if there would be too many.
    ///
    /// # Errors
    /// Triangles so long beside the lumen that most of them are near to everywhere.
    pub(super) fn new(mesh: &Mesh, bvh: &Bvh, edge: f64) -> Checked<Self> {
        let first = mesh.points[0];
        let (low, high) = mesh
            .points
            .iter()
            .fold((first, first), |(l, h), p| (l.inf(p), h.sup(p)));
        let size = high - low;
        let mut edge = edge
            .max(size.max() / LONGEST_SIDE)
            .max((mesh.volume() / MOST).cbrt())
            .max((across_x(mesh) / MOST_CROSSINGS).sqrt());
        loop {
            let (out, inside) = Self::runs(mesh, low, size, edge);
            if inside <= MORE * MOST {
                return out.filled(bvh);
            }
            edge *= (inside / MOST).cbrt();
        }
    }

    /// The runs of voxels, whose places are not listed yet, and how many voxels they hold.
    fn runs(mesh: &Mesh, low: Vector3<f64>, size: Vector3<f64>, edge: f64) -> (Self, f64) {
        // Odd fractions of an edge keep the middles of voxels off the points of regular surfaces.
        let origin = low - Vector3::new(0.513_7, 0.529_1, 0.541_3) * edge;
        let count = |x: f64| whole((x / edge).ceil()) + 2;
        let (rows, layers) = (count(size.y), count(size.z));
        let crossings = crossings(mesh, &origin, edge, rows, layers);
        let mut out = Self {
            edge,
            origin,
            rows,
            layers,
            columns: vec![0],
            runs: Vec::new(),
            places: Vec::new(),
            depth: Vec::new(),
        };
        let (mut at, mut inside) = (0, 0);
        for column in 0..index(rows) * index(layers) {
            let number = u32::try_from(column).unwrap_or(u32::MAX);
            let from = at;
            while at < crossings.len() && crossings[at].0 == number {
                at += 1;
            }
            inside = out.fill(&crossings[from..at], inside);
            out.columns
                .push(u32::try_from(out.runs.len()).unwrap_or(u32::MAX));
        }
        (out, f64::from(inside))
    }

    /// Lists the places of all voxels, with their depths.
    fn filled(mut self, bvh: &Bvh) -> Checked<Self> {
        for row_and_layer in 0..self.columns.len() - 1 {
            let column = i32::try_from(row_and_layer).unwrap_or(i32::MAX);
            let (row, layer) = (column % self.rows, column / self.rows);
            let runs =
                self.columns[row_and_layer] as usize..self.columns[row_and_layer + 1] as usize;
            for run in &self.runs[runs] {
                self.places
                    .extend((run.from..=run.to).map(|x| [x, row, layer]));
            }
        }
        self.is_soon_told(bvh)?;
        // In blocks, so that neighbours follow each other.
        let block = |[x, y, z]: [i32; 3]| [z >> BLOCK, y >> BLOCK, x >> BLOCK];
        let mut order: Vec<u32> = (0_u32..).zip(&self.places).map(|(i, _)| i).collect();
        order.par_sort_unstable_by_key(|i| (block(self.places[*i as usize]), *i));
        let in_order: Vec<f64> = order
            .par_chunks(256)
            .flat_map_iter(|chunk| {
                let mut before = None;
                chunk
                    .iter()
                    .map(|i| {
                        let near = bvh.nearest(&self.middle(self.places[*i as usize]), before);
                        before = near.map(|n| n.hint);
                        near.map_or(0.0, |n| n.square.sqrt())
                    })
                    .collect::<Vec<_>>()
            })
            .collect();
        self.depth = vec![0.0; order.len()];
        for (i, depth) in order.iter().zip(in_order) {
            self.depth[*i as usize] = depth;
        }
        Ok(self)
    }

    /// Refuses distances from the wall that would take long, as told by those of some voxels.
    fn is_soon_told(&self, bvh: &Bvh) -> Checked<()> {
        let every = (self.places.len() / LOOKED_AT).max(1);
        let some: Vec<_> = self.places.iter().step_by(every).collect();
        let parts = some.iter().map(|p| bvh.parts_to_search(&self.middle(**p)));
        let mean = parts.sum::<usize>() as f64 / some.len().max(1) as f64;
        if mean * self.places.len() as f64 <= MOST_PARTS {
            return Ok(());
        }
        Err((
            At::Whole,
            Fault::Surface {
                what: format!(
                    "its triangles are so long, or lie so close together, that some {mean:.0} parts of it are near \
                     to every place in the lumen"
                ),
                remedy: "remesh it with triangles about as long as they are wide, and export it again",
            },
        ))
    }

    /// Adds the runs of a column; gives how many voxels there are then.
    fn fill(&mut self, crossings: &[(u32, f64)], mut count: u32) -> u32 {
        for pair in crossings.chunks_exact(2) {
            // Voxels whose middle lies between the two crossings.
            let from = whole((pair[0].1 - 0.5).ceil());
            let to = whole((pair[1].1 - 0.5).floor());
            if to < from {
                continue;
            }
            self.runs.push(Run {
                from,
                to,
                first: count,
            });
            count = count.saturating_add(to.abs_diff(from)).saturating_add(1);
        }
        count
    }

    /// Middle of a voxel in mm.
    pub(super) fn middle(&self, place: [i32; 3]) -> Vector3<f64> {
        self.origin + Vector3::from(place).map(|i| f64::from(i) + 0.5) * self.edge
    }

    /// The voxels around one, diagonal ones too, each with the square of its distance in edges: along x
    /// first, then y, then z.
    #[inline]
    pub(super) fn around(&self, [x, y, z]: [i32; 3], mut visit: impl FnMut(usize, i32)) {
        for dz in -1..=1 {
            for dy in -1..=1 {
                let (row, layer) = (y + dy, z + dz);
                if row < 0 || layer < 0 || row >= self.rows || layer >= self.layers {
                    continue;
                }
                for run in self.runs_of(row, layer) {
                    if run.from > x + 1 {
                        break;
                    }
                    for at in run.from.max(x - 1)..=run.to.min(x + 1) {
                        let square = (at - x) * (at - x) + dy * dy + dz * dz;
                        if square > 0 {
                            visit(run.first as usize + index(at - run.from), square);
                        }
                    }
                }
            }
        }
    }

    /// Runs of a column, along x.
    #[inline]
    fn runs_of(&self, row: i32, layer: i32) -> &[Run] {
        let column = index(layer) * index(self.rows) + index(row);
        &self.runs[self.columns[column] as usize..self.columns[column + 1] as usize]
    }

    /// Number of the voxel at an index, if it is inside.
    pub(super) fn at(&self, [x, y, z]: [i32; 3]) -> Option<usize> {
        if y < 0 || z < 0 || y >= self.rows || z >= self.layers {
            return None;
        }
        let run = self
            .runs_of(y, z)
            .iter()
            .find(|r| r.from <= x && x <= r.to)?;
        Some(run.first as usize + index(x - run.from))
    }

    /// Number of the inside voxel nearest to a point; of several the first.
    pub(super) fn nearest(&self, p: &Vector3<f64>) -> Option<usize> {
        let square = |i: usize| (self.middle(self.places[i]) - p).norm_squared();
        let first = |a: &usize, b: &usize| square(*a).total_cmp(&square(*b)).then(a.cmp(b));
        let [x, y, z]: [i32; 3] = ((p - self.origin) / self.edge)
            .map(|k| whole(k.floor()))
            .into();
        for reach in NEAR_BY {
            let about = |middle: i32| middle.saturating_sub(reach)..=middle.saturating_add(reach);
            let cells =
                about(z).flat_map(|z| about(y).flat_map(move |y| about(x).map(move |x| [x, y, z])));
            let found = cells.filter_map(|cell| self.at(cell)).min_by(first);
            // Voxels outside these are farther off than from the edge of the point's own to theirs.
            let surely = (f64::from(reach) + 0.5) * self.edge;
            if found.is_some_and(|i| square(i).sqrt() < surely) {
                return found;
            }
        }
        (0..self.places.len()).min_by(first)
    }
}

/// Area in mm² of all triangles as seen along x.
fn across_x(mesh: &Mesh) -> f64 {
    let seen = |t| {
        let [a, b, c] = mesh.corners(t);
        0.5 * (b - a).cross(&(c - a)).x.abs()
    };
    (0..mesh.triangles.len()).map(seen).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A cube of 2 mm.
    fn cube() -> Mesh {
        Mesh::block([0.0; 3], [2.0; 3])
    }

    #[test]
    fn the_nearest_voxel_is_that_of_a_search_of_all() {
        let mesh = cube();
        let voxels = Voxels::new(&mesh, &Bvh::new(&mesh), 0.1).unwrap();
        assert!(voxels.places.len() > 5000);
        let mut away = 0.0;
        for k in 0..200 {
            let angle = 0.7 * f64::from(k);
            away = 0.02 * f64::from(k);
            let p = Vector3::new(
                1.0 + away * angle.cos(),
                1.0 + away * angle.sin(),
                0.013 * f64::from(k),
            );
            let square = |i: &usize| (voxels.middle(voxels.places[*i]) - p).norm_squared();
            let expected = (0..voxels.places.len()).min_by(|a, b| square(a).total_cmp(&square(b)));
            assert_eq!(voxels.nearest(&p), expected, "{p}");
        }
        assert!(away > 3.0);
    }
}
