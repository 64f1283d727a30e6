//! The scene as reports draw it: tubes with names, the guide's end, the target.

use nalgebra::Vector3;

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
    /// The target branch, if the outline holds it.
    #[must_use]
    pub fn target_branch(&self) -> Option<&OutlineBranch> {
        self.branches.iter().find(|b| b.name == self.target)
    }
}
