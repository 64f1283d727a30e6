//! The union of the balls along the centrelines: a lumen also where a bend is tighter than the
//! lumen is wide.
//!
//! A tube needs bends wider than its radius; on the inner side of a tighter one its wall would pass
//! through itself. The union of the balls of radius r(s) about c(s) is a lumen at any bend: there
//! its wall has a fold, the edge at which balls from before and from behind the bend meet.

use std::ops::Range;
use std::sync::Arc;

use nalgebra::{Matrix3, Vector3};
use rustc_hash::FxHashMap;

use super::blend::smooth_min_wall;
use super::error::VesselError;
use super::lumen::{Lumen, WallPoint};
use super::net::{Spacing, net_around, stations, wall_cells};
use super::surface::SurfaceLumen;
use super::tree::{Branch, Tree};
use crate::anatomy::surface::Mesh;
use crate::scenario::model::{Place, VesselSpec};

/// Lumen radius over bend radius from which on a bend is a fold: on its inner side the wall of a tube
/// then has a radius of a quarter of the bend's, trials widen the lumen by some per cent more, and a
/// wire pushes beyond the wall, where the tube's foot point is soon undefined.
const FOLD: f64 = 0.75;
/// Length of a piece as a share of the radius there, and its limits in mm.
const PIECE: f64 = 0.15;
const PIECE_MM: (f64, f64) = (0.05, 0.5);
/// Edge of the cells in which pieces are looked for, in mm.
const CELL_MM: f64 = 1.5;
/// How far outside of the wall distances are known, in mm.
const REACH_MM: f64 = 1.5;
/// Most entries of pieces in cells, as estimated: a second and some 150 MB.
const MOST_ENTRIES: f64 = 2.5e7;
/// Most cells of the net of the wall, as estimated: a second or two and some 150 MB.
const MOST_CELLS: f64 = 5e5;
/// Distance in mm of the facets of such a lumen from the wall.
pub const BALLS_WITHIN_MM: f64 = 0.04;

/// The place at which a branch bends most tightly for its width.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fold {
    /// Number of the branch.
    pub branch: usize,
    /// Station in mm.
    pub station_mm: f64,
    /// Radius of the bend in mm.
    pub bend_mm: f64,
    /// Radius of the lumen in mm.
    pub lumen_mm: f64,
}

/// The folds of a tree, one at most for each branch: bends that are no wider than the lumen needs.
#[must_use]
pub fn folds(tree: &Tree) -> Vec<Fold> {
    let of = |(number, branch): (usize, &Branch)| {
        let worst = super::check::tightest_for_its_width(&branch.centreline);
        (worst.tightness > FOLD).then_some(Fold {
            branch: number,
            station_mm: worst.station_mm,
            bend_mm: worst.bend_mm,
            lumen_mm: worst.lumen_mm,
        })
    };
    tree.branches().iter().enumerate().filter_map(of).collect()
}

/// A piece of a branch: balls along a straight line, their radius linear.
#[derive(Debug, Clone, Copy)]
struct TaperedSegment {
    branch: usize,
    from: Vector3<f64>,
    along: Vector3<f64>,
    length: f64,
    radii: [f64; 2],
    /// Change of the radius over the length.
    slope: f64,
    /// sqrt(1 - slope²), 0 where the radius changes by more than the length.
    root: f64,
}

impl TaperedSegment {
    fn new(branch: usize, [from, to]: [Vector3<f64>; 2], length: f64, radii: [f64; 2]) -> Self {
        let slope = (radii[1] - radii[0]) / length;
        Self {
            branch,
            from,
            along: (to - from) / length,
            length,
            radii,
            slope,
            root: (1.0 - slope * slope).max(0.0).sqrt(),
        }
    }

    /// Distance of `p` from the union of the piece's balls, and from which ball's middle.
    ///
    /// With the point of the line that is h along it and rho beside it nearest to `p`, the ball that
    /// comes nearest lies k rho / sqrt(1 - k²) further towards the wider end, k being the slope of
    /// the radius.
    fn distance(&self, p: &Vector3<f64>) -> (f64, Vector3<f64>) {
        let offset = p - self.from;
        let along = offset.dot(&self.along);
        let beside = (offset - self.along * along).norm();
        let slope = self.slope;
        let at = if self.root > 0.0 {
            (along + slope * beside / self.root).clamp(0.0, self.length)
        } else if slope > 0.0 {
            self.length
        } else {
            0.0
        };
        let radius = self.radii[0] + slope * at;
        let from_middle = offset - self.along * at;
        (from_middle.norm() - radius, from_middle)
    }
}

/// Slack for rounding where pieces are passed over, in mm.
const SLACK_MM: f64 = 1e-9;

