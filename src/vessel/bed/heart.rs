//! How the heart moves the axes of a tree.
//!
//! A vessel over contracting muscle keeps its length while the muscle under it becomes shorter: it is
//! thrown into waves, as many as bends are counted in systole. One in the groove between atria and
//! ventricles swings about its start without being bent. What is neither moves and turns with its parent.
//! All displacements are those against the guide's end, which rides with the vessel in which it stands.

use nalgebra::{UnitQuaternion, Vector3};

use super::motion::{Cycle, Motion, systole};
use super::spline::Knots;
use super::turned::{Own, Turned, Waves};
use crate::scenario::model::{HeartCourse, HeartSpec};
use crate::vessel::centreline::Centreline;
use crate::vessel::path::number;
use crate::vessel::tree::Tree;

/// Phases of a beat at which the axes are computed: end systole is one of them.
const PHASES: usize = 40;
/// Places at which the way of a swinging branch is looked for.
const PLACES: usize = 200;
/// Part of a direction that must lie across a branch for it to swing there.
const LEAST_ACROSS: f64 = 0.2;
/// Largest swing in rad.
const MOST_SWING_RAD: f64 = 0.8;

/// A beat of the heart.
#[derive(Debug, Clone, PartialEq)]
pub struct Beat {
    /// Movement of the axes against the guide's end.
    pub motion: Motion,
    /// Movement of the guide's end in space: one control vector.
    pub guide: Motion,
}

/// Why a branch cannot be moved as it is said.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BeatFault {
    /// The direction runs along the branch.
    #[error("branch {branch:?} runs in that direction, and swings about its start")]
    Along {
        /// The branch.
        branch: String,
    },
    /// The branch is too short.
    #[error(
        "branch {branch:?} cannot go {way_mm} mm: it swings about its start, and would have to turn by more than \
         {} degrees",
        (MOST_SWING_RAD.to_degrees()).round()
    )]
    Short {
        /// The branch.
        branch: String,
        /// How far it is to go, in mm.
        way_mm: f64,
    },
}

impl Beat {
    /// The beat that `heart` describes, of a tree whose displacements have these knots; the guide's end
    /// stands at a station (mm) of a branch.
    ///
    /// # Errors
    /// A branch in the groove that cannot swing as it is said.
    pub fn of(
        heart: &HeartSpec,
        tree: &Tree,
        knots: &[Knots],
        guide: (usize, f64),
    ) -> Result<Self, BeatFault> {
        let phases = match &heart.course {
            HeartCourse::ByKind { .. } => {
                let own = own(&heart.course, tree)?;
                let phase = |k: usize| {
                    moved(
                        tree,
                        knots,
                        &own,
                        systole(number(k) / number(PHASES)),
                        guide,
                    )
                };
                (0..PHASES).map(phase).collect()
            }
            HeartCourse::Phases(axes) => {
                let still = (Vector3::zeros(), vec![Vector3::zeros(); controls(knots)]);
                let phase = |axes: &Vec<Vec<Vector3<f64>>>| along(tree, knots, axes, guide);
                std::iter::once(still)
                    .chain(axes.iter().map(phase))
                    .collect::<Vec<_>>()
            }
        };
        let (guide, axes): (Vec<_>, Vec<_>) = phases.into_iter().map(|(g, a)| (vec![g], a)).unzip();
        let cycle = |phases: &[Vec<Vector3<f64>>]| Motion {
            cycles: vec![Cycle::through(heart.period_s, phases)],
        };
        Ok(Self {
            motion: cycle(&axes),
            guide: cycle(&guide),
        })
    }
}

fn controls(knots: &[Knots]) -> usize {
    knots.iter().map(Knots::controls).sum()
}

/// What the heart does to each branch at end systole.
fn own(course: &HeartCourse, tree: &Tree) -> Result<Vec<Own>, BeatFault> {
    let HeartCourse::ByKind {
        over_muscle,
        curvature_per_mm,
        bends_every_mm,
        in_groove,
        groove_mm,
        towards,
    } = course
    else {
        return Ok(vec![Own::Nothing; tree.branches().len()]);
    };
    let numbered = tree.branches().iter().enumerate();
    let of = numbered.map(|(number, branch)| {
        let line = &branch.centreline;
        if over_muscle.contains(&number) && *curvature_per_mm > 0.0 {
            let waves = Waves::raising(line, *curvature_per_mm, *bends_every_mm);
            return Ok(Own::Waves(waves));
        }
        if in_groove.contains(&number) && *groove_mm > 0.0 {
            let name = || branch.name.clone();
            return swing(line, *groove_mm, towards, name).map(Own::Swung);
        }
        Ok(Own::Nothing)
    });
    of.collect()
}

