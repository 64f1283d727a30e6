//! The lumen of a tree whose axes have moved.
//!
//! The tube of a branch is that of its moved axis `c(s) + u(s)`: what was said of the distance from a
//! tree ([`crate::vessel`]) holds with the moved axes, the carina's blending too. A lumen radius stays
//! at its station.

use std::sync::{Arc, PoisonError, RwLock, RwLockReadGuard};

use nalgebra::Vector3;

use super::giving::GivingVessel;
use super::hang::Hang;
use super::near::Near;
use super::spline::Knots;
use crate::vessel::blend::{smooth_min, smooth_min_wall};
use crate::vessel::centreline::{Curve, CurveJet};
use crate::vessel::foot::{Axis, Foot, foot_from};
use crate::vessel::lumen::{Lumen, WallPoint};
use crate::vessel::tree::{Branch, Tree};

/// A tree with displaced axes.
///
/// The displacements are set from outside, also while others look at the wall.
#[derive(Debug)]
pub struct MovedTree {
    tree: Arc<Tree>,
    vessel: Arc<GivingVessel>,
    moved: RwLock<Moved>,
}

/// Where the axes are.
#[derive(Debug)]
struct Moved {
    /// Control vectors in mm.
    controls: Vec<Vector3<f64>>,
    /// Which axes matter where, of a vessel that moves by itself: that goes farther than its lumen is wide.
    near: Option<Near>,
}

/// The moved axis of one branch.
struct MovedAxis<'m> {
    curve: &'m Curve,
    knots: &'m Knots,
    moved: &'m [Vector3<f64>],
}

impl Axis for MovedAxis<'_> {
    #[inline(always)]
    fn length_mm(&self) -> f64 {
        self.curve.length_mm
    }
    #[inline(always)]
    fn jet(&self, station: f64) -> CurveJet {
        let rest = self.curve.jet(station);
        let [u, first, second] = self.knots.basis(station).jet(self.moved);
        CurveJet {
            position: rest.position + u,
            first: rest.first + first,
            second: rest.second + second,
            ..rest
        }
    }
}

/// `v` turned as the unit vector `from` is turned to another, `to`, by the shortest way.
fn turned(v: &Vector3<f64>, from: &Vector3<f64>, to: &Vector3<f64>) -> Vector3<f64> {
    let axis = from.cross(to);
    let cosine = from.dot(to);
    // Never turned right round: a vessel's section is not.
    v * cosine + axis.cross(v) + axis * (axis.dot(v) / (1.0 + cosine).max(1e-6))
}

/// The foot of `p` on an axis from a station that is no more than a point's distance off, or from beside it.
fn foot_nearby(axis: &MovedAxis<'_>, p: &Vector3<f64>, station: f64) -> Option<Foot> {
    const BESIDE_MM: [f64; 5] = [0.0, -0.5, 0.5, -1.0, 1.0];
    BESIDE_MM
        .iter()
        .find_map(|aside| foot_from(axis, p, station + aside))
}

impl MovedTree {
    /// The tree at rest, with what holds its axes.
    #[must_use]
    pub fn new(tree: Arc<Tree>, vessel: Arc<GivingVessel>) -> Self {
        let near = vessel
            .motion()
            .map(|_| Near::new(&tree, vessel.knots(), tree.blend_mm));
        let moved = Moved {
            controls: vec![Vector3::zeros(); vessel.controls()],
            near,
        };
        Self {
            tree,
            moved: RwLock::new(moved),
            vessel,
        }
    }

    /// What holds the axes.
    #[must_use]
    pub fn vessel(&self) -> &Arc<GivingVessel> {
        &self.vessel
    }

    /// The tree at rest.
    #[must_use]
    pub fn tree(&self) -> &Arc<Tree> {
        &self.tree
    }

    /// Moves the axes to these control vectors in mm.
    pub fn set(&self, moved: &[Vector3<f64>]) {
        let mut own = self.moved.write().unwrap_or_else(PoisonError::into_inner);
        own.controls.clear();
        own.controls.extend_from_slice(moved);
        if let Some(near) = &mut own.near {
            near.follow(moved);
        }
    }

