//! Wires read back from the files of an earlier run.

use std::io;
use std::path::Path;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use nalgebra::Vector3;
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use super::{CURVATURE, DIAMETER, FED, WALL_FORCE};
use crate::study::KeepError;
use crate::trial::result::WireShape;

/// Reads a wire back that [`super::write_wire`] wrote.
///
/// # Errors
///
/// The failure of a file operation, or a file without a polyline and its arrays.
pub fn read_wire(path: &Path) -> Result<WireShape, KeepError> {
    let text = std::fs::read_to_string(path).map_err(KeepError::at(path))?;
    parse(&text)
        .map_err(|reason| KeepError::at(path)(io::Error::new(io::ErrorKind::InvalidData, reason)))
}

/// An array of a file: where it stands, its name, its packed numbers.
struct Array {
    section: String,
    name: String,
    numbers: Vec<[u8; 8]>,
}

fn parse(text: &str) -> Result<WireShape, String> {
    let arrays = arrays(text)?;
    let find = |section: &str, name: &str| {
        let mut own = arrays.iter().filter(|a| a.section == section);
        let found = own.find(|a| a.name == name);
        found
            .map(|a| a.numbers.as_slice())
            .ok_or_else(|| format!("no {section} {name} in it").replace("  ", " "))
    };
    let reals = |section: &str, name: &str| -> Result<Vec<f64>, String> {
        let numbers = find(section, name)?.iter();
        Ok(numbers.map(|bytes| f64::from_le_bytes(*bytes)).collect())
    };
    let fed = reals("CellData", FED)?;
    let coordinates = reals("Points", "")?;
    let nodes = coordinates.chunks_exact(3).map(Vector3::from_column_slice);
    let nodes: Vec<Vector3<f64>> = nodes.collect();
    let force = reals("PointData", WALL_FORCE)?;
    let curvature = reals("PointData", CURVATURE)?;
    let diameter = reals("PointData", DIAMETER)?;
    let mut begin = 0;
    let mut shapes = Vec::new();
    for (end, fed_mm) in find("Lines", "offsets")?.iter().zip(fed) {
        let end = usize::try_from(u64::from_le_bytes(*end)).unwrap_or(usize::MAX);
        let all = [force.len(), curvature.len(), diameter.len(), nodes.len()];
        if end < begin || all.iter().any(|count| end > *count) {
            return Err("no complete polyline in it".to_owned());
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
    let mut wire = shapes.next().ok_or("no polyline in it")?;
    wire.beside = shapes.next().map(Box::new);
    Ok(wire)
}

/// All arrays of packed numbers.
fn arrays(text: &str) -> Result<Vec<Array>, String> {
    let mut reader = Reader::from_str(text);
    let mut section = String::new();
    let mut open: Option<String> = None;
    let mut found = Vec::new();
    loop {
        match reader.read_event().map_err(|e| e.to_string())? {
            Event::Start(element) if element.name().as_ref() == b"DataArray" => {
                open = Some(name_of(&element)?);
            }
            Event::Start(element) => {
                section = String::from_utf8_lossy(element.name().as_ref()).into_owned();
            }
            Event::Text(packed) => {
                if let Some(name) = open.take() {
                    found.push(Array {
                        section: section.clone(),
                        numbers: unpacked(&packed)
                            .ok_or_else(|| format!("damaged numbers of {name} in it"))?,
                        name,
                    });
                }
            }
            Event::Eof => return Ok(found),
            _ => {}
        }
    }
}

/// The name of an array; empty for none.
fn name_of(element: &BytesStart<'_>) -> Result<String, String> {
    let name = element
        .try_get_attribute("Name")
        .map_err(|e| e.to_string())?;
    Ok(name.map_or_else(String::new, |name| {
        String::from_utf8_lossy(&name.value).into_owned()
    }))
}

/// The numbers behind their length in bytes; `None` where they are not as many as that says.
fn unpacked(packed: &[u8]) -> Option<Vec<[u8; 8]>> {
    let bytes = STANDARD.decode(packed).ok()?;
    let (length, rest) = bytes.split_first_chunk::<8>()?;
    let (numbers, left) = rest.as_chunks::<8>();
    let whole = u64::from_le_bytes(*length) == rest.len() as u64 && left.is_empty();
    whole.then(|| numbers.to_vec())
}
