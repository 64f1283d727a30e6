//! Signed distance near the wall as a cubic spline over a grid that exists near the wall only.
//!
//! The grid comes in bricks of 4 x 4 x 4 cells. A brick near the wall holds the 7 x 7 x 7
//! numbers that the spline needs inside it, so that a query looks at one brick. The numbers are
//! c = f - (1/6) Σ Δᵢ f with Δᵢ the second difference along axis i: the local quasi-interpolant of
//! fourth order (C. de Boor and G. J. Fix, Spline approximation by quasiinterpolants, J Approx
//! Theory 8:19-45, 1973). The spline is twice continuously differentiable.

use nalgebra::Vector3;
use rayon::prelude::*;

use super::spline;
use crate::vessel::lumen::LumenPoint;

/// Cells along an edge of a brick.
pub(super) const CELLS: usize = 4;
/// Numbers along an edge of a brick.
const ROW: usize = CELLS + 3;
/// Numbers in a brick.
const BRICK: usize = ROW * ROW * ROW;
/// Samples along an edge of a brick and one more on each side for the differences.
const SAMPLED: usize = ROW + 2;
/// Mark of a brick that lies outside, or unknown.
const NONE: u32 = u32::MAX;
/// Mark of a brick that lies deep inside.
const DEEP: u32 = u32::MAX - 1;
/// Most bricks in the box around all.
const MOST_PLACES: usize = 24_000_000;
/// Most bricks that hold numbers.
const MOST_BRICKS: usize = 60_000;

/// A signed distance with what is known about it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sample {
    /// The signed distance in mm.
    pub distance: f64,
    /// Distance to the wall in mm with which neighbouring samples are bounded.
    pub bound: f64,
}

/// What the grid knows about a point.
pub(super) enum Known<'a> {
    /// It lies in a brick near the wall.
    Near(Spot<'a>),
    /// It lies deeper inside than the reach.
    Deep,
    /// Nothing.
    Nothing,
}

/// A point in a brick near the wall.
pub(super) struct Spot<'a> {
    numbers: &'a [f32],
    first: usize,
    t: Vector3<f64>,
    spacing: f64,
    /// Number of the brick.
    pub brick: usize,
    /// Place in the brick, each coordinate 0 to 1.
    pub place: Vector3<f64>,
}

impl Spot<'_> {
    /// The spline at the point.
    #[inline]
    pub(super) fn wall(&self) -> LumenPoint {
        spline::at(self.numbers, self.first, ROW, &self.t, self.spacing)
    }

    /// Whether the distance is surely below `limit`, seen from the nearest number alone.
    #[inline]
    pub(super) fn is_surely_below(&self, limit: f64) -> bool {
        let middle = self.first + (ROW + 1) * ROW + 1;
        f64::from(self.numbers[middle]) < limit - 2.0 * self.spacing
    }
}

/// The grid.
#[derive(Debug, Clone)]
pub(super) struct Grid {
    pub spacing: f64,
    origin: Vector3<f64>,
    per_spacing: f64,
    /// Bricks along each axis.
    size: [usize; 3],
    places: Vec<u32>,
    numbers: Vec<f32>,
    /// Index of each brick that holds numbers.
    pub bricks: Vec<[u32; 3]>,
}

/// What the grid is made for.
pub(super) struct Plan<'a> {
    /// Corners of the box around the surface in mm.
    pub low: Vector3<f64>,
    pub high: Vector3<f64>,
    /// Boxes of the pieces of the surface.
    pub pieces: &'a [(Vector3<f64>, Vector3<f64>)],
    /// Distance from the wall in mm up to which the grid reaches.
    pub reach: f64,
    /// Wanted spacing in mm.
    pub spacing: f64,
}

impl Grid {
    /// A grid over the signed distance `f`, which is given a point and a bound on its distance.
    /// Where it would need too much memory, the spacing is larger than wanted.
    pub(super) fn new(plan: &Plan<'_>, f: &(impl Fn(&Vector3<f64>, f64) -> Sample + Sync)) -> Self {
        let mut spacing = plan.spacing;
        loop {
            if let Some(mut grid) = Self::outline(plan, spacing, f) {
                grid.fill(f);
                return grid;
            }
            spacing *= 1.25;
        }
    }

    /// The bricks without their numbers; `None` if there are too many.
    fn outline(
        plan: &Plan<'_>,
        spacing: f64,
        f: &(impl Fn(&Vector3<f64>, f64) -> Sample + Sync),
    ) -> Option<Self> {
        let edge = spacing * CELLS as f64;
        let origin = plan.low - Vector3::repeat(plan.reach + 0.5 * edge);
        let extent = plan.high - plan.low + Vector3::repeat(2.0 * plan.reach + edge);
        let size = [extent.x, extent.y, extent.z].map(|x| count(x / edge) + 1);
        let places = size.iter().try_fold(1_usize, |n, s| n.checked_mul(*s))?;
        if places > MOST_PLACES {
            return None;
        }
        let mut grid = Self {
            spacing,
            origin,
            per_spacing: 1.0 / spacing,
            size,
            places: vec![NONE; places],
            numbers: Vec::new(),
            bricks: Vec::new(),
        };
        let mut touched = vec![false; places];
        for (low, high) in plan.pieces {
            let from = grid.brick_index(&low.add_scalar(-plan.reach));
            let to = grid.brick_index(&high.add_scalar(plan.reach));
            for z in from[2]..=to[2] {
                for y in from[1]..=to[1] {
                    for x in from[0]..=to[0] {
                        touched[grid.place([x, y, z])] = true;
                    }
                }
            }
        }
        let candidates: Vec<usize> = (0..places).filter(|p| touched[*p]).collect();
        let half_diagonal = 0.5 * edge * 3_f64.sqrt();
        let found: Vec<(usize, Sample)> = candidates
            .into_par_iter()
            .map(|p| {
                let low = grid.corner(grid.unplace(p));
                (p, f(&low.add_scalar(0.5 * edge), f64::INFINITY))
            })
            .collect();
        for (p, sample) in found {
            if sample.bound.min(sample.distance.abs()) <= plan.reach + half_diagonal {
                let number = u32::try_from(grid.bricks.len()).unwrap_or(NONE);
                grid.places[p] = number;
                let index = grid.unplace(p);
                grid.bricks
                    .push(index.map(|i| u32::try_from(i).unwrap_or(0)));
            } else if sample.distance < 0.0 {
                grid.places[p] = DEEP;
            }
        }
        if grid.bricks.len() > MOST_BRICKS {
            return None;
        }
        grid.spread_deep();
        Some(grid)
    }

