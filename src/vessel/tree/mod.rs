//! The tree of branches and its lumen.

mod feet;

use super::blend::{smooth_min, smooth_min_wall};
use super::build;
use super::centreline::{Centreline, Curve};
use super::error::VesselError;
use super::foot::Foot;
use super::grid::{CandidateRange, Excess, Grid, MOST_IN_A_CELL};
use super::lumen::{Lumen, WallPoint};
use crate::scenario::model::{BranchSpec, Place, VesselSpec};
use crate::shown::listed;
use nalgebra::Vector3;
use std::sync::Arc;

/// [`Tree::tubes_near`] lists every branch whose wall is no farther outside a point than this,
/// in mm.
pub const NEAR_MM: f64 = 0.5;

/// Tubes farther apart than this many blend widths have no influence on each other, also not by
/// way of a third one.
const BLEND_REACH: f64 = 2.5;

/// Factors on all diameters that one grid serves.
const FACTORS: (f64, f64) = (0.7, 1.4);

/// Slack for rounding in bounds, in mm.
const SLACK_MM: f64 = 1e-9;

/// A branch of the tree.
#[derive(Debug, Clone)]
pub struct Branch {
    /// Unique name.
    pub name: String,
    /// Index of the parent and station on it, in mm, at which this branch begins; `None` for an
    /// inlet.
    pub parent: Option<(usize, f64)>,
    /// The centreline with its radius.
    pub centreline: Centreline,
    /// Station on this branch, in mm, where its centreline leaves the parent's tube; 0 for an
    /// inlet.
    pub ostium_mm: f64,
    /// Turn that a wire must make to enter, in rad; 0 straight on, pi/2 square, above that
    /// backwards; 0 for an inlet.
    ///
    /// For a branch built from pieces the angle between the two tangents at the attachment, as
    /// specified. For a branch given as points the angle between two chords: of the parent over
    /// the 5 mm before the attachment, and of the branch from its start to 5 mm beyond its
    /// ostium (both shorter where a branch is).
    pub take_off_rad: f64,
    /// Path length from the inlet to the start of this branch in mm.
    pub root_offset_mm: f64,
    /// How far the first point of a branch given as points was moved to lie on the parent's
    /// centreline, in mm; 0 otherwise. The other points move with it, less and less, and the last
    /// one not at all.
    pub shift_mm: f64,
}

/// A point seen from the tube of one branch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TubePoint {
    /// Signed distance to the tube's wall in mm, negative inside.
    pub distance_mm: f64,
    /// Station of the nearest point of the centreline in mm.
    pub station_mm: f64,
}

/// A vessel tree, or several with an inlet each, as one lumen.
///
/// The lumen's signed distance is the smooth minimum of the tubes' distances, folded in the order
/// of the branches, with the carina blend width k of the scenario: it equals the nearest tube's
/// own distance where every other tube is farther by k or more, and lies at most k/6 below it
/// where two are equally near. Near the start of a branch, where it runs along the axis of its
/// parent, the lumen is therefore wider than the parent's tube by up to that much.
#[derive(Debug, Clone)]
pub struct Tree {
    pub(super) branches: Vec<Branch>,
    pub(super) curves: Vec<Arc<Curve>>,
    pub(super) grid: Arc<Grid>,
    /// Factor on all diameters for which the grid was made, and since then.
    grid_factor: f64,
    pub(super) factor: f64,
    pub(super) blend_mm: f64,
    /// Bound on the gradient of a tube's distance.
    slope: f64,
}

