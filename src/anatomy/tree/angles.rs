//! Angles at which branches leave.

use nalgebra::Vector3;

use super::ImportedBranch;
use super::near::foot;

/// Depths in mm from the branch point over which the take-off angle is averaged.
const DEPTHS_MM: (f64, f64) = (5.0, 10.0);
/// Branches that begin within this distance of each other, in mm, leave at one place.
const BESIDE_MM: f64 = 1.0;
/// Number of depths.
const DEPTHS: u32 = 11;

/// Turn in rad that a wire makes into branch `i`: the angle between the chord that arrives at the
/// branch point and the one that leaves it, each from the branch point to the same depth, mean
/// over depths of 5 to 10 mm (shorter where the tree is). `None` for the inlet.
///
/// Source of the depths: the atlas of coronary bifurcation angles of P. Medrano-Gracia et al., A
/// computational atlas of normal coronary artery anatomy, `EuroIntervention` 12:845-854, 2016.
#[must_use]
pub fn take_off(branches: &[ImportedBranch], i: usize) -> Option<f64> {
    mean(|depth| turn(branches, i, depth))
}

/// Angle in rad between branch `i` and the one that leaves most nearly at its side, over the same
/// depths; `None` where it leaves alone.
#[must_use]
pub fn spread(branches: &[ImportedBranch], i: usize) -> Option<f64> {
    let parent = branches[i].parent?;
    let start = branches[i].points[0];
    let others = (0..branches.len()).filter(|j| {
        let other = &branches[*j];
        *j != i && other.parent == Some(parent) && (other.points[0] - start).norm() < BESIDE_MM
    });
    others
        .filter_map(|j| {
            mean(|depth| {
                let [a, b] = [i, j].map(|k| beyond(branches, k, depth) - beyond(branches, k, 0.0));
                Some(a.angle(&b))
            })
        })
        .min_by(f64::total_cmp)
}

/// Angle in rad between the parent's chord that ends at the branch point and that of branch `i` which
/// begins there, both to one depth in mm.
fn turn(branches: &[ImportedBranch], i: usize, depth: f64) -> Option<f64> {
    let arrives = behind(branches, i, 0.0)? - behind(branches, i, depth)?;
    let leaves = beyond(branches, i, depth) - beyond(branches, i, 0.0);
    Some(arrives.angle(&leaves))
}

fn mean(angle: impl Fn(f64) -> Option<f64>) -> Option<f64> {
    let (low, high) = DEPTHS_MM;
    let step = (high - low) / f64::from(DEPTHS - 1);
    let sum: Option<f64> = (0..DEPTHS).map(|k| angle(low + step * f64::from(k))).sum();
    sum.map(|s| s / f64::from(DEPTHS))
}

/// The point of branch `i` at a station, or its end.
fn beyond(branches: &[ImportedBranch], i: usize, station: f64) -> Vector3<f64> {
    along(branches[i].points.iter(), station).0
}

/// The point at a distance before the start of branch `i`, along its parents; the inlet's start
/// at the utmost.
fn behind(branches: &[ImportedBranch], i: usize, distance: f64) -> Option<Vector3<f64>> {
    branches[i].parent?;
    let (mut child, mut left) = (i, distance);
    loop {
        let Some(at) = branches[child].parent else {
            return branches[child].points.first().copied();
        };
        // The parent's points before the one on which the child begins, that one first.
        let points = &branches[at].points;
        let start = branches[child].points[0];
        let mut nearest = (f64::INFINITY, 0, start);
        for (k, pair) in points.windows(2).enumerate() {
            let foot = foot(&start, &pair[0], &pair[1]);
            let gap = (foot - start).norm();
            if gap < nearest.0 {
                nearest = (gap, k, foot);
            }
        }
        let (_, k, foot) = nearest;
        let back = std::iter::once(&foot).chain(points[..=k].iter().rev());
        let (point, missing) = along(back, left);
        if missing <= 0.0 {
            return Some(point);
        }
        (child, left) = (at, missing);
    }
}

/// The point at a distance along a polygon, or its end and how much is missing.
fn along<'a>(
    mut points: impl Iterator<Item = &'a Vector3<f64>>,
    distance: f64,
) -> (Vector3<f64>, f64) {
    let mut left = distance;
    let mut before = points.next().copied().unwrap_or_default();
    for p in points {
        let step = (p - before).norm();
        if step >= left && step > 0.0 {
            return (before + (p - before) * (left / step), 0.0);
        }
        left -= step;
        before = *p;
    }
    (before, left)
}
