//! The scene as reports draw it: tubes with names, bodies in them, the guide's end, the target; and
//! the wall itself where that is a surface from a file.

use nalgebra::Vector3;
use rayon::prelude::*;

use super::export;
use crate::anatomy::surface::Mesh;
use crate::trial::Prepared;
use crate::trial::result::MovedAxes;
use crate::vessel::{Branch, Centreline, obstacle};

/// Distance in mm within which the triangles lie of a wall into which narrowings were put.
const WALL_WITHIN_MM: f64 = 0.05;

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

/// A wall of triangles.
#[derive(Debug, Clone, PartialEq)]
pub struct OutlineWall {
    /// The triangles, in mm.
    pub mesh: Mesh,
    /// Number of the branch to which each belongs.
    pub branch_of: Vec<usize>,
}

/// The scene as reports draw it.
#[derive(Debug, Clone, PartialEq)]
pub struct SceneOutline {
    /// The branches.
    pub branches: Vec<OutlineBranch>,
    /// Bodies that stand in the lumen, each along its axis.
    pub bodies: Vec<OutlineBranch>,
    /// The wall, where it comes from a surface.
    pub wall: Option<OutlineWall>,
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
        let guide = prepared.guide_tip();
        Self {
            branches: prepared
                .tree()
                .branches()
                .iter()
                .map(OutlineBranch::of)
                .collect(),
            bodies: bodies(prepared),
            wall: prepared.surface().and_then(|_| wall(prepared)),
            target: prepared.scenario().target.branch.clone(),
            guide_end_mm: guide.exit,
            guide_direction: guide.axis,
        }
    }

    /// The same scene where its branches have moved.
    #[must_use]
    pub fn moved(&self, axes: &MovedAxes) -> Self {
        let mut moved = self.clone();
        for (branch, axis) in moved.branches.iter_mut().zip(&axes.branches_mm) {
            for (point, now) in branch.points.iter_mut().zip(axis) {
                point.position_mm = *now;
            }
        }
        moved
    }

    /// The target branch, if the outline holds it.
    #[must_use]
    pub fn target_branch(&self) -> Option<&OutlineBranch> {
        self.branches.iter().find(|b| b.name == self.target)
    }
}

/// The bodies that stand in the lumen.
fn bodies(prepared: &Prepared) -> Vec<OutlineBranch> {
    let specs = prepared.scenario().obstacles.iter();
    let body = |spec| Some((spec, obstacle(prepared.tree(), spec)?));
    specs
        .filter_map(body)
        .map(|(spec, body)| OutlineBranch {
            name: format!("obstacle in {}", spec.branch),
            points: body
                .outline()
                .map(|(position_mm, radius_mm)| OutlinePoint {
                    position_mm,
                    radius_mm,
                })
                .collect(),
        })
        .collect()
}

/// The wall of a lumen from a file, with the branch whose tube is nearest to each triangle.
fn wall(prepared: &Prepared) -> Option<OutlineWall> {
    let mesh = export::wall(prepared, WALL_WITHIN_MM).ok()?;
    let tree = prepared.tree();
    let branch_of = (0..mesh.triangles.len())
        .into_par_iter()
        .map_init(Vec::new, |near, t| {
            let [a, b, c] = mesh.corners(t);
            tree.nearest_tube(&((a + b + c) / 3.0), near).0
        })
        .collect();
    Some(OutlineWall { mesh, branch_of })
}

/// Points along a centreline.
fn sample(centreline: &Centreline) -> Vec<OutlinePoint> {
    let stations = centreline.drawn_stations();
    let points = stations.map(|station| OutlinePoint {
        position_mm: centreline.position(station),
        radius_mm: centreline.radius(station),
    });
    points.collect()
}
