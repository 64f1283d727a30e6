//! Any scene in open formats: centrelines with radius as VTK XML polydata, SWC and a table of
//! branches; the lumen's wall as an STL surface, for printing a phantom or for meshing.
mod centrelines;
mod stl;

use std::fs;
use std::path::Path;

use crate::anatomy::surface::Mesh;
use crate::study::KeepError;
use crate::trial::Prepared;
use crate::vessel::{BALLS_WITHIN_MM, MOST_WALL_CELLS, Spacing, net, wall_cells};

pub use centrelines::{ExportedBranch, branches, write_branches, write_swc};
pub use stl::write_stl;

use super::vtk::write_centrelines;

/// Writes a scene into `folder`: `centrelines.vtp`, `centrelines.swc`, `branches.csv` and
/// `lumen.stl`; `axes` says where the axes of the scene point. The facets of the lumen lie within `tolerance_mm` of the wall.
///
/// # Errors
/// The failure of a file operation, or a wall whose net of triangles does not close.
pub fn write_scene(
    folder: &Path,
    prepared: &Prepared,
    axes: &str,
    tolerance_mm: f64,
) -> Result<(), KeepError> {
    fs::create_dir_all(folder).map_err(KeepError::at(folder))?;
    let tree = prepared.tree();
    let all = branches(tree);
    write_centrelines(&folder.join("centrelines.vtp"), axes, &all)?;
    write_swc(&folder.join("centrelines.swc"), axes, &all)?;
    write_branches(&folder.join("branches.csv"), tree)?;
    let path = folder.join("lumen.stl");
    let refused = |reason: String| KeepError::Output {
        what: format!("cannot write {}", path.display()),
        reason,
    };
    let wall = wall(prepared, tolerance_mm).map_err(refused)?;
    write_stl(&path, axes, &wall.points, &wall.triangles)
}

/// The wall of a scene's lumen: the surface of its file where nothing was put into that, the one made
/// of the balls of its centrelines where that is fine enough, else a net of triangles within
/// `tolerance_mm` of the wall.
///
/// # Errors
/// In words: a net of more cells than memory is set aside for, and one that does not close.
pub fn wall(prepared: &Prepared, tolerance_mm: f64) -> Result<Mesh, String> {
    let tree = prepared.tree();
    let vessel = &prepared.scenario().vessel;
    match prepared.surface() {
        Some(surface)
            if vessel.narrowings.is_empty()
                && (vessel.surface.is_some() || tolerance_mm >= BALLS_WITHIN_MM) =>
        {
            Ok(surface.mesh().clone())
        }
        surface => {
            let spacing = Spacing::of(tree, tolerance_mm);
            affordable(wall_cells(tree, &spacing), tolerance_mm)?;
            let net = net(tree, surface, &spacing).ok_or_else(|| {
                "the wall's net of triangles does not close; choose a smaller tolerance".to_owned()
            })?;
            let (points, triangles) = (net.points, net.triangles);
            Ok(Mesh { points, triangles })
        }
    }
}

/// Refuses a net of too many cells, whose number goes with one over the tolerance.
fn affordable(cells: f64, tolerance_mm: f64) -> Result<(), String> {
    if cells <= MOST_WALL_CELLS {
        return Ok(());
    }
    // Rounded up, so that the remedy is one.
    let enough = (tolerance_mm * cells / MOST_WALL_CELLS * 1000.0).ceil() / 1000.0;
    Err(format!(
        "the wall's net of triangles would have about {:.1} million cells, allowed are {:.0} million; \
         choose a tolerance of {enough} mm or more",
        cells / 1e6,
        MOST_WALL_CELLS / 1e6
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_net_of_too_many_cells_is_refused_with_a_tolerance_that_is_enough() {
        assert_eq!(affordable(MOST_WALL_CELLS, 0.01), Ok(()));
        let refused = affordable(2.5 * MOST_WALL_CELLS, 0.001).unwrap_err();
        assert!(refused.contains("10.0 million"), "{refused}");
        assert!(refused.contains("0.003 mm or more"), "{refused}");
    }
}
