//! Shapes in the open XML format of the visualisation toolkit family (`.vtp` polygonal data),
//! which general scientific viewers open; a `.pvd` collection lets them play a trial.

use std::fmt::Write as _;
use std::io;
use std::path::Path;

use nalgebra::Vector3;
use vtkio::model::{
    Attribute, Attributes, ByteOrder, DataArray, DataSet, IOBuffer, Piece, PolyDataPiece, Version,
    VertexNumbers, Vtk,
};

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
    write(
        path,
        PolyDataPiece {
            points: points(&nodes),
            lines: Some(VertexNumbers::XML {
                connectivity: (0..nodes.len() as u64).collect(),
                offsets,
            }),
            data: Attributes {
                point: vec![
                    scalars(WALL_FORCE, joined(|l| &l.wall_force_mn)),
                    scalars(CURVATURE, joined(|l| &l.curvature_per_mm)),
                    scalars(DIAMETER, joined(|l| &l.diameter_mm)),
                ],
                cell: vec![scalars(FED, lines.iter().map(|l| l.fed_mm).collect())],
            },
            ..PolyDataPiece::default()
        },
    )
}

/// Reads a wire back.
///
/// # Errors
///
/// The failure of a file operation, or a file without a polyline and its arrays.
pub fn read_wire(path: &Path) -> Result<WireShape, KeepError> {
    let unfit = |what: &str| {
        KeepError::at(path)(io::Error::new(
            io::ErrorKind::InvalidData,
            format!("no {what} in it"),
        ))
    };
    let vtk = Vtk::import(path).map_err(|e| KeepError::at(path)(io::Error::from(e)))?;
    let DataSet::PolyData { pieces, .. } = vtk.data else {
        return Err(unfit("polygonal data"));
    };
    let Some(Piece::Inline(piece)) = pieces.into_iter().next() else {
        return Err(unfit("piece"));
    };
    let array = |attributes: &[Attribute], name: &str| {
        let found = attributes.iter().find_map(|a| match a {
            Attribute::DataArray(array) if array.name == name => array.data.clone().into_vec(),
            _ => None,
        });
        found.ok_or_else(|| unfit(name))
    };
    let fed: Vec<f64> = array(&piece.data.cell, FED)?;
    let coordinates: Vec<f64> = piece
        .points
        .clone()
        .into_vec()
        .ok_or_else(|| unfit("points"))?;
    let nodes: Vec<Vector3<f64>> = coordinates
        .chunks_exact(3)
        .map(Vector3::from_column_slice)
        .collect();
    let force: Vec<f64> = array(&piece.data.point, WALL_FORCE)?;
    let curvature: Vec<f64> = array(&piece.data.point, CURVATURE)?;
    let diameter: Vec<f64> = array(&piece.data.point, DIAMETER)?;
    let lines = piece.lines.map(VertexNumbers::into_xml);
    let (_, offsets) = lines.ok_or_else(|| unfit("polyline"))?;
    let mut begin = 0;
    let mut shapes = Vec::new();
    for (end, fed_mm) in offsets.iter().zip(fed) {
        let end = usize::try_from(*end).unwrap_or(usize::MAX);
        let all = [force.len(), curvature.len(), diameter.len(), nodes.len()];
        if end < begin || all.iter().any(|count| end > *count) {
            return Err(unfit("complete polyline"));
        }
        let range = begin..end;
        shapes.push(WireShape {
            fed_mm,
            nodes_mm: nodes[range.clone()].to_vec(),
            wall_force_mn: force[range.clone()].to_vec(),
            curvature_per_mm: curvature[range.clone()].to_vec(),
            diameter_mm: diameter[range].to_vec(),
            beside: None,
        });
        begin = end;
    }
    let mut shapes = shapes.into_iter();
    let mut wire = shapes.next().ok_or_else(|| unfit(FED))?;
    wire.beside = shapes.next().map(Box::new);
    Ok(wire)
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
    write(
        path,
        PolyDataPiece {
            points: points(&positions),
            polys: Some(VertexNumbers::XML {
                connectivity,
                offsets: (1..=triangles).map(|i| 3 * i).collect(),
            }),
            data: Attributes {
                point: Vec::new(),
                cell: vec![scalars(BRANCH, branch_of)],
            },
            ..PolyDataPiece::default()
        },
    )
}

