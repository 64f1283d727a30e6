//! Which branches pass near a point: a spatial hash over the lumen and a margin around it.

mod enter;
mod layout;

use super::centreline::Curve;
use enter::{Entry, enter, matter};
use layout::{Layout, slabs, widest};
use nalgebra::Vector3;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Index of the cell that begins at coordinate 0.
const ORIGIN: f64 = 1_048_576.0;
/// Half the diagonal of a cell over its edge.
const HALF_DIAGONAL: f64 = 0.866_025_403_784_438_6;
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
pub(super) struct CandidateRange {
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
    /// Edge of a cell in mm.
    cell_mm: f64,
    /// Cells in a mm.
    per_cell: f64,
    /// (key of brick, number of brick).
    table: Vec<(u64, usize)>,
    shift: u32,
    /// First candidate of every cell of every brick, and the end behind the last.
    starts: Vec<usize>,
    candidates: Vec<Candidate>,
}

/// Why no grid is made.
#[derive(Debug, Clone, Copy)]
pub(super) enum Excess {
    /// So many entries, about.
    Entries(f64),
    /// More than [`MOST_IN_A_CELL`] branches near this place in mm.
    Crowd(Vector3<f64>),
}

/// Most passes of branches near one place; a query looks at all of them.
pub(super) const MOST_IN_A_CELL: usize = 100;

impl Grid {
    /// Most entries of the grid of a scenario: each takes 56 bytes.
    pub(super) const MOST: usize = 1_500_000;
    /// Most entries on the way there, of which each takes half a microsecond.
    const MOST_ON_THE_WAY: f64 = 4e6;

    /// Enters all curves; where it is `limited`, what is too much is refused.
    pub(super) fn new(
        curves: &[Arc<Curve>],
        reach: &CandidateRange,
        limited: bool,
    ) -> Result<Self, Excess> {
        let layout = Layout::of(curves, reach);
        if limited && layout.entries > Self::MOST_ON_THE_WAY {
            return Err(Excess::Entries(layout.entries));
        }
        let cell_mm = layout.cell_mm;
        let mut bricks: BTreeMap<u64, usize> = BTreeMap::new();
        let mut starts = Vec::new();
        let mut candidates = Vec::new();
        // Keys of bricks rise with x first, so that slabs of bricks, one after the other, come out
        // in the order of the keys.
        for slab in slabs(curves, reach, &layout) {
            let mut entries: Vec<Entry> = Vec::new();
            for (branch, curve) in curves.iter().enumerate() {
                enter(
                    (branch, curve),
                    widest(curves),
                    reach,
                    (cell_mm, slab),
                    &mut entries,
                );
            }
            entries.sort_unstable_by(|a, b| {
                (a.0, a.1, a.2.branch)
                    .cmp(&(b.0, b.1, b.2.branch))
                    .then(a.2.station.total_cmp(&b.2.station))
            });
            for group in entries.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
                let kept = matter(group, reach, cell_mm);
                if kept.is_empty() {
                    continue;
                }
                if limited && kept.len() > MOST_IN_A_CELL {
                    let [first, ..] = kept.as_slice() else {
                        continue;
                    };
                    let place = curves[first.branch].jet(first.station).position;
                    return Err(Excess::Crowd(place));
                }
                let count = bricks.len();
                let brick = *bricks.entry(group[0].0).or_insert(count);
                starts.resize(brick * BRICK_CELLS + group[0].1 + 1, candidates.len());
                candidates.extend(kept);
            }
            if limited && candidates.len() > Self::MOST {
                return Err(Excess::Entries(candidates.len() as f64));
            }
        }
        starts.resize(bricks.len() * BRICK_CELLS + 1, candidates.len());
        candidates.shrink_to_fit();
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
        Ok(Self {
            cell_mm,
            per_cell: 1.0 / cell_mm,
            table,
            shift,
            starts,
            candidates,
        })
    }

    /// Bytes of memory that the hash takes.
    pub(super) fn bytes(&self) -> usize {
        size_of_val(self.table.as_slice())
            + size_of_val(self.starts.as_slice())
            + size_of_val(self.candidates.as_slice())
    }

    /// The cell of `p`; `None` outside the lumen and its margin.
    #[inline]
    pub(super) fn cell(&self, p: &Vector3<f64>) -> Option<Cell<'_>> {
        let in_range = |x: f64| x.abs() < LIMIT_MM;
        if !(in_range(p.x) && in_range(p.y) && in_range(p.z)) {
            return None;
        }
        let index = index_of(p, self.per_cell);
        let (key, local) = address(index);
        let mut place = hash(key, self.shift);
        loop {
            let (found, brick) = self.table[place];
            if found == key {
                let at = brick * BRICK_CELLS + local;
                let candidates = &self.candidates[self.starts[at]..self.starts[at + 1]];
                return (!candidates.is_empty()).then(|| Cell {
                    candidates,
                    from_middle: p - middle(index, self.cell_mm),
                });
            }
            if found == EMPTY {
                return None;
            }
            place = (place + 1) & (self.table.len() - 1);
        }
    }
}

/// Index of the cell in which `p` lies, counted from a corner of the whole range so that
/// cutting off the fraction rounds down.
#[expect(
    clippy::cast_possible_truncation,
    reason = "coordinates are limited to less than a million cells"
)]
#[inline]
fn index_of(p: &Vector3<f64>, per_cell: f64) -> [i32; 3] {
    [
        (p.x * per_cell + ORIGIN) as i32,
        (p.y * per_cell + ORIGIN) as i32,
        (p.z * per_cell + ORIGIN) as i32,
    ]
}

/// Middle of a cell in mm.
#[inline]
fn middle(index: [i32; 3], cell_mm: f64) -> Vector3<f64> {
    Vector3::from(index).map(|i| (f64::from(i) - (ORIGIN - 0.5)) * cell_mm)
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
