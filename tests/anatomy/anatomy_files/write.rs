//! Writers of files of anatomy that are not ours: a library for the formats of a visualisation
//! toolkit, a library for tables.

use super::trees::Line;
use nalgebra::Vector3;
use std::fmt::Write as _;
use vtkio::model::{
    Attribute, Attributes, ByteOrder, DataArray, DataSet, PolyDataPiece, Version, VertexNumbers,
    Vtk,
};

/// A format of lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    Vtp,
    LegacyText,
    LegacyBinary,
    Csv,
    CsvWithParents,
    Swc,
}

impl Format {
    pub fn ending(self) -> &'static str {
        match self {
            Self::Vtp => "vtp",
            Self::LegacyText | Self::LegacyBinary => "vtk",
            Self::Csv | Self::CsvWithParents => "csv",
            Self::Swc => "swc",
        }
    }
}

/// Polygonal data with lines.
fn polydata(lines: &[Line], per_mm: f64) -> Vtk {
    let all = || lines.iter().flat_map(|l| &l.points);
    let coordinates: Vec<f64> = all()
        .flat_map(|p| [p.x, p.y, p.z])
        .map(|x| x * per_mm)
        .collect();
    let radii: Vec<f64> = lines
        .iter()
        .flat_map(|l| &l.radii)
        .map(|r| r * per_mm)
        .collect();
    let mut vertices: Vec<u32> = Vec::new();
    let mut next = 0;
    for line in lines {
        vertices.push(line.points.len() as u32);
        for _ in &line.points {
            vertices.push(next);
            next += 1;
        }
    }
    let groups: Vec<i32> = lines.iter().map(|l| l.branch as i32).collect();
    Vtk {
        version: Version::new_legacy(2, 0),
        title: "lines".into(),
        byte_order: ByteOrder::BigEndian,
        data: DataSet::inline(PolyDataPiece {
            points: coordinates.into(),
            lines: Some(VertexNumbers::Legacy {
                num_cells: lines.len() as u32,
                vertices,
            }),
            data: Attributes {
                point: vec![Attribute::DataArray(
                    DataArray::scalars("Radius", 1).with_data(radii),
                )],
                cell: vec![Attribute::DataArray(
                    DataArray::scalars("GroupIds", 1).with_data(groups),
                )],
            },
            ..PolyDataPiece::default()
        }),
        file_path: None,
    }
}

/// A VTP file of lines of x, y, z, radius with whole numbers at its lines.
pub fn polydata_with(lines: &[&Vec<[f64; 4]>], numbers: &[(&str, &[i32])]) -> Vec<u8> {
    let lines: Vec<Line> = lines
        .iter()
        .map(|line| Line {
            points: line
                .iter()
                .map(|[x, y, z, _]| Vector3::new(*x, *y, *z))
                .collect(),
            radii: line.iter().map(|p| p[3]).collect(),
            branch: 0,
        })
        .collect();
    let mut vtk = polydata(&lines, 1.0);
    if let DataSet::PolyData { pieces, .. } = &mut vtk.data
        && let Some(vtkio::model::Piece::Inline(piece)) = pieces.first_mut()
    {
        piece.data.cell = numbers
            .iter()
            .map(|(name, values)| {
                Attribute::DataArray(DataArray::scalars(*name, 1).with_data(values.to_vec()))
            })
            .collect();
    }
    let mut bytes = Vec::new();
    vtk.write_xml(&mut bytes).unwrap();
    bytes
}

/// The bytes of a file with these lines; `parents` gives the branch on which each hangs, for tables
/// that say it.
pub fn written(format: Format, lines: &[Line], parents: &[Option<usize>], per_mm: f64) -> Vec<u8> {
    match format {
        Format::Vtp => {
            let mut bytes = Vec::new();
            polydata(lines, per_mm).write_xml(&mut bytes).unwrap();
            bytes
        }
        Format::LegacyText => {
            let mut text = String::new();
            polydata(lines, per_mm)
                .write_legacy_ascii(&mut text)
                .unwrap();
            text.into_bytes()
        }
        Format::LegacyBinary => {
            let mut bytes = Vec::new();
            polydata(lines, per_mm).write_legacy(&mut bytes).unwrap();
            bytes
        }
        Format::Csv | Format::CsvWithParents => {
            let with_parents = format == Format::CsvWithParents;
            let mut table = csv::Writer::from_writer(Vec::new());
            let mut heads = vec!["Branch", "X", "Y", "Z", "Radius"];
            if with_parents {
                heads.push("Parent");
            }
            table.write_record(&heads).unwrap();
            for line in lines {
                // A table that says the parent often leaves out the sample on it.
                let from = usize::from(with_parents && parents[line.branch].is_some());
                for (p, r) in line.points.iter().zip(&line.radii).skip(from) {
                    let mut row = vec![format!("b{}", line.branch)];
                    row.extend([p.x, p.y, p.z, *r].map(|x| (x * per_mm).to_string()));
                    if with_parents {
                        row.push(parents[line.branch].map_or(String::new(), |b| format!("b{b}")));
                    }
                    table.write_record(&row).unwrap();
                }
            }
            table.into_inner().unwrap()
        }
        Format::Swc => swc(lines, parents, per_mm).into_bytes(),
    }
}

/// SWC of lines that are branches in the order of the tree, each from its fork on; numbers count
/// down, so that a point may stand before its parent.
fn swc(lines: &[Line], parents: &[Option<usize>], per_mm: f64) -> String {
    let total: usize = lines.iter().map(|l| l.points.len()).sum();
    let mut first = vec![0; parents.len()];
    let mut number = total;
    for line in lines {
        first[line.branch] = number;
        number -= line.points.len();
    }
    let last = |branch: usize| {
        let line = lines.iter().find(|l| l.branch == branch).unwrap();
        first[branch] + 1 - line.points.len()
    };
    let mut text = String::from("# a tree\n");
    for line in lines {
        let mut before = parents[line.branch].map_or(-1, |b| last(b) as i64);
        let skipped = usize::from(parents[line.branch].is_some());
        for (k, (p, r)) in line
            .points
            .iter()
            .zip(&line.radii)
            .enumerate()
            .skip(skipped)
        {
            let id = (first[line.branch] - k) as i64;
            let p: Vector3<f64> = p * per_mm;
            let _ = writeln!(
                text,
                "{id} 3 {} {} {} {} {before}",
                p.x,
                p.y,
                p.z,
                r * per_mm
            );
            before = id;
        }
    }
    text
}
