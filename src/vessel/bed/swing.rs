//! How far and how fast a beat moves each branch, and how tight it bends it.

use nalgebra::Vector3;

use super::motion::Motion;
use super::spline::Knots;
use crate::vessel::path::{number, whole};
use crate::vessel::tree::Tree;

/// Times of a beat that are looked at.
const TIMES: usize = 200;
/// Distance of two places of a branch in mm, and most places of one.
const APART_MM: f64 = 0.5;
const MOST_PLACES: usize = 200;

/// What a beat does to one branch.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct BranchSwing {
    /// Farthest way of its axis from where it is at end diastole, in mm.
    pub way_mm: f64,
    /// Greatest speed of its axis in mm/s.
    pub speed_mm_per_s: f64,
    /// Mean curvature of its axis at end diastole and where it is greatest, in 1/mm.
    pub curvature_per_mm: [f64; 2],
}

/// A bend that is too tight for its lumen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tight {
    /// Number of the branch.
    pub branch: usize,
    /// Where on it, in mm.
    pub station_mm: f64,
    /// When, as a share of the beat.
    pub share: f64,
    /// Radius of the bend in mm.
    pub bend_mm: f64,
    /// Radius of the lumen in mm.
    pub lumen_mm: f64,
}

/// The places of a branch, from its start to its end.
fn places(tree: &Tree, branch: usize) -> impl Iterator<Item = f64> + use<'_> {
    let length_mm = tree.branches()[branch].centreline.length_mm();
    let count = whole((length_mm / APART_MM).ceil()).clamp(1, MOST_PLACES);
    (0..=count).map(move |k| length_mm * number(k) / number(count))
}

/// Curvature in 1/mm of the axis with first and second derivative `first` and `second`.
fn curvature(first: &Vector3<f64>, second: &Vector3<f64>) -> f64 {
    first.cross(second).norm() / first.norm().powi(3)
}

/// Calls `see` with the share of the beat and the control vectors at times of a beat of `period_s`, the last
/// one being the first again.
fn through(
    motion: &Motion,
    knots: &[Knots],
    period_s: f64,
    mut see: impl FnMut(f64, &[Vector3<f64>]),
) {
    let count = knots.iter().map(Knots::controls).sum();
    let mut moved = vec![Vector3::zeros(); count];
    for k in 0..=TIMES {
        let share = number(k) / number(TIMES);
        motion.at(share * period_s, &mut moved);
        see(share, &moved);
    }
}

/// What a beat of `period_s` does to each branch of a tree, in space: the movement of the axes comes on top
/// of that of the guide's end.
#[must_use]
pub fn swings(
    tree: &Tree,
    knots: &[Knots],
    (axes, guide): (&Motion, &Motion),
    period_s: f64,
) -> Vec<BranchSwing> {
    let mut swings = vec![BranchSwing::default(); knots.len()];
    let mut before: Vec<Vec<Vector3<f64>>> = Vec::new();
    let step_s = period_s / number(TIMES);
    through(axes, knots, period_s, |share, moved| {
        let mut of_guide = [Vector3::zeros()];
        guide.at(share * period_s, &mut of_guide);
        let mut now = Vec::with_capacity(knots.len());
        for (branch, (knots, swing)) in knots.iter().zip(&mut swings).enumerate() {
            let line = &tree.branches()[branch].centreline;
            let mut ways = Vec::new();
            let mut bent = 0.0;
            for station in places(tree, branch) {
                let [u, first, second] = knots.basis(station).jet(moved);
                let bend = line.curvature(station) + second;
                bent += curvature(&(line.tangent(station) + first), &bend);
                ways.push(u + of_guide[0]);
            }
            let mean = bent / number(ways.len());
            let farthest = ways.iter().map(Vector3::norm).fold(0.0, f64::max);
            swing.way_mm = swing.way_mm.max(farthest);
            if let Some(before) = before.get(branch) {
                let apart = ways.iter().zip(before).map(|(a, b)| (a - b).norm());
                let speed = apart.fold(0.0, f64::max) / step_s;
                swing.speed_mm_per_s = swing.speed_mm_per_s.max(speed);
            } else {
                swing.curvature_per_mm[0] = mean;
            }
            swing.curvature_per_mm[1] = swing.curvature_per_mm[1].max(mean);
            now.push(ways);
        }
        before = now;
    });
    swings
}

/// The bend that comes nearest to being as tight as its lumen is wide, or is tighter, in a beat of `period_s`.
#[must_use]
pub fn tightest(tree: &Tree, knots: &[Knots], axes: &Motion, period_s: f64) -> Option<Tight> {
    let mut worst: Option<Tight> = None;
    through(axes, knots, period_s, |share, moved| {
        for (branch, knots) in knots.iter().enumerate() {
            let line = &tree.branches()[branch].centreline;
            for station_mm in places(tree, branch) {
                let [_, first, second] = knots.basis(station_mm).jet(moved);
                let bend = line.curvature(station_mm) + second;
                let bent = curvature(&(line.tangent(station_mm) + first), &bend);
                let found = Tight {
                    branch,
                    station_mm,
                    share,
                    bend_mm: 1.0 / bent.max(f64::MIN_POSITIVE),
                    lumen_mm: line.radius(station_mm),
                };
                let ratio = |t: &Tight| t.lumen_mm / t.bend_mm;
                if worst.as_ref().is_none_or(|w| ratio(&found) > ratio(w)) {
                    worst = Some(found);
                }
            }
        }
    });
    worst
}
