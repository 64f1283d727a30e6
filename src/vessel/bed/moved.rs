//! The lumen of a tree whose axes have moved.
//!
//! The tube of a branch is that of its moved axis `c(s) + u(s)`: what was said of the distance from a
//! tree ([`crate::vessel`]) holds with the moved axes, the carina's blending too. A lumen radius stays
//! at its station.

use std::sync::{Arc, PoisonError, RwLock, RwLockReadGuard};

use nalgebra::{Matrix3, Vector3};

use super::giving::GivingVessel;
use super::near::Near;
use super::spline::{Basis, Knots, SUPPORT};
use crate::vessel::blend::{smooth_min, smooth_min_wall};
use crate::vessel::centreline::{Curve, CurveJet};
use crate::vessel::foot::{Axis, Foot, foot_from};
use crate::vessel::lumen::{Lumen, WallPoint};
use crate::vessel::tree::Tree;

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

/// How the distance from the wall depends on the control vectors of the axes, at one point.
///
/// Rows and columns belong to the control vectors in the order of [`Hang::controls`].
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Hang {
    /// Numbers of the control vectors.
    pub controls: Vec<usize>,
    /// Derivatives of the distance by the control vectors.
    pub gradient: Vec<Vector3<f64>>,
    /// Second derivatives by the point (rows) and each control vector (columns), in 1/mm.
    pub mixed: Vec<Matrix3<f64>>,
    /// Second derivatives by the control vectors: row by row, in 1/mm.
    pub second: Vec<Matrix3<f64>>,
    /// How far the wall's material next to the point goes with each control vector: for a tube
    /// `N I - N' t eᵀ`, with `e` from the axis to the point.
    pub carried: Vec<Matrix3<f64>>,
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

    /// Calls `visit` with the foot of `p` on every moved axis that may matter there, in the order of
    /// the branches.
    #[inline]
    fn for_each_foot(&self, p: &Vector3<f64>, moved: &Moved, mut visit: impl FnMut(usize, &Foot)) {
        let tree = &*self.tree;
        if let Some(near) = &moved.near {
            let mut candidates = Vec::new();
            near.candidates(p, &mut candidates);
            for (branch, station) in candidates {
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

impl Hang {
    /// How far the wall's material goes as the control vectors go from `start` to `moved`, in mm.
    #[must_use]
    pub fn way(&self, moved: &[Vector3<f64>], start: &[Vector3<f64>]) -> Vector3<f64> {
        Self::carried_way(&self.controls, &self.carried, moved, start)
    }

    /// [`Hang::way`] of the control vectors with these numbers, and how far each carries the material.
    pub(crate) fn carried_way(
        controls: &[usize],
        carried: &[Matrix3<f64>],
        moved: &[Vector3<f64>],
        start: &[Vector3<f64>],
    ) -> Vector3<f64> {
        let with = controls.iter().zip(carried);
        with.map(|(&j, carried)| carried * (moved[j] - start[j]))
            .sum()
    }

    /// Of the tube of one branch, seen from the point whose foot is given.
    ///
    /// With `n` the direction of the offset `e` of length `ρ`, `f` the first derivative of the moved axis
    /// and `D = f·f - e·c''`: the station changes with control vector j by `(N_j' e - N_j f)/D`, the
    /// distance by `-N_j n` and by the taper, and so on by differentiation; the second derivatives
    /// leave out the taper, as those by the point do.
    fn of_tube(basis: &Basis, foot: &Foot, wall: &WallPoint, factor: f64) -> Self {
        let e = foot.offset;
        let f = foot.first;
        let n = e / foot.rho.max(1e-3);
        let per = if foot.stiffness > 0.0 {
            1.0 / foot.stiffness
        } else {
            0.0
        };
        let fn_t = f * n.transpose();
        let nn_t = n * n.transpose();
        let along = f * e.transpose() / f.norm_squared();
        let mut out = Self {
            controls: (basis.first..basis.first + SUPPORT).collect(),
            ..Self::default()
        };
        for j in 0..SUPPORT {
            let (v, s) = (basis.value[j], basis.slope[j]);
            let station = (e * s - f * v) * per;
            out.gradient.push(-n * v - station * (factor * foot.slope));
            out.mixed.push(wall.hessian * -v - fn_t * (s * per));
            out.carried.push(if foot.stiffness > 0.0 {
                Matrix3::identity() * v - along * s
            } else {
                Matrix3::identity() * v
            });
        }
        for i in 0..SUPPORT {
            for j in 0..SUPPORT {
                let (vi, si) = (basis.value[i], basis.slope[i]);
                let (vj, sj) = (basis.value[j], basis.slope[j]);
                out.second.push(
                    wall.hessian * (vi * vj)
                        + (fn_t * (vi * sj) + fn_t.transpose() * (si * vj)
                            - nn_t * (foot.rho * si * sj))
                            * per,
                );
            }
        }
        out
    }

    /// The smooth union of two walls, as [`smooth_min_wall`], with what they hang on.
    pub(in crate::vessel) fn join(
        a: (WallPoint, Self),
        b: (WallPoint, Self),
        width: f64,
    ) -> (WallPoint, Self) {
        let apart = (a.0.distance_mm - b.0.distance_mm).abs();
        let (near, far) = if b.0.distance_mm < a.0.distance_mm {
            (b, a)
        } else {
            (a, b)
        };
        if apart >= width {
            return near;
        }
        let wall = smooth_min_wall(&near.0, &far.0, width);
        let h = (width - apart) / width;
        let w = 0.5 * h * h;
        let turn = far.0.gradient - near.0.gradient;
        let (m, of_far) = (near.1.controls.len(), far.1.controls.len());
        let mut out = Hang::default();
        // What the difference of the distances changes by with each control vector.
        let mut turns = Vec::with_capacity(m + of_far);
        for (hang, weight, sign) in [(&near.1, 1.0 - w, -1.0), (&far.1, w, 1.0)] {
            out.controls.extend_from_slice(&hang.controls);
            out.gradient
                .extend(hang.gradient.iter().map(|g| g * weight));
            out.carried.extend(hang.carried.iter().map(|c| c * weight));
            turns.extend(hang.gradient.iter().map(|g| g * sign));
            out.mixed.extend(hang.mixed.iter().map(|x| x * weight));
        }
        let bent = h / width;
        for (mixed, of) in out.mixed.iter_mut().zip(&turns) {
            *mixed -= turn * of.transpose() * bent;
        }
        let all = m + of_far;
        for i in 0..all {
            for j in 0..all {
                let own = match (i < m, j < m) {
                    (true, true) => near.1.second[i * m + j] * (1.0 - w),
                    (false, false) => far.1.second[(i - m) * of_far + j - m] * w,
                    _ => Matrix3::zeros(),
                };
                out.second
                    .push(own - turns[i] * turns[j].transpose() * bent);
            }
        }
        (wall, out)
    }
}

#[cfg(test)]
mod tests {
    use super::super::giving::{Bed, WallStiffness};
    use super::*;
    use crate::scenario::model::{
        AttachmentSpec, BranchSpec, PathSpec, PieceSpec, Place, VesselSpec,
    };
    use approx::assert_relative_eq;

    /// A bent vessel with a side branch.
    fn moved_tree() -> (MovedTree, Vec<Vector3<f64>>) {
        let place = Place::default;
        let branch = |name: &str, attached, pieces, take_off_rad| BranchSpec {
            name: name.into(),
            attached,
            path: PathSpec::Pieces {
                start_mm: Vector3::zeros(),
                direction: Vector3::x(),
                pieces,
                take_off_rad,
                take_off_plane_rad: 0.3,
            },
            diameters: vec![(0.0, 3.0), (20.0, 2.0)],
            place: place(),
        };
        let arc = |angle_rad| PieceSpec::Arc {
            radius_mm: 8.0,
            angle_rad,
            plane_rad: 0.0,
        };
        let straight = |length_mm| PieceSpec::Straight { length_mm };
        let attached = AttachmentSpec {
            parent: "parent".into(),
            station_mm: Some(14.0),
            place: place(),
        };
        let spec = VesselSpec::new(vec![
            branch(
                "parent",
                None,
                vec![straight(10.0), arc(1.2), straight(10.0)],
                0.0,
            ),
            branch("side", Some(attached), vec![straight(12.0)], 1.1),
        ]);
        let tree = Arc::new(Tree::build(&spec).expect("a tree"));
        let bed = Bed {
            across: 5.0,
            along: 2.0,
            wall: WallStiffness::Tube {
                modulus: 500.0,
                share: 0.2,
            },
            spacing_mm: 1.5,
        };
        let vessel = Arc::new(GivingVessel::new(&tree, bed));
        let moved = (0..vessel.controls())
            .map(|j| {
                let x = 0.4 * j as f64;
                Vector3::new(x.sin(), (1.3 * x).cos(), (0.7 * x).sin()) * 0.4
            })
            .collect();
        (MovedTree::new(tree, vessel), moved)
    }

    /// Points near the wall: in the bend, at the carina and in the side branch.
    fn points(lumen: &MovedTree) -> Vec<Vector3<f64>> {
        let mut out = Vec::new();
        for (branch, station, aside) in [
            (0, 6.3, 1.2),
            (0, 13.1, 1.1),
            (0, 16.4, 1.0),
            (0, 24.2, 0.9),
            (1, 2.3, 1.2),
            (1, 7.7, 0.9),
        ] {
            for angle in [0.2, 1.9, 3.8, 5.1_f64] {
                let line = &lumen.tree.branches()[branch].centreline;
                let (t, n) = (line.tangent(station), line.normal(station));
                let out_of = n * angle.cos() + t.cross(&n) * angle.sin();
                out.push(lumen.position(branch, station) + out_of * aside);
            }
        }
        out
    }

    #[test]
    fn derivatives_by_point_and_control_vectors_are_those_of_the_distance() {
        let (lumen, moved) = moved_tree();
        lumen.set(&moved);
        let h = 1e-5;
        for p in points(&lumen) {
            lumen.set(&moved);
            let (wall, hang) = lumen.hang(&p).expect("a wall");
            let near = lumen.near_wall(&p, 0.0, 10.0).expect("a wall");
            assert_relative_eq!(wall.distance_mm, near.distance_mm, epsilon = 1e-12);
            let m = hang.controls.len();
            for (k, &j) in hang.controls.iter().enumerate() {
                for c in 0..3 {
                    let at = |sign: f64| {
                        let mut there = moved.clone();
                        there[j][c] += sign * h;
                        lumen.set(&there);
                        lumen.hang(&p).expect("a wall")
                    };
                    let (a, b) = (at(-1.0), at(1.0));
                    let slope = (b.0.distance_mm - a.0.distance_mm) / (2.0 * h);
                    assert_relative_eq!(slope, hang.gradient[k][c], epsilon = 1e-6);
                    // The slow change of taper is left out of the second derivatives.
                    let mixed = (b.0.gradient - a.0.gradient) / (2.0 * h);
                    assert_relative_eq!(
                        mixed,
                        hang.mixed[k].column(c).into_owned(),
                        epsilon = 0.03
                    );
                    if b.1.controls == hang.controls && a.1.controls == hang.controls {
                        for i in 0..m {
                            let second = (b.1.gradient[i] - a.1.gradient[i]) / (2.0 * h);
                            let column = hang.second[i * m + k].column(c).into_owned();
                            assert_relative_eq!(second, column, epsilon = 0.03);
                        }
                    }
                }
            }
        }
    }

    /// Also where the two directions are the same to the last digit.
    #[test]
    fn a_vector_is_turned_with_its_section() {
        let from = Vector3::new(1.0, 2.0, -0.5).normalize();
        for k in 0..200 {
            let to =
                (from + Vector3::new(0.3, -0.2, 0.9) * 10f64.powf(-0.1 * f64::from(k))).normalize();
            assert_relative_eq!(turned(&from, &from, &to), to, epsilon = 1e-12);
            let v = Vector3::new(-0.3, 0.8, 1.1);
            let there = turned(&v, &from, &to);
            assert_relative_eq!(there.norm(), v.norm(), epsilon = 1e-12);
            assert_relative_eq!(turned(&there, &to, &from), v, epsilon = 1e-12);
        }
    }

    /// A material point of the wall keeps its station and its place in the section, which turns with the
    /// axis.
    #[test]
    fn the_walls_material_goes_where_its_section_goes() {
        let (lumen, moved) = moved_tree();
        let still = vec![Vector3::zeros(); moved.len()];
        let share = 1e-4;
        let little: Vec<_> = moved.iter().map(|m| m * share).collect();
        for (station, angle) in [(4.2, 0.4), (12.3, 2.0), (15.5, 4.4), (23.8, 1.1_f64)] {
            let line = &lumen.tree.branches()[0].centreline;
            let (t, n) = (line.tangent(station), line.normal(station));
            let e = (n * angle.cos() + t.cross(&n) * angle.sin()) * 0.8;
            lumen.set(&still);
            let (_, hang) = lumen.hang(&(line.position(station) + e)).expect("a wall");
            if hang.controls.len() > SUPPORT {
                continue;
            }
            let [u, slope, _] = lumen.vessel.knots()[0].basis(station).jet(&little);
            let expected = u - t * e.dot(&slope);
            let found = hang.way(&little, &still);
            assert_relative_eq!(found, expected, epsilon = 1e-4 * share);
        }
    }
}
