//! Any scene in open formats: centrelines with radius as VTK XML polydata, SWC and a table of
//! branches; the lumen's wall as an STL surface, for printing a phantom or for meshing.
mod centrelines;
mod stl;

use std::fs;
use std::path::Path;

use crate::anatomy::surface::Mesh;
use crate::study::KeepError;
use crate::trial::Prepared;
use crate::vessel::{BALLS_WITHIN_MM, Spacing, net};

pub use centrelines::{ExportedBranch, branches, write_branches, write_swc};
pub use stl::write_stl;

use super::vtk::write_centrelines;

/// Writes a scene into `folder`: `centrelines.vtp`, `centrelines.swc`, `branches.csv` and
/// `lumen.stl`. The facets of the lumen lie within `tolerance_mm` of the wall.
///
/// # Errors
/// The failure of a file operation, or a wall whose net of triangles does not close.
pub fn write_scene(folder: &Path, prepared: &Prepared, tolerance_mm: f64) -> Result<(), KeepError> {
    fs::create_dir_all(folder).map_err(KeepError::at(folder))?;
    let tree = prepared.tree();
    let all = branches(tree);
    write_centrelines(&folder.join("centrelines.vtp"), &all)?;
    write_swc(&folder.join("centrelines.swc"), &all)?;
    write_branches(&folder.join("branches.csv"), tree)?;
    let path = folder.join("lumen.stl");
    let wall = wall(prepared, tolerance_mm).ok_or_else(|| KeepError::Output {
        what: format!("cannot write {}", path.display()),
        reason: "the wall's net of triangles does not close; choose a smaller tolerance".into(),
    })?;
    write_stl(&path, &wall.points, &wall.triangles)
}

/// The wall of a scene's lumen: the surface of its file where nothing was put into that, the one made
/// of the balls of its centrelines where that is fine enough, else a net of triangles within `tolerance_mm` of the wall. `None` if the net does not close.
#[must_use]
pub fn wall(prepared: &Prepared, tolerance_mm: f64) -> Option<Mesh> {
    let tree = prepared.tree();
    let vessel = &prepared.scenario().vessel;
    match prepared.surface() {
        Some(surface)
            if vessel.narrowings.is_empty()
                && (vessel.surface.is_some() || tolerance_mm >= BALLS_WITHIN_MM) =>
        {
            Some(surface.mesh().clone())
        }
        surface => {
            let net = net(tree, surface, &Spacing::of(tree, tolerance_mm))?;
            let (points, triangles) = (net.points, net.triangles);
            Some(Mesh { points, triangles })
        }
    }
}
