//! The scene as one view shows it, for the figures that draw outlines.

use nalgebra::Vector3;

use crate::projection::Camera;
use crate::report::outline::{OutlineBranch, OutlinePoint, SceneOutline};

/// The outline as `camera` sees it: x to the right and y upwards from the isocentre, in mm at
/// the scale of the isocentre; z is the depth.
pub fn seen(outline: &SceneOutline, camera: &Camera, target: &str) -> SceneOutline {
    let flat = |p: &Vector3<f64>| {
        let image = camera.image(p);
        let depth = camera.beam.along.dot(&(p - camera.isocentre));
        Vector3::new(image.x, image.y, depth)
    };
    let branch = |b: &OutlineBranch| OutlineBranch {
        name: b.name.clone(),
        points: b
            .points
            .iter()
            .map(|p| OutlinePoint {
                position_mm: flat(&p.position_mm),
                radius_mm: p.radius_mm * camera.scale(&p.position_mm),
            })
            .collect(),
    };
    let end = flat(&outline.guide_end_mm);
    let ahead = flat(&(outline.guide_end_mm + outline.guide_direction));
    SceneOutline {
        branches: outline.branches.iter().map(branch).collect(),
        target: target.to_owned(),
        guide_end_mm: end,
        guide_direction: ahead - end,
    }
}
