//! Which branches pass near a point: a spatial hash over the lumen and a margin around it.

use super::centreline::Curve;
use super::path::number;
use nalgebra::Vector3;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Edge of a cell in mm.
const CELL_MM: f64 = 1.0;
/// Cells in a mm.
const PER_CELL: f64 = 1.0 / CELL_MM;
/// Index of the cell that begins at coordinate 0.
const ORIGIN: f64 = 1_048_576.0;
/// Half the diagonal of a cell in mm.
const HALF_DIAGONAL_MM: f64 = 0.866_025_403_784_438_6;
/// How far beyond the wall cells reach, in mm.
const MARGIN_MM: f64 = 1.5;
/// Coordinates beyond this, in mm, are outside the grid.
const LIMIT_MM: f64 = 1e6;
/// Cells along one edge of a brick, as a power of two.
const BRICK_BITS: u32 = 2;
/// Cells in a brick.
const BRICK_CELLS: usize = 1 << (3 * BRICK_BITS);
/// Key of an empty place in the table.
const EMPTY: u64 = u64::MAX;
/// Every how many knots a curve is entered in the cells.
const STRIDE: usize = 2;

/// A branch that may matter in a cell, with its foot seen from the cell's middle.
#[derive(Debug, Clone, Copy)]
pub(super) struct Candidate {
    /// Station of the foot in mm.
    pub station: f64,
    /// Distance of the cell's middle from the foot in mm.
    pub rho: f64,
    /// Lumen radius at the foot in mm, before scaling.
    pub radius: f64,
    /// How the station changes with the point.
    pub station_gradient: Vector3<f64>,
    /// Index of the branch.
    pub branch: usize,
}

/// For which distances the candidates of a cell must suffice.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reach {
    /// Smallest and largest factor on all diameters.
    pub factors: (f64, f64),
    /// A branch matters if its distance is above the smallest by no more than this, in mm.
    pub above_least_mm: f64,
    /// A branch matters if its distance is no more than this, in mm.
    pub near_mm: f64,
    /// How fast a branch's distance can change, as a bound on its gradient.
    pub slope: f64,
}

/// A point's cell.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell<'a> {
    /// In order of branch; a branch that passes twice stands twice.
    pub candidates: &'a [Candidate],
    /// The point asked for, from the cell's middle, in mm.
    pub from_middle: Vector3<f64>,
}

impl Cell<'_> {
    /// Station near the foot of the point, to second order.
    #[inline]
    pub(super) fn station(&self, candidate: &Candidate) -> f64 {
        candidate.station + candidate.station_gradient.dot(&self.from_middle)
    }
}

/// The spatial hash. Cells lie in bricks of 4 x 4 x 4, bricks in an open-addressed table, so
/// that a query costs the same in a small tree and in a large one.
#[derive(Debug)]
pub(super) struct Grid {
    /// (key of brick, number of brick).
    table: Vec<(u64, usize)>,
    shift: u32,
    /// First candidate of every cell of every brick, and the end behind the last.
    starts: Vec<usize>,
    candidates: Vec<Candidate>,
}

/// One entry on the way to a grid: cell and candidate.
type Entry = (u64, usize, Candidate);

impl Grid {
    /// Enters all curves.
    pub(super) fn new(curves: &[Arc<Curve>], reach: &Reach) -> Self {
        let widest = curves.iter().fold(0.0, |m: f64, c| m.max(c.widest_mm));
        let mut entries: Vec<Entry> = Vec::new();
        for (branch, curve) in curves.iter().enumerate() {
            enter(branch, curve, widest, reach, &mut entries);
        }
        entries.sort_by(|a, b| {
            (a.0, a.1, a.2.branch)
                .cmp(&(b.0, b.1, b.2.branch))
                .then(a.2.station.total_cmp(&b.2.station))
        });
        let mut bricks: BTreeMap<u64, usize> = BTreeMap::new();
        let mut starts = Vec::new();
        let mut candidates = Vec::new();
        for group in entries.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
            let kept = matter(group, reach);
            if kept.is_empty() {
                continue;
            }
            let count = bricks.len();
            let brick = *bricks.entry(group[0].0).or_insert(count);
            starts.resize(brick * BRICK_CELLS + group[0].1 + 1, candidates.len());
            candidates.extend(kept);
        }
        starts.resize(bricks.len() * BRICK_CELLS + 1, candidates.len());
        let size = (2 * bricks.len()).next_power_of_two().max(2);
        let shift = 64 - size.trailing_zeros();
        let mut table = vec![(EMPTY, 0); size];
        for (&key, &brick) in &bricks {
            let mut place = hash(key, shift);
            while table[place].0 != EMPTY {
                place = (place + 1) & (size - 1);
            }
            table[place] = (key, brick);
        }
        Self {
            table,
            shift,
            starts,
            candidates,
        }
    }

    /// The cell of `p`; `None` outside the lumen and its margin.
    #[inline]
    pub(super) fn cell(&self, p: &Vector3<f64>) -> Option<Cell<'_>> {
        let in_range = |x: f64| x.abs() < LIMIT_MM;
        if !(in_range(p.x) && in_range(p.y) && in_range(p.z)) {
            return None;
        }
        let index = index_of(p);
        let (key, local) = address(index);
        let mut place = hash(key, self.shift);
        loop {
            let (found, brick) = self.table[place];
            if found == key {
                let at = brick * BRICK_CELLS + local;
                let candidates = &self.candidates[self.starts[at]..self.starts[at + 1]];
                return (!candidates.is_empty()).then(|| Cell {
                    candidates,
                    from_middle: p - middle(index),
                });
            }
            if found == EMPTY {
                return None;
            }
            place = (place + 1) & (self.table.len() - 1);
        }
    }
}