/// Writes branches as polylines with the lumen radius at their points, and number and name of the
/// branch at each line.
///
/// # Errors
///
/// The failure of a file operation.
pub fn write_centrelines(path: &Path, branches: &[ExportedBranch]) -> Result<(), KeepError> {
    let nodes: Vec<Vector3<f64>> = branches.iter().flat_map(|b| b.points.clone()).collect();
    let mut offsets: Vec<u64> = Vec::with_capacity(branches.len());
    for branch in branches {
        offsets.push(offsets.last().unwrap_or(&0) + branch.points.len() as u64);
    }
    write_named(
        path,
        PolyDataPiece {
            points: points(&nodes),
            lines: Some(VertexNumbers::XML {
                connectivity: (0..nodes.len() as u64).collect(),
                offsets,
            }),
            data: Attributes {
                point: vec![scalars(
                    RADIUS,
                    branches.iter().flat_map(|b| b.radii.clone()).collect(),
                )],
                cell: vec![scalars(
                    BRANCH,
                    (0..branches.len()).map(|i| i as f64).collect(),
                )],
            },
            ..PolyDataPiece::default()
        },
        &branches.iter().map(|b| b.name.as_str()).collect::<Vec<_>>(),
        "centrelines of a scene; lengths in mm; frame: x to the patient's left, y to the head, z to the \
         front",
    )
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

fn points(nodes: &[Vector3<f64>]) -> IOBuffer {
    let coordinates: Vec<f64> = nodes.iter().flat_map(|p| [p.x, p.y, p.z]).collect();
    IOBuffer::new(coordinates)
}

fn scalars(name: &str, values: Vec<f64>) -> Attribute {
    Attribute::DataArray(DataArray::scalars(name, 1).with_data(values))
}

fn write(path: &Path, piece: PolyDataPiece) -> Result<(), KeepError> {
    write_named(path, piece, &[], "")
}

/// Writes polygonal data, with a name for each cell if there are any.
fn write_named(
    path: &Path,
    piece: PolyDataPiece,
    names: &[&str],
    remark: &str,
) -> Result<(), KeepError> {
    let vtk = Vtk {
        version: Version::new((1, 0)),
        title: String::new(),
        byte_order: ByteOrder::LittleEndian,
        data: DataSet::inline(piece),
        file_path: None,
    };
    let mut bytes = Vec::new();
    vtk.write_xml(&mut bytes)
        .map_err(io::Error::from)
        .map_err(KeepError::at(path))?;
    write_file(path, with_remark(with_names(bytes, names), remark))
}

/// The file with a remark behind its first tag; without one as it is.
fn with_remark(bytes: Vec<u8>, remark: &str) -> Vec<u8> {
    let place = bytes.iter().position(|byte| *byte == b'>');
    let (false, Some(place)) = (remark.is_empty(), place) else {
        return bytes;
    };
    let (head, rest) = bytes.split_at(place + 1);
    [head, format!("<!-- {remark} -->").as_bytes(), rest].concat()
}

/// The file with an array of texts at its cells, which the library does not write: codes of
/// characters, each text ending in 0.
fn with_names(bytes: Vec<u8>, names: &[&str]) -> Vec<u8> {
    const END: &[u8] = b"</CellData>";
    let place = bytes.windows(END.len()).position(|w| w == END);
    let (false, Some(place)) = (names.is_empty(), place) else {
        return bytes;
    };
    let codes: Vec<String> = names
        .iter()
        .flat_map(|name| name.bytes().chain([0]))
        .map(|code| code.to_string())
        .collect();
    let array = format!(
        "<DataArray type=\"String\" Name=\"name\" NumberOfTuples=\"{}\" format=\"ascii\">{}</DataArray>",
        names.len(),
        codes.join(" ")
    );
    [&bytes[..place], array.as_bytes(), &bytes[place..]].concat()
}
