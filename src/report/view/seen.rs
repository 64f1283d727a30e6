//! The scene as one view shows it, for the figures that draw outlines.

use nalgebra::Vector3;

use crate::projection::Camera;
use crate::report::outline::{OutlineBranch, OutlinePoint, SceneOutline};

/// A branch as `camera` sees it.
pub fn seen_branch(branch: &OutlineBranch, camera: &Camera) -> OutlineBranch {
    let points = branch.points.iter().map(|p| OutlinePoint {
        position_mm: flat(&p.position_mm, camera),
        radius_mm: p.radius_mm * camera.scale(&p.position_mm),
    });
    OutlineBranch {
        name: branch.name.clone(),
        points: points.collect(),
    }
}

fn flat(p: &Vector3<f64>, camera: &Camera) -> Vector3<f64> {
    let image = camera.image(p);
    let depth = camera.beam.along.dot(&(p - camera.isocentre));
    Vector3::new(image.x, image.y, depth)
}

/// The outline as `camera` sees it: x to the right and y upwards from the isocentre, in mm at
/// the scale of the isocentre; z is the depth.
pub fn seen(outline: &SceneOutline, camera: &Camera, target: &str) -> SceneOutline {
    let end = flat(&outline.guide_end_mm, camera);
    let ahead = outline.guide_end_mm + outline.guide_direction;
    let (branches, bodies) = (outline.branches.iter(), outline.bodies.iter());
    SceneOutline {
        branches: branches.map(|b| seen_branch(b, camera)).collect(),
        bodies: bodies.map(|b| seen_branch(b, camera)).collect(),
        wall: None,
        target: target.to_owned(),
        guide_end_mm: end,
        guide_direction: flat(&ahead, camera) - end,
    }
}