/// Rotation vector in rad of a branch that swings about its start so that its farthest part goes `way_mm`, as
/// far as it can towards a direction.
fn swing(
    line: &Centreline,
    way_mm: f64,
    towards: &Vector3<f64>,
    name: impl Fn() -> String,
) -> Result<Vector3<f64>, BeatFault> {
    let places = (1..=PLACES).map(|k| line.length_mm() * number(k) / number(PLACES));
    let start = line.position(0.0);
    let arms: Vec<_> = places.map(|s| line.position(s) - start).collect();
    let middle: Vector3<f64> = arms.iter().sum::<Vector3<f64>>() / number(PLACES);
    let across = middle.cross(towards);
    if across.norm() < LEAST_ACROSS * middle.norm() {
        return Err(BeatFault::Along { branch: name() });
    }
    let axis = across.normalize();
    let farthest = arms.iter().map(|arm| arm.cross(&axis).norm());
    let farthest = farthest.fold(0.0, f64::max);
    // A point at the distance d from the axis goes 2 d sin(angle/2).
    let half = 0.5 * way_mm / farthest;
    if half > (0.5 * MOST_SWING_RAD).sin() {
        return Err(BeatFault::Short {
            branch: name(),
            way_mm,
        });
    }
    Ok(axis * (2.0 * half.asin()))
}

/// Displacement of the guide's end, and control vectors of all axes against it, at the share `share` of
/// systole.
fn moved(
    tree: &Tree,
    knots: &[Knots],
    own: &[Own],
    share: f64,
    guide: (usize, f64),
) -> (Vector3<f64>, Vec<Vector3<f64>>) {
    let branches = tree.branches();
    let mut turned: Vec<Turned> = Vec::with_capacity(branches.len());
    for (number, branch) in branches.iter().enumerate() {
        let line = &branch.centreline;
        let start = match branch.parent {
            Some((parent, at_mm)) => {
                let arm = line.position(0.0) - branches[parent].centreline.position(at_mm);
                turned[parent].carried(at_mm, &arm)
            }
            None => (Vector3::zeros(), UnitQuaternion::identity()),
        };
        turned.push(Turned::of(line, &knots[number], &own[number], share, start));
    }
    let of_guide = turned[guide.0].at(guide.1).0;
    let of_branch = |(knots, turned): (&Knots, &Turned)| {
        let ways: Vec<_> = turned.at_knots().iter().map(|u| u - of_guide).collect();
        knots.through(&ways)
    };
    let both = knots.iter().zip(&turned);
    (of_guide, both.flat_map(of_branch).collect())
}

/// The same from points along each branch: equal shares of the length belong together.
fn along(
    tree: &Tree,
    knots: &[Knots],
    axes: &[Vec<Vector3<f64>>],
    guide: (usize, f64),
) -> (Vector3<f64>, Vec<Vector3<f64>>) {
    let way = |number: usize, station_mm: f64| {
        let line = &tree.branches()[number].centreline;
        at_share(&axes[number], station_mm / line.length_mm()) - line.position(station_mm)
    };
    let of_guide = way(guide.0, guide.1);
    let of_branch = |(number, knots): (usize, &Knots)| {
        let ways: Vec<_> = knots
            .stations()
            .map(|s| way(number, s) - of_guide)
            .collect();
        knots.through(&ways)
    };
    let all = knots.iter().enumerate();
    (of_guide, all.flat_map(of_branch).collect())
}

/// The point at a share of the length of a line of points, at least two.
fn at_share(points: &[Vector3<f64>], share: f64) -> Vector3<f64> {
    let lengths: Vec<f64> = points.windows(2).map(|w| (w[1] - w[0]).norm()).collect();
    let mut left = share.clamp(0.0, 1.0) * lengths.iter().sum::<f64>();
    for (ends, length) in points.windows(2).zip(&lengths) {
        if left <= *length {
            return ends[0].lerp(&ends[1], left / length.max(f64::MIN_POSITIVE));
        }
        left -= length;
    }
    points[points.len() - 1]
}
