//! The numbers of the grid: each brick's are made from the samples in and around it, and every sample
//! is taken once, for all bricks that need it.

use std::sync::OnceLock;

use nalgebra::Vector3;

use super::grid::{BRICK, CELLS, Field, Grid, NONE, ROW, Sample};

/// Samples along an edge of a brick and one more on each side for the differences.
const SAMPLED: usize = ROW + 2;

/// The samples of a block, 4 x 4 x 4 of them.
type Block = Box<[f32]>;

/// Blocks in and around a brick.
const AROUND: usize = 27;

/// The samples around all bricks, in blocks of 4 x 4 x 4; each block is sampled when it is first
/// needed.
#[derive(Debug, Clone, Default)]
pub(super) struct Samples {
    /// Index of each block, with a mark for each of its samples that some brick needs.
    blocks: Vec<([usize; 3], u64)>,
    samples: Vec<OnceLock<Block>>,
    /// Numbers of the blocks in and around each brick; blocks are bricks counted with one more on each
    /// side.
    around: Vec<[u32; AROUND]>,
    /// Distance from the mesh in mm beyond which samples are kept at that.
    pub(super) known: f64,
}

impl Samples {
    /// The samples that `bricks` of a grid of `size` need, none taken yet.
    pub(super) fn of(bricks: &[[u32; 3]], size: [usize; 3], known: f64) -> Self {
        let [nx, ny, nz] = size.map(|s| s + 2);
        let mut number = vec![NONE; nx * ny * nz];
        let mut blocks: Vec<([usize; 3], u64)> = Vec::new();
        let around = bricks.iter().map(|brick| {
            std::array::from_fn(|k| {
                let d = on_from_first(k);
                let index = [0, 1, 2].map(|axis| brick[axis] as usize + d[axis]);
                let number = &mut number[(index[2] * ny + index[1]) * nx + index[0]];
                if *number == NONE {
                    *number = u32::try_from(blocks.len()).unwrap_or(0);
                    blocks.push((index, 0));
                }
                let marks = &mut blocks[*number as usize].1;
                for [x, y, z] in needed(d) {
                    *marks |= 1 << ((z * CELLS + y) * CELLS + x);
                }
                *number
            })
        });
        Self {
            around: around.collect(),
            samples: vec![OnceLock::new(); blocks.len()],
            blocks,
            known,
        }
    }

    /// The samples in and around a brick, 9 along each axis; `sample` takes those of a block, given its
    /// index and marks.
    pub(super) fn around(
        &self,
        brick: usize,
        sample: &impl Fn([usize; 3], u64) -> Block,
    ) -> Vec<f64> {
        let mut local = vec![0.0; SAMPLED * SAMPLED * SAMPLED];
        for (k, block) in self.around[brick].iter().enumerate() {
            let (index, marks) = self.blocks[*block as usize];
            let of = self.samples[*block as usize].get_or_init(|| sample(index, marks));
            let d = on_from_first(k);
            for [x, y, z] in needed(d) {
                // The first sample lies two before the brick's corner.
                let [i, j, l] = [d[0] * CELLS + x, d[1] * CELLS + y, d[2] * CELLS + z]
                    .map(|at| at - (CELLS - 2));
                local[(l * SAMPLED + j) * SAMPLED + i] = f64::from(of[(z * CELLS + y) * CELLS + x]);
            }
        }
        local
    }

    /// Bytes that the samples take once all were taken.
    pub(super) fn bytes(&self) -> usize {
        self.blocks.len() * (4 * CELLS.pow(3) + size_of::<([usize; 3], u64)>())
            + size_of_val(self.around.as_slice())
    }
}

/// How many blocks on from the first along each axis the block `k` in and around a brick lies.
fn on_from_first(k: usize) -> [usize; 3] {
    [k % 3, k / 3 % 3, k / 9]
}

/// The samples of a block that a brick needs, by how many blocks on from the first it lies: along each
/// axis it is the one before the brick's own, that one, or the one behind.
fn needed(d: [usize; 3]) -> impl Iterator<Item = [usize; 3]> {
    let [xs, ys, zs] = d.map(|d| match d {
        0 => CELLS - 2..CELLS,
        1 => 0..CELLS,
        _ => 0..3,
    });
    zs.flat_map(move |z| {
        let xs = xs.clone();
        ys.clone()
            .flat_map(move |y| xs.clone().map(move |x| [x, y, z]))
    })
}

impl Grid {
    /// Samples of one block; those farther than `known` mm from the mesh are kept at that.
    pub(super) fn sample_block(
        &self,
        index: [usize; 3],
        needed: u64,
        f: &impl Field,
        known: f64,
    ) -> Block {
        let corner = self.origin
            + Vector3::from(index).map(|i| (i as f64 - 1.0) * self.spacing * CELLS as f64);
        let mut out = vec![0.0_f32; CELLS.pow(3)].into_boxed_slice();
        let mut before: Option<(Vector3<f64>, Sample)> = None;
        for z in 0..CELLS {
            for y in 0..CELLS {
                for k in 0..CELLS {
                    // There and back, so that neighbours follow each other.
                    let x = if y % 2 == 0 { k } else { CELLS - 1 - k };
                    if needed >> ((z * CELLS + y) * CELLS + x) & 1 == 0 {
                        continue;
                    }
                    let p = corner + Vector3::new(x as f64, y as f64, z as f64) * self.spacing;
                    let hint = before.and_then(|(_, sample)| sample.hint);
                    let mut sample = f(&p, hint, known);
                    if sample.distance.is_infinite() {
                        // On the side of the sample before, if the mesh cannot lie between.
                        let same = before.filter(|(q, s)| s.to_mesh > (p - q).norm());
                        let side = same.unwrap_or_else(|| (p, f(&p, hint, f64::INFINITY))).1;
                        sample = Sample {
                            distance: known.copysign(side.distance),
                            to_mesh: known,
                            hint,
                        };
                    }
                    before = Some((p, sample));
                    #[expect(
                        clippy::cast_possible_truncation,
                        reason = "7 digits of a distance of a few mm"
                    )]
                    let distance = sample.distance as f32;
                    out[(z * CELLS + y) * CELLS + x] = distance;
                }
            }
        }
        out
    }
}

/// The numbers of a brick from the samples in and around it.
pub(super) fn quasi_interpolant(local: &[f64]) -> Box<[f32]> {
    let mut out = Vec::with_capacity(BRICK);
    let (along_y, along_z) = (SAMPLED, SAMPLED * SAMPLED);
    for z in 1..=ROW {
        for y in 1..=ROW {
            for x in 1..=ROW {
                let i = (z * SAMPLED + y) * SAMPLED + x;
                let f = local[i];
                let around = local[i - 1]
                    + local[i + 1]
                    + local[i - along_y]
                    + local[i + along_y]
                    + local[i - along_z]
                    + local[i + along_z];
                #[expect(
                    clippy::cast_possible_truncation,
                    reason = "7 digits of a distance of a few mm"
                )]
                out.push((f - (around - 6.0 * f) / 6.0) as f32);
            }
        }
    }
    out.into_boxed_slice()
}