    /// Marks what is enclosed by bricks near the wall as deep, from those that are known to be.
    fn spread_deep(&mut self) {
        let mut waiting: Vec<usize> = (0..self.places.len())
            .filter(|p| self.places[*p] == DEEP)
            .collect();
        while let Some(p) = waiting.pop() {
            let index = self.unplace(p);
            for axis in 0..3 {
                for step in [-1_isize, 1] {
                    let mut next = index;
                    let Some(moved) = next[axis].checked_add_signed(step) else {
                        continue;
                    };
                    if moved >= self.size[axis] {
                        continue;
                    }
                    next[axis] = moved;
                    let q = self.place(next);
                    if self.places[q] == NONE {
                        self.places[q] = DEEP;
                        waiting.push(q);
                    }
                }
            }
        }
    }

    /// Samples every grid point that a brick needs once, and makes the numbers.
    fn fill(&mut self, f: &(impl Fn(&Vector3<f64>, f64) -> Sample + Sync)) {
        let (blocks, block_of) = self.needed_blocks();
        let samples: Vec<Vec<f32>> = blocks
            .par_iter()
            .map(|(index, needed)| self.sample_block(*index, *needed, f))
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

    fn sample_block(
        &self,
        index: [usize; 3],
        needed: u64,
        f: &(impl Fn(&Vector3<f64>, f64) -> Sample + Sync),
    ) -> Vec<f32> {
        let corner = self.origin
            + Vector3::from(index).map(|i| (i as f64 - 1.0) * self.spacing * CELLS as f64);
        let mut out = vec![0.0_f32; CELLS * CELLS * CELLS];
        let mut before: Option<(Vector3<f64>, f64)> = None;
        for z in 0..CELLS {
            for y in 0..CELLS {
                for k in 0..CELLS {
                    // There and back, so that neighbours follow each other.
                    let x = if y % 2 == 0 { k } else { CELLS - 1 - k };
                    if needed >> ((z * CELLS + y) * CELLS + x) & 1 == 0 {
                        continue;
                    }
                    let p = corner + Vector3::new(x as f64, y as f64, z as f64) * self.spacing;
                    let bound = before.map_or(f64::INFINITY, |(q, d)| {
                        (d + (p - q).norm()) * (1.0 + 1e-9) + 1e-9
                    });
                    let sample = f(&p, bound);
                    before = Some((p, sample.bound));
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

    /// What is known about `p`.
    #[inline]
    pub(super) fn at(&self, p: &Vector3<f64>) -> Known<'_> {
        let g = (p - self.origin) * self.per_spacing;
        let limit = self.size.map(|s| (s * CELLS) as f64);
        if !(g.x >= 0.0 && g.y >= 0.0 && g.z >= 0.0)
            || g.x >= limit[0]
            || g.y >= limit[1]
            || g.z >= limit[2]
        {
            return Known::Nothing;
        }
        let cell = [g.x, g.y, g.z].map(cell);
        let index = cell.map(|c| c / CELLS);
        match self.places[self.place(index)] {
            NONE => Known::Nothing,
            DEEP => Known::Deep,
            brick => {
                let local = cell.map(|c| c % CELLS);
                let t = g - Vector3::from(cell).map(|c| c as f64);
                let brick = brick as usize;
                Known::Near(Spot {
                    numbers: &self.numbers[brick * BRICK..(brick + 1) * BRICK],
                    first: (local[2] * ROW + local[1]) * ROW + local[0],
                    place: (t + Vector3::from(local).map(|c| c as f64)) / CELLS as f64,
                    t,
                    spacing: self.spacing,
                    brick,
                })
            }
        }
    }

    fn brick_index(&self, p: &Vector3<f64>) -> [usize; 3] {
        let g = (p - self.origin) * (self.per_spacing / CELLS as f64);
        [0, 1, 2].map(|i| count(g[i]).min(self.size[i] - 1))
    }

    #[inline]
    fn place(&self, [x, y, z]: [usize; 3]) -> usize {
        (z * self.size[1] + y) * self.size[0] + x
    }

    fn unplace(&self, place: usize) -> [usize; 3] {
        let [nx, ny, _] = self.size;
        [place % nx, place / nx % ny, place / nx / ny]
    }

    /// Corner of a brick in mm.
    pub(super) fn corner(&self, index: [usize; 3]) -> Vector3<f64> {
        self.origin + Vector3::from(index).map(|i| i as f64 * self.spacing * CELLS as f64)
    }

    /// Bytes that the grid takes.
    pub(super) fn bytes(&self) -> usize {
        4 * (self.places.len() + self.numbers.len()) + 12 * self.bricks.len()
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates at 0 and far above any grid"
)]
fn count(x: f64) -> usize {
    x as usize
}

/// Number of a cell; the coordinate is known to lie in the grid.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "known to lie in the grid"
)]
#[inline]
fn cell(x: f64) -> usize {
    x as u32 as usize
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
