//! What a film needs to know of a scene beside its outline: the ostium, how to look at it, and what
//! each technique brings along.

use nalgebra::{Matrix3, Vector3};

use crate::report::outline::OutlinePoint;
use crate::trial::Prepared;

/// Length in mm over which the direction of a branch is taken.
const DIRECTION_MM: f64 = 4.0;
/// Spacing in mm of the points of a balloon.
const SPACING_MM: f64 = 0.25;

/// The place where the target leaves its parent, and the aids of the techniques.
#[derive(Debug, Clone, PartialEq)]
pub struct Stage {
    /// Where the target's centreline begins, in mm.
    pub ostium_mm: Vector3<f64>,
    /// Station on the target's centreline at which it leaves the parent's lumen, in mm.
    pub ostium_station_mm: f64,
    /// The parent: name and station of the take-off in mm; none where the target is an inlet.
    pub parent: Option<(String, f64)>,
    /// Where the guide ends: name of the branch and station on it in mm.
    pub guide: (String, f64),
    /// Rows: the parent's direction, the side to which the target leaves, the direction towards
    /// the reader; unit vectors.
    pub axes: Matrix3<f64>,
    /// What each technique brings along.
    pub aids: Vec<StageAids>,
}

/// What a technique brings along that a film shows.
#[derive(Debug, Clone, PartialEq)]
pub struct StageAids {
    /// Name of the technique.
    pub technique: String,
    /// The inflated balloon; empty for none.
    pub balloon: Vec<OutlinePoint>,
    /// Number of the wire to which it changes.
    pub other_wire: Option<usize>,
}

impl Stage {
    /// The stage of a scenario.
    #[must_use]
    pub fn new(prepared: &Prepared) -> Self {
        let tree = prepared.tree();
        let target = &tree.branches()[prepared.target_branch()];
        let line = &target.centreline;
        let ostium_mm = line.position(0.0);
        let end = target.ostium_mm + DIRECTION_MM.min(0.5 * line.length_mm());
        let out = line.position(end) - ostium_mm;
        let along = target.parent.map_or_else(
            || line.tangent(0.0),
            |(parent, at)| tree.branches()[parent].centreline.tangent(at),
        );
        let across = |v: Vector3<f64>| v - along * along.dot(&v);
        let away = ostium_mm.iamin();
        let side = across(out)
            .try_normalize(1e-3)
            .unwrap_or_else(|| across(Vector3::ith(away, 1.0)).normalize());
        let axes = Matrix3::from_rows(&[
            along.transpose(),
            side.transpose(),
            along.cross(&side).transpose(),
        ]);
        let aids = prepared.scenario().techniques.iter().map(|technique| {
            let balloon = technique.aids.balloon.as_ref().zip(target.parent);
            StageAids {
                technique: technique.name.clone(),
                balloon: balloon.map_or_else(Vec::new, |(spec, (parent, at))| {
                    let line = &tree.branches()[parent].centreline;
                    let radius_mm = 0.5 * spec.diameter_mm;
                    let first = at + spec.beyond_mm;
                    inflated(radius_mm, spec.length_mm, |along| {
                        line.position(first + along)
                    })
                }),
                other_wire: (technique.aids.exchange.is_some())
                    .then(|| prepared.exchange(technique)),
            }
        });
        Self {
            ostium_mm,
            ostium_station_mm: target.ostium_mm,
            parent: target
                .parent
                .map(|(parent, at)| (tree.branches()[parent].name.clone(), at)),
            guide: {
                let guide = &prepared.scenario().guide;
                (guide.branch.clone(), guide.station_mm)
            },
            axes,
            aids: aids.collect(),
        }
    }

    /// A point as the film's picture has it: from the ostium, in the directions of the axes.
    #[must_use]
    pub fn seen(&self, p: &Vector3<f64>) -> Vector3<f64> {
        self.axes * (p - self.ostium_mm)
    }
}

/// A balloon as balls along its axis: a tube with round ends.
fn inflated(
    radius_mm: f64,
    length_mm: f64,
    axis: impl Fn(f64) -> Vector3<f64>,
) -> Vec<OutlinePoint> {
    let last = (length_mm - radius_mm).max(radius_mm);
    let mut points = Vec::new();
    let mut at = radius_mm;
    while at <= last {
        points.push(OutlinePoint {
            position_mm: axis(at),
            radius_mm,
        });
        at += SPACING_MM;
    }
    points
}
