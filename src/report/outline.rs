//! The scene as reports draw it: tubes with names, the guide's end, the target.

use nalgebra::Vector3;

use crate::trial::Prepared;
use crate::vessel::{Branch, Centreline};

/// Largest distance between two points of an outline in mm.
const SPACING_MM: f64 = 0.5;

/// One point of a branch's centreline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutlinePoint {
    /// Position in mm.
    pub position_mm: Vector3<f64>,
    /// Radius of the lumen in mm, above 0.
    pub radius_mm: f64,
}

/// One branch as a tube.
#[derive(Debug, Clone, PartialEq)]
pub struct OutlineBranch {
    /// Name.
    pub name: String,
    /// Points along the centreline, from its start, at most about a radius apart.
    pub points: Vec<OutlinePoint>,
}

impl OutlineBranch {
    /// The outline of a branch.
    #[must_use]
    pub fn of(branch: &Branch) -> Self {
        Self {
            name: branch.name.clone(),
            points: sample(&branch.centreline),
        }
    }
}

/// The scene as reports draw it.
#[derive(Debug, Clone, PartialEq)]
pub struct SceneOutline {
    /// The branches.
    pub branches: Vec<OutlineBranch>,
    /// Name of the target branch.
    pub target: String,
    /// End of the guiding catheter in mm.
    pub guide_end_mm: Vector3<f64>,
    /// Direction in which the guide points; unit length.
    pub guide_direction: Vector3<f64>,
}

impl SceneOutline {
    /// The outline of a scenario's vessel, with guide and target.
    #[must_use]
    pub fn new(prepared: &Prepared) -> Self {
        let guide = prepared.channel();
        Self {
            branches: prepared
                .tree()
                .branches()
                .iter()
                .map(OutlineBranch::of)
                .collect(),
            target: prepared.scenario().target.branch.clone(),
            guide_end_mm: guide.exit,
            guide_direction: guide.axis,
        }
    }

    /// The target branch, if the outline holds it.
    #[must_use]
    pub fn target_branch(&self) -> Option<&OutlineBranch> {
        self.branches.iter().find(|b| b.name == self.target)
    }
}

/// Points along a centreline at even distances of at most [`SPACING_MM`].
fn sample(centreline: &Centreline) -> Vec<OutlinePoint> {
    let length = centreline.length_mm();
    let pieces = (length / SPACING_MM).ceil().max(1.0);
    let mut points = Vec::new();
    let mut index = 0.0;
    while index <= pieces {
        let station = length * index / pieces;
        points.push(OutlinePoint {
            position_mm: centreline.position(station),
            radius_mm: centreline.radius(station),
        });
        index += 1.0;
    }
    points
}