    fn moved(&self) -> RwLockReadGuard<'_, Moved> {
        self.moved.read().unwrap_or_else(PoisonError::into_inner)
    }

    /// How far each of the points `of` (mm) goes with the axis nearest to it when the control vectors change
    /// by `by`, in mm.
    pub fn ways(
        &self,
        of: impl Iterator<Item = Vector3<f64>>,
        by: &[Vector3<f64>],
    ) -> Vec<Vector3<f64>> {
        let moved = self.moved();
        of.map(|p| self.way(&p, &moved, by)).collect()
    }

    /// The same of one point, where the axes have `moved`.
    fn way(&self, p: &Vector3<f64>, moved: &Moved, by: &[Vector3<f64>]) -> Vector3<f64> {
        let mut nearest: Option<(f64, Vector3<f64>)> = None;
        self.for_each_foot(p, moved, |branch, foot| {
            let distance = foot.distance(self.tree.factor);
            if nearest.is_none_or(|(least, _)| distance < least) {
                let basis = self.vessel.knots()[branch].basis(foot.station);
                nearest = Some((distance, basis.at(by)));
            }
        });
        nearest.map_or_else(Vector3::zeros, |(_, way)| way)
    }

    /// Displacement of the axis of a branch at a station, in mm.
    #[must_use]
    pub fn displacement(&self, branch: usize, station_mm: f64) -> Vector3<f64> {
        self.vessel.knots()[branch]
            .basis(station_mm)
            .at(&self.moved().controls)
    }

    /// Moved position of the axis of a branch at a station, in mm.
    #[must_use]
    pub fn position(&self, branch: usize, station_mm: f64) -> Vector3<f64> {
        let rest = self.tree.branches()[branch].centreline.position(station_mm);
        rest + self.displacement(branch, station_mm)
    }

    /// Points along the moved axis of each branch in mm, at its stations for drawing.
    #[must_use]
    pub fn drawn_axes(&self) -> Vec<Vec<Vector3<f64>>> {
        let branches = self.tree.branches().iter().enumerate();
        let axis = |(number, branch): (usize, &Branch)| {
            let stations = branch.centreline.drawn_stations();
            stations.map(|s| self.position(number, s)).collect()
        };
        branches.map(axis).collect()
    }

    /// Calls `visit` with the foot of `p` on every moved axis that may matter there, in the order of
    /// the branches.
    #[inline]
    fn for_each_foot(&self, p: &Vector3<f64>, moved: &Moved, mut visit: impl FnMut(usize, &Foot)) {
        let tree = &*self.tree;
        if let Some(near) = &moved.near {
            for (branch, station) in near.candidates(p) {
                let axis = MovedAxis {
                    curve: &tree.curves[branch],
                    knots: &self.vessel.knots()[branch],
                    moved: &moved.controls,
                };
                if let Some(foot) = foot_nearby(&axis, p, station) {
                    visit(branch, &foot);
                }
            }
            return;
        }
        let moved = &*moved.controls;
        // Where the point was before the vessel moved.
        let mut back = *p;
        for _ in 0..2 {
            let Some(cell) = tree.grid.cell(&back) else {
                break;
            };
            let distance = |c: &&crate::vessel::grid::Candidate| c.rho - tree.factor * c.radius;
            let nearest = cell
                .candidates
                .iter()
                .min_by(|a, b| distance(a).total_cmp(&distance(b)));
            let Some(nearest) = nearest else { break };
            let at = cell
                .station(nearest)
                .clamp(0.0, tree.curves[nearest.branch].length_mm);
            back = p - self.vessel.knots()[nearest.branch].basis(at).at(moved);
        }
        let mut waiting: Option<(usize, Foot)> = None;
        let mut add = |branch: usize, start: f64| {
            let curve = &tree.curves[branch];
            let axis = MovedAxis {
                curve,
                knots: &self.vessel.knots()[branch],
                moved,
            };
            let found = foot_from(&axis, p, start);
            let Some(foot) = found.or_else(|| foot_from(&axis, p, curve.foot(&back).station))
            else {
                return;
            };
            match &mut waiting {
                Some((other, before)) if *other == branch => {
                    if foot.rho < before.rho {
                        *before = foot;
                    }
                }
                _ => {
                    if let Some((branch, foot)) = waiting.replace((branch, foot)) {
                        visit(branch, &foot);
                    }
                }
            }
        };
        match tree.grid.cell(&back) {
            Some(cell) => {
                for candidate in cell.candidates {
                    add(candidate.branch, cell.station(candidate));
                }
            }
            None => {
                for (branch, curve) in tree.curves.iter().enumerate() {
                    add(branch, curve.foot(&back).station);
                }
            }
        }
        if let Some((branch, foot)) = waiting {
            visit(branch, &foot);
        }
    }
}

impl Lumen for MovedTree {
    fn near_wall(&self, p: &Vector3<f64>, _time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        let moved = self.moved();
        let mut union: Option<WallPoint> = None;
        self.for_each_foot(p, &moved, |_, foot| {
            let wall = foot.wall(self.tree.factor);
            union = Some(union.map_or(wall, |u| smooth_min_wall(&u, &wall, self.tree.blend_mm)));
        });
        union.filter(|u| u.distance_mm >= -margin_mm)
    }

    fn distance(&self, p: &Vector3<f64>) -> f64 {
        let moved = self.moved();
        let mut union: Option<f64> = None;
        self.for_each_foot(p, &moved, |_, foot| {
            let distance = foot.distance(self.tree.factor);
            union = Some(union.map_or(distance, |u| smooth_min(u, distance, self.tree.blend_mm)));
        });
        union.unwrap_or(f64::INFINITY)
    }

    fn giving(&self) -> Option<&MovedTree> {
        Some(self)
    }

    fn at_rest(&self, p: &Vector3<f64>) -> Vector3<f64> {
        let moved = self.moved();
        let mut nearest: Option<(f64, Vector3<f64>)> = None;
        self.for_each_foot(p, &moved, |branch, foot| {
            let distance = foot.distance(self.tree.factor);
            if nearest.is_none_or(|(least, _)| distance < least) {
                let line = &self.tree.branches()[branch].centreline;
                let tangent = line.tangent(foot.station);
                let offset = turned(&foot.offset, &foot.first.normalize(), &tangent);
                nearest = Some((distance, line.position(foot.station) + offset));
            }
        });
        nearest.map_or(*p, |(_, at)| at)
    }

    fn hang(&self, p: &Vector3<f64>) -> Option<(WallPoint, Hang)> {
        let moved = self.moved();
        let blend_mm = self.tree.blend_mm;
        let mut union: Option<(WallPoint, Hang)> = None;
        self.for_each_foot(p, &moved, |branch, foot| {
            let basis = self.vessel.knots()[branch].basis(foot.station);
            let wall = foot.wall(self.tree.factor);
            let hang = Hang::of_tube(&basis, foot, &wall, self.tree.factor);
            union = Some(match union.take() {
                None => (wall, hang),
                Some(before) => Hang::join(before, (wall, hang), blend_mm),
            });
        });
        union
    }
}

#[cfg(test)]
mod tests;