/// The union of the balls of all branches, with the carina blended as that of tubes is.
pub(super) struct Balls {
    pieces: Vec<TaperedSegment>,
    /// For each piece, the lengths and the changes of the radius of all pieces up to its end, in mm: the
    /// distance of a point from balls along a branch changes by no more than this does.
    walked_mm: Vec<f64>,
    /// Pieces near each cell, as runs of one branch.
    cells: FxHashMap<[i32; 3], Vec<Range<u32>>>,
    blend_mm: f64,
}

impl Balls {
    pub(super) fn new(tree: &Tree, blend_mm: f64) -> Self {
        let mut out = Self {
            pieces: Vec::new(),
            walked_mm: Vec::new(),
            cells: FxHashMap::default(),
            blend_mm,
        };
        let mut walked_mm = 0.0;
        for (branch, of) in tree.branches().iter().enumerate() {
            let line = &of.centreline;
            let length = line.length_mm();
            let mut station = 0.0;
            while station < length {
                let radius = line.radius(station);
                let step = piece_mm(radius);
                let next = if station + 1.5 * step > length {
                    length
                } else {
                    station + step
                };
                let (from, to) = (line.position(station), line.position(next));
                let length = (to - from).norm();
                let radii = [radius, line.radius(next)];
                walked_mm += length + (radii[1] - radii[0]).abs();
                if length > 0.0 {
                    out.walked_mm.push(walked_mm);
                    out.add(TaperedSegment::new(branch, [from, to], length, radii));
                }
                station = next;
            }
        }
        out
    }

    fn add(&mut self, piece: TaperedSegment) {
        let reach = piece.radii[0].max(piece.radii[1]) + REACH_MM;
        let to = piece.from + piece.along * piece.length;
        let low = cell(&piece.from.inf(&to).add_scalar(-reach));
        let high = cell(&piece.from.sup(&to).add_scalar(reach));
        let number = u32::try_from(self.pieces.len()).unwrap_or(u32::MAX);
        let is_first = self.pieces.last().is_none_or(|p| p.branch != piece.branch);
        for z in low[2]..=high[2] {
            for y in low[1]..=high[1] {
                for x in low[0]..=high[0] {
                    let middle = Vector3::from([x, y, z]).map(|i| (f64::from(i) + 0.5) * CELL_MM);
                    // Half a diagonal of the cell more than the reach.
                    if piece.distance(&middle).0 <= REACH_MM + 0.9 * CELL_MM {
                        let runs = self.cells.entry([x, y, z]).or_default();
                        match runs.last_mut() {
                            Some(run) if run.end == number && !is_first => run.end += 1,
                            _ => runs.push(number..number + 1),
                        }
                    }
                }
            }
        }
        self.pieces.push(piece);
    }

    /// The wall as seen from `p`; `None` farther from it, outside, than pieces are listed for.
    fn wall(&self, p: &Vector3<f64>) -> Option<WallPoint> {
        let mut union: Option<WallPoint> = None;
        let mut nearest: Option<(usize, f64, Vector3<f64>)> = None;
        let mut close = |found: Option<(usize, f64, Vector3<f64>)>| {
            if let Some((_, distance_mm, from_middle)) = found {
                let wall = WallPoint {
                    distance_mm,
                    gradient: from_middle.try_normalize(1e-9).unwrap_or_default(),
                    velocity: Vector3::zeros(),
                    hessian: Matrix3::zeros(),
                };
                union = Some(union.map_or(wall, |u| smooth_min_wall(&u, &wall, self.blend_mm)));
            }
        };
        // Runs are listed in the order of the branches.
        for run in self.cells.get(&cell(p))? {
            let branch = self.pieces[run.start as usize].branch;
            if nearest.is_some_and(|n| n.0 != branch) {
                close(nearest.take());
            }
            let before = nearest.map_or(f64::INFINITY, |n| n.1);
            if let Some((distance, from_middle)) = self.nearest_of(run, p, before) {
                nearest = Some((branch, distance, from_middle));
            }
        }
        close(nearest);
        union
    }

    /// The first of the nearest pieces of a run, if it is nearer than `before` mm: its distance, and from
    /// which ball's middle.
    fn nearest_of(
        &self,
        run: &Range<u32>,
        p: &Vector3<f64>,
        before: f64,
    ) -> Option<(f64, Vector3<f64>)> {
        let (from, end) = (run.start as usize, run.end as usize);
        let mut least = before;
        let mut found = None;
        // Pieces farther than some one are passed over; that in the middle is often near.
        let middle = self.pieces[usize::midpoint(from, end)].distance(p).0;
        let mut at = from;
        while at < end {
            let (distance, from_middle) = self.pieces[at].distance(p);
            if distance < least {
                least = distance;
                found = Some((distance, from_middle));
            }
            let may_be_nearer = self.walked_mm[at] + distance - least.min(middle) - SLACK_MM;
            at += 1;
            while at < end && self.walked_mm[at] < may_be_nearer {
                at += 1;
            }
        }
        found
    }
}

