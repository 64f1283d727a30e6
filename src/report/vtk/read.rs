//! Wires and axes read back from the files of an earlier run.

use std::io;
use std::ops::Range;
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
    read(path, Arrays::wire)
}

/// Reads the points of all polylines back that [`super::write_centrelines`] wrote, in mm.
///
/// # Errors
///
/// The failure of a file operation, or a file without polylines.
pub fn read_lines(path: &Path) -> Result<Vec<Vec<Vector3<f64>>>, KeepError> {
    read(path, |arrays| {
        let nodes = arrays.nodes()?;
        let ranges = arrays.lines(nodes.len())?;
        Ok(ranges.into_iter().map(|r| nodes[r].to_vec()).collect())
    })
}

fn read<T>(path: &Path, of: impl Fn(&Arrays) -> Result<T, String>) -> Result<T, KeepError> {
    let text = std::fs::read_to_string(path).map_err(KeepError::at(path))?;
    let found = arrays(&text).and_then(|arrays| of(&Arrays(arrays)));
    found.map_err(|reason| KeepError::at(path)(io::Error::new(io::ErrorKind::InvalidData, reason)))
}

/// An array of a file: where it stands, its name, its packed numbers.
struct Array {
    section: String,
    name: String,
    numbers: Vec<[u8; 8]>,
}

/// The arrays of a file.
struct Arrays(Vec<Array>);

impl Arrays {
    fn find(&self, section: &str, name: &str) -> Result<&[[u8; 8]], String> {
        let mut own = self.0.iter().filter(|a| a.section == section);
        let found = own.find(|a| a.name == name);
        found
            .map(|a| a.numbers.as_slice())
            .ok_or_else(|| format!("no {section} {name} in it").replace("  ", " "))
    }

    fn reals(&self, section: &str, name: &str) -> Result<Vec<f64>, String> {
        let numbers = self.find(section, name)?.iter();
        Ok(numbers.map(|bytes| f64::from_le_bytes(*bytes)).collect())
    }

    fn nodes(&self) -> Result<Vec<Vector3<f64>>, String> {
        let coordinates = self.reals("Points", "")?;
        let nodes = coordinates.chunks_exact(3).map(Vector3::from_column_slice);
        Ok(nodes.collect())
    }

    /// Where each polyline stands among so many points.
    fn lines(&self, points: usize) -> Result<Vec<Range<usize>>, String> {
        let mut begin = 0;
        let mut ranges = Vec::new();
        for end in self.find("Lines", "offsets")? {
            let end = usize::try_from(u64::from_le_bytes(*end)).unwrap_or(usize::MAX);
            if end < begin || end > points {
                return Err("no complete polyline in it".to_owned());
            }
            ranges.push(begin..end);
            begin = end;
        }
        Ok(ranges)
    }

    fn wire(&self) -> Result<WireShape, String> {
        let fed = self.reals("CellData", FED)?;
        let nodes = self.nodes()?;
        let force = self.reals("PointData", WALL_FORCE)?;
        let curvature = self.reals("PointData", CURVATURE)?;
        let diameter = self.reals("PointData", DIAMETER)?;
        let all = [force.len(), curvature.len(), diameter.len()];
        let complete = all.into_iter().fold(nodes.len(), usize::min);
        let lines = self.lines(complete)?.into_iter().zip(fed);
        let mut shapes = lines.map(|(range, fed_mm)| WireShape {
            fed_mm,
            nodes_mm: nodes[range.clone()].to_vec(),
            wall_force_mn: force[range.clone()].to_vec(),
            curvature_per_mm: curvature[range.clone()].to_vec(),
            diameter_mm: diameter[range].to_vec(),
            beside: None,
        });
        let mut wire = shapes.next().ok_or("no polyline in it")?;
        wire.beside = shapes.next().map(Box::new);
        Ok(wire)
    }
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
                let is_packed = attribute(&element, "format")? == "binary";
                open = is_packed.then(|| attribute(&element, "Name")).transpose()?;
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

/// An attribute of an array; empty for none.
fn attribute(element: &BytesStart<'_>, name: &str) -> Result<String, String> {
    let value = element.try_get_attribute(name).map_err(|e| e.to_string())?;
    Ok(value.map_or_else(String::new, |value| {
        String::from_utf8_lossy(&value.value).into_owned()
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::export::ExportedBranch;
    use crate::report::vtk::write_centrelines;

    #[test]
    fn centrelines_read_back_as_they_were() {
        let line = |name: &str, count: u32| ExportedBranch {
            name: name.to_owned(),
            parent: None,
            points: (0..count)
                .map(|i| Vector3::new(f64::from(i), 0.1, -1.0 / f64::from(i + 1)))
                .collect(),
            radii: vec![1.5; count as usize],
        };
        let branches = [line("parent", 5), line("side", 3)];
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("vessel-0000.vtp");
        write_centrelines(&path, "invented", &branches).expect("written");
        let read = read_lines(&path).expect("lines");
        assert_eq!(read, branches.map(|b| b.points));
    }
}
