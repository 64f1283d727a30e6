//! The numbers of the grid: every sample that some brick needs is taken once, then each brick's
//! numbers are made from the samples in and around it.

use nalgebra::Vector3;
use rayon::prelude::*;

use super::grid::{BRICK, CELLS, Field, Grid, NONE, ROW, Sample};

/// Samples along an edge of a brick and one more on each side for the differences.
const SAMPLED: usize = ROW + 2;

impl Grid {
    /// Samples every grid point that a brick needs once, and makes the numbers.
    pub(super) fn fill(&mut self, f: &impl Field, known: f64) {
        let (blocks, block_of) = self.needed_blocks();
        let samples: Vec<Vec<f32>> = blocks
            .par_iter()
            .map(|(index, needed)| self.sample_block(*index, *needed, f, known))
            .collect();
        let numbers: Vec<Vec<f32>> = self
            .bricks
            .par_iter()
            .map(|brick| {
                let mut local = vec![0.0_f64; SAMPLED * SAMPLED * SAMPLED];
                for z in 0..SAMPLED {
                    for y in 0..SAMPLED {
                        for x in 0..SAMPLED {
                            let (block, at) = self.block_and_place(*brick, [x, y, z]);
                            let of = &samples[block_of[block] as usize];
                            local[(z * SAMPLED + y) * SAMPLED + x] = f64::from(of[at]);
                        }
                    }
                }
                quasi_interpolant(&local)
            })
            .collect();
        self.numbers = numbers.concat();
    }

    /// Block and place in it of the sample `at` (each 0 to 8) around a brick. Blocks are bricks
    /// counted with one more on each side.
    fn block_and_place(&self, brick: [u32; 3], at: [usize; 3]) -> (usize, usize) {
        let (mut block, mut place) = (0, 0);
        for axis in (0..3).rev() {
            // The first sample lies two before the brick's corner.
            let global = (brick[axis] as usize + 1) * CELLS + at[axis] - 2;
            block = block * (self.size[axis] + 2) + global / CELLS;
            place = place * CELLS + global % CELLS;
        }
        (block, place)
    }

    /// Blocks of 4 x 4 x 4 samples of which some are needed, with a mark for each of these, and
    /// the number of each block among them.
    fn needed_blocks(&self) -> (Vec<([usize; 3], u64)>, Vec<u32>) {
        let [nx, ny, nz] = self.size.map(|s| s + 2);
        let mut number = vec![NONE; nx * ny * nz];
        let mut blocks: Vec<([usize; 3], u64)> = Vec::new();
        for brick in &self.bricks {
            for dz in 0..3 {
                for dy in 0..3 {
                    for dx in 0..3 {
                        let index = [
                            brick[0] as usize + dx,
                            brick[1] as usize + dy,
                            brick[2] as usize + dz,
                        ];
                        let place = (index[2] * ny + index[1]) * nx + index[0];
                        if number[place] == NONE {
                            number[place] = u32::try_from(blocks.len()).unwrap_or(0);
                            blocks.push((index, 0));
                        }
                        let marks = &mut blocks[number[place] as usize].1;
                        let range = |d: usize| match d {
                            0 => CELLS - 2..CELLS,
                            1 => 0..CELLS,
                            _ => 0..3,
                        };
                        for z in range(dz) {
                            for y in range(dy) {
                                for x in range(dx) {
                                    *marks |= 1 << ((z * CELLS + y) * CELLS + x);
                                }
                            }
                        }
                    }
                }
            }
        }
        (blocks, number)
    }

    /// Samples of one block; those farther than `known` mm from the mesh are kept at that.
    fn sample_block(&self, index: [usize; 3], needed: u64, f: &impl Field, known: f64) -> Vec<f32> {
        let corner = self.origin
            + Vector3::from(index).map(|i| (i as f64 - 1.0) * self.spacing * CELLS as f64);
        let mut out = vec![0.0_f32; CELLS * CELLS * CELLS];
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
fn quasi_interpolant(local: &[f64]) -> Vec<f32> {
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
    out
}
