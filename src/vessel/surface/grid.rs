//! Signed distance near the wall as a cubic spline over a grid that exists near the wall only.
//!
//! The grid comes in bricks of 4 x 4 x 4 cells. A brick near the wall holds the 7 x 7 x 7
//! numbers that the spline needs inside it, so that a query looks at one brick. They are made when a
//! query first looks at it: most bricks of a large surface are never asked. The numbers are
//! c = f - (1/6) Σ Δᵢ f with Δᵢ the second difference along axis i: the local quasi-interpolant of
//! fourth order (C. de Boor and G. J. Fix, Spline approximation by quasiinterpolants, J Approx
//! Theory 8:19-45, 1973). The spline is twice continuously differentiable.

use std::sync::OnceLock;

use nalgebra::Vector3;
use rayon::prelude::*;

use super::fill::{Samples, quasi_interpolant};
use super::spline;
use crate::anatomy::surface::Hint;
use crate::vessel::lumen::WallPoint;

/// Cells along an edge of a brick.
pub(super) const CELLS: usize = 4;
/// Numbers along an edge of a brick.
pub(super) const ROW: usize = CELLS + 3;
/// Numbers in a brick.
pub(super) const BRICK: usize = ROW * ROW * ROW;
/// Mark of a brick that lies outside, or unknown.
pub(super) const NONE: u32 = u32::MAX;
/// Mark of a brick that lies deep inside.
const DEEP: u32 = u32::MAX - 1;
/// Most bricks in the box around all.
const MOST_PLACES: usize = 24_000_000;
/// Most bricks near the wall: about a second of work on two cores, if all are asked. A tree with narrow
/// ends that would need more gets a wider spacing; at a third of the lumen radius the spline still follows
/// a round wall to a thousandth of a millimetre.
const MOST_BRICKS: usize = 16_000;

/// Bricks that are looked at one after the other, along x.
const IN_A_ROW: usize = 64;

/// A signed distance with what is known about it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sample {
    /// The signed distance in mm.
    pub distance: f64,
    /// Distance to the mesh itself in mm, 0 or more.
    pub to_mesh: f64,
    /// Where to begin to look from a point close by.
    pub hint: Option<Hint>,
}

/// A signed distance, given a point, a hint from a point close by, and a distance from the mesh in mm
/// from which on it may be infinite.
pub(super) trait Field: Fn(&Vector3<f64>, Option<Hint>, f64) -> Sample + Sync {}

impl<F: Fn(&Vector3<f64>, Option<Hint>, f64) -> Sample + Sync> Field for F {}

/// Boxes of the pieces of a surface, one after the other.
pub(super) trait Pieces: Iterator<Item = (Vector3<f64>, Vector3<f64>)> + Clone {}

impl<P: Iterator<Item = (Vector3<f64>, Vector3<f64>)> + Clone> Pieces for P {}

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
    pub(super) fn wall(&self) -> WallPoint {
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
    pub(super) origin: Vector3<f64>,
    per_spacing: f64,
    /// Bricks along each axis.
    pub(super) size: [usize; 3],
    places: Vec<u32>,
    /// Numbers of each brick, once they were asked for.
    numbers: Vec<OnceLock<Box<[f32]>>>,
    samples: Samples,
    /// Index of each brick near the wall.
    pub bricks: Vec<[u32; 3]>,
}

/// What the grid is made for.
pub(super) struct Plan<P> {
    /// Corners of the box around the surface in mm.
    pub low: Vector3<f64>,
    pub high: Vector3<f64>,
    /// Boxes of the pieces of the surface.
    pub pieces: P,
    /// Distance from the wall in mm up to which the grid reaches inside.
    pub reach: f64,
    /// The same outside, no more than inside.
    pub reach_outside: f64,
    /// Distance from the mesh in mm up to which the grid holds the distance itself; beyond it is kept
    /// at that, which costs less.
    pub known: f64,
    /// Wanted spacing in mm.
    pub spacing: f64,
}

impl Grid {
    /// A grid over the signed distance `f`. Where it would need too much memory, the spacing is
    /// larger than wanted.
    pub(super) fn new<P: Pieces>(plan: &Plan<P>, f: &impl Field) -> Self {
        let mut spacing = plan.spacing;
        loop {
            if let Some(mut grid) = Self::outline(plan, spacing, f) {
                grid.numbers = vec![OnceLock::new(); grid.bricks.len()];
                grid.samples = Samples::of(&grid.bricks, grid.size, plan.known + 2.0 * spacing);
                return grid;
            }
            spacing *= 1.25;
        }
    }

    /// The bricks without their numbers; `None` if there are too many.
    fn outline<P: Pieces>(plan: &Plan<P>, spacing: f64, f: &impl Field) -> Option<Self> {
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
            samples: Samples::default(),
            bricks: Vec::new(),
        };
        let mut touched = vec![false; places];
        for (low, high) in plan.pieces.clone() {
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
            .par_chunks(IN_A_ROW)
            .flat_map_iter(|chunk| {
                let mut hint = None;
                let sample = |p: &usize| {
                    let low = grid.corner(grid.unplace(*p));
                    let sample = f(&low.add_scalar(0.5 * edge), hint, f64::INFINITY);
                    hint = sample.hint;
                    (*p, sample)
                };
                chunk.iter().map(sample).collect::<Vec<_>>()
            })
            .collect();
        for (p, sample) in found {
            let reach = if sample.distance < 0.0 {
                plan.reach
            } else {
                plan.reach_outside
            };
            if sample.to_mesh.min(sample.distance.abs()) <= reach + half_diagonal {
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

    /// What is known about `p`, by the field for which the grid was made.
    #[inline]
    pub(super) fn at(&self, p: &Vector3<f64>, f: &impl Field) -> Known<'_> {
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
                    numbers: self.numbers[brick].get_or_init(|| self.numbers_of(brick, f)),
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

    /// The numbers of a brick, from the samples in and around it.
    fn numbers_of(&self, brick: usize, f: &impl Field) -> Box<[f32]> {
        let sample = |index, needed| self.sample_block(index, needed, f, self.samples.known);
        quasi_interpolant(&self.samples.around(brick, &sample))
    }

    /// Bytes that the grid takes once all its bricks were asked.
    pub(super) fn bytes(&self) -> usize {
        4 * (self.places.len() + BRICK * self.bricks.len())
            + 12 * self.bricks.len()
            + self.samples.bytes()
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
