//! Shapes in the open XML format of the visualisation toolkit family (`.vtp` polygonal data),
//! which general scientific viewers open; a `.pvd` collection lets them play a trial.

mod polydata;
mod read;

use std::fmt::Write as _;
use std::path::Path;

use nalgebra::Vector3;

use self::polydata::{Cells, PolyData};
pub use self::read::{read_lines, read_wire};
use super::export::ExportedBranch;
use super::outline::{OutlineBranch, SceneOutline};
use crate::study::KeepError;
use crate::study::store::write_file;
use crate::trial::result::WireShape;

/// Points around a tube.
const RING: usize = 24;
/// Name of the wall-force array.
const WALL_FORCE: &str = "wall_force_mN";
/// Name of the curvature array.
const CURVATURE: &str = "curvature_per_mm";
/// Name of the diameter array.
const DIAMETER: &str = "diameter_mm";
/// Name of the fed-length array, one value for the line.
const FED: &str = "fed_mm";
/// Name of the radius array at the points of centrelines, as programs that compute centrelines
/// from surfaces call it.
const RADIUS: &str = "MaximumInscribedSphereRadius";
/// Name of the branch-number array.
const BRANCH: &str = "branch";

/// Writes a wire as a polyline from the guide's end to the tip, with wall force, curvature and outer
/// diameter at its points and the fed length at the line. What lies beside it follows as a second
/// polyline: a catheter ahead of its side port and its first wire.
///
/// # Errors
///
/// The failure of a file operation.
pub fn write_wire(path: &Path, shape: &WireShape) -> Result<(), KeepError> {
    let lines: Vec<&WireShape> = std::iter::once(shape)
        .chain(shape.beside.as_deref())
        .collect();
    let joined = |of: fn(&WireShape) -> &Vec<f64>| -> Vec<f64> {
        lines.iter().flat_map(|line| of(line)).copied().collect()
    };
    let nodes: Vec<Vector3<f64>> = lines.iter().flat_map(|l| &l.nodes_mm).copied().collect();
    let mut end = 0;
    let offsets = lines.iter().map(|line| {
        end += line.nodes_mm.len() as u64;
        end
    });
    let offsets: Vec<u64> = offsets.collect();
    let data = PolyData {
        lines: Some(Cells {
            connectivity: (0..nodes.len() as u64).collect(),
            offsets,
        }),
        points: nodes,
        at_points: vec![
            (WALL_FORCE, joined(|l| &l.wall_force_mn)),
            (CURVATURE, joined(|l| &l.curvature_per_mm)),
            (DIAMETER, joined(|l| &l.diameter_mm)),
        ],
        at_cells: vec![(FED, lines.iter().map(|l| l.fed_mm).collect())],
        ..PolyData::default()
    };
    data.write(path)
}

/// Writes the lumen as triangles with the number of their branch: the wall itself where that is a
/// surface from a file, else the outlines of all branches as tubes. Bodies in the lumen follow as
/// tubes with the number -1.
///
/// # Errors
///
/// The failure of a file operation.
pub fn write_vessel(path: &Path, outline: &SceneOutline) -> Result<(), KeepError> {
    let mut positions = Vec::new();
    let mut connectivity: Vec<u64> = Vec::new();
    let mut branch_of: Vec<f64> = Vec::new();
    let mut tubes: Vec<(f64, &OutlineBranch)> = Vec::new();
    if let Some(wall) = &outline.wall {
        positions.extend_from_slice(&wall.mesh.points);
        let corners = wall.mesh.triangles.iter().flatten();
        connectivity.extend(corners.map(|i| u64::from(*i)));
        branch_of.extend(wall.branch_of.iter().map(|b| *b as f64));
    } else {
        let numbered = outline.branches.iter().enumerate();
        tubes.extend(numbered.map(|(number, branch)| (number as f64, branch)));
    }
    tubes.extend(outline.bodies.iter().map(|body| (-1.0, body)));
    for (number, branch) in tubes {
        let first = positions.len();
        positions.extend(tube(branch));
        for ring in 0..branch.points.len().saturating_sub(1) {
            for k in 0..RING {
                let a = (first + ring * RING + k) as u64;
                let b = (first + ring * RING + (k + 1) % RING) as u64;
                let over = RING as u64;
                connectivity.extend([a, b, b + over, a, b + over, a + over]);
                branch_of.extend([number; 2]);
            }
        }
    }
    let triangles = branch_of.len() as u64;
    let data = PolyData {
        points: positions,
        polygons: Some(Cells {
            connectivity,
            offsets: (1..=triangles).map(|i| 3 * i).collect(),
        }),
        at_cells: vec![(BRANCH, branch_of)],
        ..PolyData::default()
    };
    data.write(path)
}

