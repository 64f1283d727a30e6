//! How large the cells of a spatial hash are, and in which parts it is made: both follow from the
//! number of its entries, estimated before memory is taken for them.

use super::super::centreline::Curve;
use super::super::path::number;
use super::{BRICK_BITS, CandidateRange, HALF_DIAGONAL, MARGIN_MM, index_of};
use nalgebra::Vector3;
use std::f64::consts::PI;
use std::sync::Arc;

/// Edge of the smallest cells in mm; larger ones are powers of two of it.
const CELL_MM: f64 = 1.0;
/// Edge of the largest cells in mm.
const LARGEST_CELL_MM: f64 = 16.0;
/// Entries, counted before they are made, above which cells are made larger where no bend is too
/// tight for that.
const MANY: f64 = 1e6;
/// Entries that are held at one time on the way to a grid, about: 72 bytes each.
const AT_ONCE: f64 = 4e5;
/// Every how many knots a curve is entered in the cells.
pub(super) const STRIDE: usize = 2;

/// How a grid is made: chosen before memory is taken for it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Layout {
    pub cell_mm: f64,
    /// Entries on the way to it, about.
    pub entries: f64,
}

impl Layout {
    /// The smallest cells with which there are not too many entries, but none larger than the
    /// radius of the tightest bend: within a cell, a curve must have one foot of a point.
    pub fn of(curves: &[Arc<Curve>], reach: &CandidateRange) -> Self {
        let tightest = curves
            .iter()
            .map(|curve| curve.tightest().1)
            .fold(LARGEST_CELL_MM, f64::min);
        let mut cell_mm = CELL_MM;
        loop {
            let entries = entries(curves, reach, cell_mm);
            if entries <= MANY || 2.0 * cell_mm > tightest {
                return Self { cell_mm, entries };
            }
            cell_mm *= 2.0;
        }
    }
}

/// How many entries the curves make in cells of a size: the volume within reach, over that of a
/// cell. A slice of a tube of radius R around a curve of curvature k has the volume (pi R² + 2/3 k R³)
/// for each mm where nothing beyond the centre of curvature counts; a half sphere closes either end.
fn entries(curves: &[Arc<Curve>], reach: &CandidateRange, cell_mm: f64) -> f64 {
    let widest = widest(curves);
    let slice = |curve: &Arc<Curve>| {
        let samples = (0..curve.knots.len()).step_by(STRIDE);
        let at = |i: usize| {
            let jet = curve.jet(number(i) * curve.spacing_mm);
            (far(jet.radius, widest, reach, cell_mm), jet.second.norm())
        };
        let areas = samples.map(|i| {
            let (far, curvature) = at(i);
            PI * far.powi(2) + 2.0 / 3.0 * curvature * far.powi(3)
        });
        let end = |i: usize| 2.0 / 3.0 * PI * at(i).0.powi(3);
        let ends = end(0) + end(curve.knots.len() - 1);
        ends + areas.sum::<f64>() * curve.spacing_mm * STRIDE as f64
    };
    curves.iter().map(slice).sum::<f64>() / cell_mm.powi(3)
}

pub(super) fn widest(curves: &[Arc<Curve>]) -> f64 {
    curves.iter().fold(0.0, |m: f64, c| m.max(c.widest_mm))
}

/// How far from a centreline with lumen radius `radius` a cell's middle may lie for the branch to
/// matter in the cell, where the widest branch of all has the radius `widest`.
pub(super) fn far(radius: f64, widest: f64, reach: &CandidateRange, cell_mm: f64) -> f64 {
    let (narrow, wide) = reach.factors;
    wide * radius
        + MARGIN_MM
        + reach.near_mm
        + reach.above_least_mm
        + 2.0 * reach.slope * HALF_DIAGONAL * cell_mm
        + (wide - narrow) * (widest - radius).max(0.0)
}

/// Ranges of the first index of cells, whole bricks each, that hold about equally many entries.
pub(super) fn slabs(
    curves: &[Arc<Curve>],
    reach: &CandidateRange,
    layout: &Layout,
) -> Vec<[i32; 2]> {
    let widest = widest(curves);
    let mut ends: Option<(f64, f64)> = None;
    for curve in curves {
        let beyond = far(curve.widest_mm, widest, reach, layout.cell_mm);
        for knot in &curve.knots {
            let (low, high) = ends.unwrap_or((knot.x, knot.x));
            ends = Some((low.min(knot.x - beyond), high.max(knot.x + beyond)));
        }
    }
    let Some((low, high)) = ends else {
        return Vec::new();
    };
    let of = |x: f64| index_of(&Vector3::new(x, 0.0, 0.0), 1.0 / layout.cell_mm)[0];
    let brick = 1 << BRICK_BITS;
    let (first, last) = (of(low) & !(brick - 1), of(high));
    let count = (layout.entries / AT_ONCE).ceil().max(1.0);
    let width = (f64::from(last - first + 1) / count / f64::from(brick)).ceil();
    let width = whole_cells(width) * brick;
    let starts = (0..).map(|k| first + k * width);
    starts
        .take_while(|start| *start <= last)
        .map(|start| [start, start + width - 1])
        .collect()
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a number of bricks along an axis, below 2^21"
)]
fn whole_cells(count: f64) -> i32 {
    count.max(1.0) as i32
}