fn cell(p: &Vector3<f64>) -> [i32; 3] {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the cast saturates; coordinates are limited"
    )]
    let of = |x: f64| (x / CELL_MM).floor() as i32;
    [of(p.x), of(p.y), of(p.z)]
}

impl Lumen for Balls {
    fn near_wall(&self, p: &Vector3<f64>, _time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        self.wall(p).filter(|w| w.distance_mm >= -margin_mm)
    }

    fn distance(&self, p: &Vector3<f64>) -> f64 {
        self.wall(p).map_or(REACH_MM, |w| w.distance_mm)
    }
}

/// How long a piece is at a radius, in mm.
fn piece_mm(radius: f64) -> f64 {
    (PIECE * radius).clamp(PIECE_MM.0, PIECE_MM.1)
}

/// Refuses a tree whose union of balls would take too much memory or time.
fn affordable(tree: &Tree, spacing: &Spacing, place: &Place) -> Result<(), VesselError> {
    let too_large = |reason: String| {
        let remedy = "widen its narrowest place, shorten it or smooth its bends so that none is \
                      tighter than the lumen is wide";
        Err(VesselError::TooLarge {
            reason,
            remedy,
            place: place.clone(),
        })
    };
    let cells = wall_cells(tree, spacing);
    if cells > MOST_CELLS {
        return too_large(format!(
            "a bend tighter than its lumen makes its wall a net of about {:.1} million cells of \
             {:.3} mm, as fine as its narrowest place needs; allowed are {:.1} million",
            cells / 1e6,
            spacing.cell_mm,
            MOST_CELLS / 1e6
        ));
    }
    let entries = entries(tree);
    if entries > MOST_ENTRIES {
        return too_large(format!(
            "a bend tighter than its lumen makes it a union of balls with about {:.0} million \
             entries in cells of {CELL_MM} mm; allowed are {:.0} million",
            entries / 1e6,
            MOST_ENTRIES / 1e6
        ));
    }
    Ok(())
}

/// How many cells all pieces of a tree are looked at in, estimated.
fn entries(tree: &Tree) -> f64 {
    let of = |branch: &Branch| {
        let line = &branch.centreline;
        let count = stations(line.length_mm());
        let step = line.length_mm() / f64::from(count);
        let around = |k: u32| {
            let radius = line.radius(step * (f64::from(k) + 0.5));
            let across = 2.0 * (radius + REACH_MM) / CELL_MM + 1.0;
            step / piece_mm(radius) * across.powi(3)
        };
        (0..count).map(around).sum::<f64>()
    };
    tree.branches().iter().map(of).sum()
}

/// The lumen of a tree with folds: the union of the balls along its centrelines, as a surface.
///
/// # Errors
/// [`VesselError::BendTooTight`] of the tightest fold, if the net of that surface does not close,
/// and a [`VesselError`] if the tree cannot be built.
pub fn lumen_of_balls(
    tree: &Tree,
    spec: &VesselSpec,
    folds: &[Fold],
) -> Result<SurfaceLumen, VesselError> {
    let spacing = Spacing::of(tree, BALLS_WITHIN_MM);
    let place = spec
        .branches
        .first()
        .map_or_else(Place::default, |b| b.place.clone());
    affordable(tree, &spacing, &place)?;
    let balls = Balls::new(tree, spec.carina_blend_mm);
    let Some(net) = net_around(tree, &balls, &spacing, MOST_CELLS) else {
        let tightness = |f: &Fold| f.lumen_mm / f.bend_mm;
        let worst = folds
            .iter()
            .max_by(|a, b| tightness(a).total_cmp(&tightness(b)));
        return Err(
            worst.map_or(VesselError::NoBranch, |fold| VesselError::BendTooTight {
                branch: tree.branches()[fold.branch].name.clone(),
                station_mm: fold.station_mm,
                bend_mm: fold.bend_mm,
                lumen_mm: fold.lumen_mm,
                place: spec.branches[fold.branch].place.clone(),
            }),
        );
    };
    let mesh = Arc::new(Mesh {
        points: net.points,
        triangles: net.triangles,
    });
    let with_wall = VesselSpec {
        narrowings: Vec::new(),
        surface: Some(Arc::clone(&mesh)),
        ..spec.clone()
    };
    SurfaceLumen::shared(&mesh, &with_wall)
}

#[cfg(test)]
mod tests;