impl Tree {
    /// Builds the tree that `spec` describes.
    ///
    /// # Errors
    /// A [`VesselError`] for the first thing found wrong.
    pub fn build(spec: &VesselSpec) -> Result<Self, VesselError> {
        let branches = build::branches(spec)?;
        let volume = |(i, _): &(usize, &BranchSpec)| {
            let curve = branches[*i].centreline.curve();
            curve.length_mm * curve.widest_mm.powi(2)
        };
        let numbered = spec.branches.iter().enumerate();
        let largest = numbered.max_by(|a, b| volume(a).total_cmp(&volume(b)));
        let place = largest.map_or(Place::default(), |(_, branch)| branch.place.clone());
        Self::with_grid(branches, spec.carina_blend_mm, 1.0, true).map_err(|excess| {
            let (reason, remedy) = match excess {
                Excess::Entries(found) => (
                    format!(
                        "the spatial hash of its lumen would have {:.1} million entries, allowed \
                         are up to {:.1} million",
                        found / 1e6,
                        Grid::MOST as f64 / 1e6
                    ),
                    "make wide or long branches shorter, ease sudden changes of diameter and \
                     tight bends, or leave branches out",
                ),
                Excess::Crowd(p) => (
                    format!(
                        "more than {MOST_IN_A_CELL} branches pass near ({:.1}, {:.1}, {:.1}) mm",
                        p.x, p.y, p.z
                    ),
                    "leave branches out, or lay them apart",
                ),
            };
            VesselError::TooLarge {
                reason,
                remedy,
                place,
            }
        })
    }

    /// The tree with its grid; where it is `limited`, what is too much is refused.
    fn with_grid(
        branches: Vec<Branch>,
        blend_mm: f64,
        factor: f64,
        limited: bool,
    ) -> Result<Self, Excess> {
        let curves: Vec<_> = branches
            .iter()
            .map(|b| Arc::clone(b.centreline.curve()))
            .collect();
        let steepest = curves.iter().fold(0.0, |m: f64, c| m.max(c.steepest));
        let slope = 1.0 + 2.0 * steepest * factor;
        let grid = Grid::new(
            &curves,
            &CandidateRange {
                factors: (FACTORS.0 * factor, FACTORS.1 * factor),
                above_least_mm: BLEND_REACH * blend_mm,
                near_mm: NEAR_MM,
                slope: slope * FACTORS.1,
            },
            limited,
        )?;
        Ok(Self {
            branches,
            curves,
            grid: Arc::new(grid),
            grid_factor: factor,
            factor,
            blend_mm,
            slope,
        })
    }

    /// The same tree with every lumen diameter multiplied by `factor` (above 0).
    ///
    /// Centrelines are shared with this tree, and so is the spatial hash for factors of 0.7 to
    /// 1.4; ostia are found anew. A branch that no longer leaves its parent's lumen has its
    /// ostium at its end. Whether a bend is tighter than the wider lumen is not checked again.
    #[must_use]
    pub fn with_diameter_factor(&self, factor: f64) -> Self {
        let mut branches = self.branches.clone();
        for branch in &mut branches {
            branch.centreline = branch.centreline.widened(factor);
        }
        for i in 0..branches.len() {
            if let Some((parent, _)) = branches[i].parent {
                let ostium = build::ostium(&branches[i].centreline, &branches[parent].centreline);
                branches[i].ostium_mm = ostium.unwrap_or(branches[i].centreline.length_mm());
            }
        }
        let total = self.factor * factor;
        let relative = total / self.grid_factor;
        if relative < FACTORS.0 || relative > FACTORS.1 {
            // A grid without a limit is always made.
            if let Ok(tree) = Self::with_grid(branches.clone(), self.blend_mm, total, false) {
                return tree;
            }
        }
        Self {
            branches,
            curves: self.curves.clone(),
            grid: Arc::clone(&self.grid),
            grid_factor: self.grid_factor,
            factor: total,
            blend_mm: self.blend_mm,
            slope: 1.0 + (self.slope - 1.0) * factor,
        }
    }

    /// The branches in the order of the scenario; a branch stands after its parent.
    #[must_use]
    pub fn branches(&self) -> &[Branch] {
        &self.branches
    }

    /// Bytes of memory that the tree takes, about.
    #[must_use]
    pub fn bytes(&self) -> usize {
        let curves: usize = self.curves.iter().map(|curve| curve.bytes()).sum();
        curves + self.grid.bytes()
    }

