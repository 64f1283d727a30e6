//! Polygonal data as an XML file of the visualisation toolkit family, numbers packed in base64.

use std::fmt::Write as _;
use std::path::Path;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use nalgebra::Vector3;

use crate::study::KeepError;
use crate::study::store::write_file;

/// Points with cells over them and numbers at both.
#[derive(Debug, Clone, Default)]
pub struct PolyData<'a> {
    /// The points.
    pub points: Vec<Vector3<f64>>,
    /// Polylines.
    pub lines: Option<Cells>,
    /// Polygons.
    pub polygons: Option<Cells>,
    /// Names and values of the arrays with a number at each point.
    pub at_points: Vec<(&'a str, Vec<f64>)>,
    /// Names and values of the arrays with a number at each cell.
    pub at_cells: Vec<(&'a str, Vec<f64>)>,
    /// A name for each cell, or none at all.
    pub cell_names: Vec<&'a str>,
    /// A remark behind the first tag, without two hyphens in a row; empty for none.
    pub remark: &'a str,
}

/// Cells over points.
#[derive(Debug, Clone, Default)]
pub struct Cells {
    /// Numbers of the points of all cells, one cell after the other.
    pub connectivity: Vec<u64>,
    /// For each cell, where in `connectivity` the next one begins.
    pub offsets: Vec<u64>,
}

impl PolyData<'_> {
    /// Writes the file.
    ///
    /// # Errors
    ///
    /// The failure of a file operation.
    pub fn write(&self, path: &Path) -> Result<(), KeepError> {
        write_file(path, self.text())
    }

    fn text(&self) -> String {
        let count = |cells: &Option<Cells>| cells.as_ref().map_or(0, |c| c.offsets.len());
        let remark = match self.remark {
            "" => String::new(),
            remark => format!("<!-- {remark} -->"),
        };
        let mut text = format!(
            "<VTKFile type=\"PolyData\" version=\"1.0\" byte_order=\"LittleEndian\" \
             header_type=\"UInt64\">{}<PolyData><Piece NumberOfPoints=\"{}\" NumberOfLines=\"{}\" \
             NumberOfStrips=\"0\" NumberOfPolys=\"{}\" NumberOfVerts=\"0\">",
            remark,
            self.points.len(),
            count(&self.lines),
            count(&self.polygons),
        );
        attributes(&mut text, "PointData", &self.at_points, &[]);
        attributes(&mut text, "CellData", &self.at_cells, &self.cell_names);
        let coordinates = self.points.iter().flat_map(|p| [p.x, p.y, p.z]);
        let packed = packed(coordinates.map(f64::to_le_bytes));
        let _ = write!(
            text,
            "<Points><DataArray type=\"Float64\" format=\"binary\" NumberOfComponents=\"3\">\
             {packed}</DataArray></Points>"
        );
        for (section, cells) in [("Lines", &self.lines), ("Polys", &self.polygons)] {
            let Some(cells) = cells else { continue };
            let _ = write!(text, "<{section}>");
            whole_numbers(&mut text, "connectivity", &cells.connectivity);
            whole_numbers(&mut text, "offsets", &cells.offsets);
            let _ = write!(text, "</{section}>");
        }
        text.push_str("</Piece></PolyData></VTKFile>");
        text
    }
}

/// The arrays of points or cells; a viewer shows the first of them at once.
fn attributes(text: &mut String, section: &str, arrays: &[(&str, Vec<f64>)], names: &[&str]) {
    let Some((shown, _)) = arrays.first() else {
        let _ = write!(text, "<{section}/>");
        return;
    };
    let _ = write!(text, "<{section} Scalars=\"{shown}\">");
    for (name, values) in arrays {
        let packed = packed(values.iter().map(|value| value.to_le_bytes()));
        let _ = write!(
            text,
            "<DataArray type=\"Float64\" Name=\"{name}\" format=\"binary\" \
             NumberOfComponents=\"1\">{packed}</DataArray>"
        );
    }
    if !names.is_empty() {
        // Codes of characters, each text ending in 0.
        let codes = names.iter().flat_map(|name| name.bytes().chain([0]));
        let codes: Vec<String> = codes.map(|code| code.to_string()).collect();
        let _ = write!(
            text,
            "<DataArray type=\"String\" Name=\"name\" NumberOfTuples=\"{}\" format=\"ascii\">{}\
             </DataArray>",
            names.len(),
            codes.join(" ")
        );
    }
    let _ = write!(text, "</{section}>");
}

fn whole_numbers(text: &mut String, name: &str, values: &[u64]) {
    let packed = packed(values.iter().map(|value| value.to_le_bytes()));
    let _ = write!(
        text,
        "<DataArray type=\"UInt64\" Name=\"{name}\" format=\"binary\" NumberOfComponents=\"1\">\
         {packed}</DataArray>"
    );
}

/// Numbers behind their length in bytes, in base64.
fn packed(numbers: impl Iterator<Item = [u8; 8]>) -> String {
    let mut bytes = vec![0; 8];
    for number in numbers {
        bytes.extend(number);
    }
    let length = (bytes.len() - 8) as u64;
    bytes[..8].copy_from_slice(&length.to_le_bytes());
    STANDARD.encode(bytes)
}