/// Enters one curve into every cell within reach from whose middle it has a foot.
fn enter(branch: usize, curve: &Curve, widest: f64, reach: &Reach, entries: &mut Vec<Entry>) {
    let (narrow, wide) = reach.factors;
    let beyond = MARGIN_MM
        + reach.near_mm
        + reach.above_least_mm
        + 2.0 * reach.slope * HALF_DIAGONAL_MM
        + (wide - narrow) * widest;
    let last = curve.knots.len() - 1;
    let mut samples: Vec<usize> = (0..last).step_by(STRIDE).collect();
    samples.push(last);
    for (at, &i) in samples.iter().enumerate() {
        let here = curve.knots[i];
        let station = number(i) * curve.spacing_mm;
        let before = at.checked_sub(1).map(|j| curve.knots[samples[j]] - here);
        let after = samples.get(at + 1).map(|&j| curve.knots[j] - here);
        let far = wide * curve.jet(station).radius + beyond;
        let (low, high) = (
            index_of(&here.map(|x| x - far)),
            index_of(&here.map(|x| x + far)),
        );
        for x in low[0]..=high[0] {
            for y in low[1]..=high[1] {
                for z in low[2]..=high[2] {
                    let centre = middle([x, y, z]);
                    let offset = centre - here;
                    let is_foot = offset.norm_squared() <= far * far
                        && before.is_none_or(|d| offset.dot(&d) < 0.5 * d.norm_squared())
                        && after.is_none_or(|d| offset.dot(&d) <= 0.5 * d.norm_squared());
                    if is_foot {
                        let foot = curve.foot_near(&centre, station);
                        let (key, local) = address([x, y, z]);
                        let candidate = Candidate {
                            station: foot.station,
                            rho: foot.rho,
                            radius: foot.radius,
                            station_gradient: foot.station_gradient(),
                            branch,
                        };
                        entries.push((key, local, candidate));
                    }
                }
            }
        }
    }
}

/// The candidates of a cell that can matter at any of its points for any factor; empty if the
/// cell lies beyond the margin.
///
/// Which of two tubes is nearer is linear in the factor, so the two ends of its range decide.
fn matter(group: &[Entry], reach: &Reach) -> Vec<Candidate> {
    let (narrow, wide) = reach.factors;
    let across = reach.slope * HALF_DIAGONAL_MM;
    let distance = |c: &Candidate, factor: f64| c.rho - factor * c.radius;
    let Some(least) = group
        .iter()
        .map(|e| e.2)
        .min_by(|a, b| distance(a, wide).total_cmp(&distance(b, wide)))
    else {
        return Vec::new();
    };
    if distance(&least, wide) > MARGIN_MM {
        return Vec::new();
    }
    let limit = reach.above_least_mm + 2.0 * across;
    let mut kept: Vec<Candidate> = Vec::new();
    for branch in group.chunk_by(|a, b| a.2.branch == b.2.branch) {
        let nearest = branch.iter().fold(f64::INFINITY, |m, e| m.min(e.2.rho));
        for (_, _, c) in branch {
            let may_be_foot = c.rho <= nearest + 2.0 * HALF_DIAGONAL_MM;
            let repeated = kept.last().is_some_and(|k| {
                k.branch == c.branch && (k.station - c.station).abs() < 0.5 * CELL_MM
            });
            let counts = distance(c, wide) <= reach.near_mm + across
                || [narrow, wide]
                    .iter()
                    .any(|&f| distance(c, f) <= distance(&least, f) + limit);
            if may_be_foot && counts && !repeated {
                kept.push(*c);
            }
        }
    }
    kept
}

/// Index of the cell in which `p` lies, counted from a corner of the whole range so that
/// cutting off the fraction rounds down.
#[expect(
    clippy::cast_possible_truncation,
    reason = "coordinates are limited to less than a million cells"
)]
#[inline]
fn index_of(p: &Vector3<f64>) -> [i32; 3] {
    [
        (p.x * PER_CELL + ORIGIN) as i32,
        (p.y * PER_CELL + ORIGIN) as i32,
        (p.z * PER_CELL + ORIGIN) as i32,
    ]
}

/// Middle of a cell in mm.
#[inline]
fn middle(index: [i32; 3]) -> Vector3<f64> {
    Vector3::from(index).map(|i| (f64::from(i) - (ORIGIN - 0.5)) * CELL_MM)
}

/// Key of the brick and number of the cell in it.
#[inline]
fn address(index: [i32; 3]) -> (u64, usize) {
    let cell = (1_usize << BRICK_BITS) - 1;
    let mut key = 0_u64;
    let mut local = 0_usize;
    for i in index {
        key = (key << 21) | ((i >> BRICK_BITS) as u64);
        local = (local << BRICK_BITS) | (i as usize & cell);
    }
    (key, local)
}

/// Place of a key in a table of 2^(64 - shift) places (multiplicative hashing).
#[expect(
    clippy::cast_possible_truncation,
    reason = "the shift leaves no more bits than the table has places"
)]
#[inline]
fn hash(key: u64, shift: u32) -> usize {
    (key.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> shift) as usize
}