    /// Index of the branch called `name`.
    #[must_use]
    pub fn branch_index(&self, name: &str) -> Option<usize> {
        self.branches.iter().position(|b| b.name == name)
    }

    /// The names of the branches as messages list them.
    #[must_use]
    pub fn names(&self) -> String {
        let names: Vec<&str> = self.branches.iter().map(|b| b.name.as_str()).collect();
        listed(&names)
    }

    /// Path length in mm from the inlet to `station_mm` on `branch`.
    #[must_use]
    pub fn progress_mm(&self, branch: usize, station_mm: f64) -> f64 {
        self.branches[branch].root_offset_mm + station_mm
    }

    /// The point `p` (mm) seen from the tube of one branch alone.
    #[must_use]
    pub fn tube(&self, branch: usize, p: &Vector3<f64>) -> TubePoint {
        let near = self.grid.cell(p).and_then(|cell| {
            let of_branch = cell.candidates.iter().filter(|c| c.branch == branch);
            of_branch
                .map(|c| self.curves[branch].foot_near(p, cell.station(c)))
                .min_by(|a, b| a.rho.total_cmp(&b.rho))
        });
        self.seen(&near.unwrap_or_else(|| self.curves[branch].foot(p)))
    }

    /// The branches that pass near `p` (mm), in the order of the branches: all whose tube's wall
    /// lies less than [`NEAR_MM`] outside `p`, and perhaps others. `out` is cleared first.
    pub fn tubes_near(&self, p: &Vector3<f64>, out: &mut Vec<(usize, TubePoint)>) {
        out.clear();
        self.for_each_foot(p, self.grid.cell(p), f64::INFINITY, |branch, foot| {
            out.push((branch, self.seen(foot)));
        });
    }

    /// The branch whose tube holds `p` (mm) best or is nearest to it; `near` is memory to work in.
    #[must_use]
    pub fn nearest_tube(
        &self,
        p: &Vector3<f64>,
        near: &mut Vec<(usize, TubePoint)>,
    ) -> (usize, TubePoint) {
        self.tubes_near(p, near);
        if near.is_empty() {
            near.extend((0..self.branches.len()).map(|b| (b, self.tube(b, p))));
        }
        let best = near
            .iter()
            .min_by(|a, b| a.1.distance_mm.total_cmp(&b.1.distance_mm));
        best.copied().unwrap_or_else(|| (0, self.tube(0, p)))
    }

    fn seen(&self, foot: &Foot) -> TubePoint {
        TubePoint {
            distance_mm: foot.distance(self.factor),
            station_mm: foot.station,
        }
    }
}

impl Lumen for Tree {
    fn near_wall(&self, p: &Vector3<f64>, _time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        let cell = self.grid.cell(p);
        if let Some(cell) = &cell {
            if self.is_deep(cell, margin_mm) {
                return None;
            }
            if let [only] = cell.candidates {
                let foot = self.curves[only.branch].foot_near(p, cell.station(only));
                let is_near = foot.distance(self.factor) >= -margin_mm;
                return is_near.then(|| foot.wall(self.factor));
            }
        }
        let mut union: Option<WallPoint> = None;
        let mut deep = false;
        self.for_each_foot(p, cell, BLEND_REACH * self.blend_mm, |_, foot| {
            deep = deep || foot.distance(self.factor) < -margin_mm;
            if !deep {
                let wall = foot.wall(self.factor);
                union = Some(union.map_or(wall, |u| smooth_min_wall(&u, &wall, self.blend_mm)));
            }
        });
        union.filter(|u| !deep && u.distance_mm >= -margin_mm)
    }

    fn distance(&self, p: &Vector3<f64>) -> f64 {
        let mut union: Option<f64> = None;
        let cell = self.grid.cell(p);
        self.for_each_foot(p, cell, BLEND_REACH * self.blend_mm, |_, foot| {
            let distance = foot.distance(self.factor);
            union = Some(union.map_or(distance, |u| smooth_min(u, distance, self.blend_mm)));
        });
        union.unwrap_or(f64::INFINITY)
    }
}