/// Writes branches as polylines with the lumen radius at their points, and number and name of the
/// branch at each line; `axes` says where the axes of the scene point.
///
/// # Errors
///
/// The failure of a file operation.
pub fn write_centrelines(
    path: &Path,
    axes: &str,
    branches: &[ExportedBranch],
) -> Result<(), KeepError> {
    let nodes: Vec<Vector3<f64>> = branches.iter().flat_map(|b| b.points.clone()).collect();
    let mut offsets: Vec<u64> = Vec::with_capacity(branches.len());
    for branch in branches {
        offsets.push(offsets.last().unwrap_or(&0) + branch.points.len() as u64);
    }
    let radii = branches.iter().flat_map(|b| b.radii.clone());
    let data = PolyData {
        lines: Some(Cells {
            connectivity: (0..nodes.len() as u64).collect(),
            offsets,
        }),
        points: nodes,
        at_points: vec![(RADIUS, radii.collect())],
        at_cells: vec![(BRANCH, (0..branches.len()).map(|i| i as f64).collect())],
        cell_names: branches.iter().map(|b| b.name.as_str()).collect(),
        remark: &format!("centrelines of a scene; lengths in mm; frame: {axes}"),
        ..PolyData::default()
    };
    data.write(path)
}

/// Writes a collection of files with a number (here the recorded step) as their time.
///
/// # Errors
///
/// The failure of a file operation.
pub fn write_collection(path: &Path, files: &[(f64, String)]) -> Result<(), KeepError> {
    let mut text = String::from(
        "<?xml version=\"1.0\"?>\n\
         <VTKFile type=\"Collection\" version=\"0.1\" byte_order=\"LittleEndian\">\n  \
         <Collection>\n",
    );
    for (time, file) in files {
        let _ = writeln!(
            text,
            "    <DataSet timestep=\"{time}\" group=\"\" part=\"0\" file=\"{file}\"/>"
        );
    }
    text.push_str("  </Collection>\n</VTKFile>\n");
    write_file(path, text)
}

/// Rings of points around a centreline, carried along without twist: the ring's first direction
/// is projected from one ring to the next.
fn tube(branch: &OutlineBranch) -> Vec<Vector3<f64>> {
    let centre: Vec<Vector3<f64>> = branch.points.iter().map(|p| p.position_mm).collect();
    let last = centre.len().saturating_sub(1);
    let mut normal = Vector3::zeros();
    let mut rings = Vec::with_capacity(centre.len() * RING);
    for (i, point) in branch.points.iter().enumerate() {
        let along = centre[(i + 1).min(last)] - centre[i.saturating_sub(1)];
        let tangent = along.try_normalize(0.0).unwrap_or_else(Vector3::x);
        let across = |v: Vector3<f64>| v - tangent * tangent.dot(&v);
        normal = across(normal)
            .try_normalize(1e-6)
            .unwrap_or_else(|| across(least_axis(&tangent)).normalize());
        let binormal = tangent.cross(&normal);
        for k in 0..RING {
            let (sine, cosine) = (std::f64::consts::TAU * k as f64 / RING as f64).sin_cos();
            rings.push(centre[i] + (normal * cosine + binormal * sine) * point.radius_mm);
        }
    }
    rings
}

/// The coordinate axis that lies most square to `direction`.
fn least_axis(direction: &Vector3<f64>) -> Vector3<f64> {
    let mut axis = Vector3::zeros();
    axis[direction.iamin()] = 1.0;
    axis
}
