//! PLY, text and binary of either byte order: the elements `vertex` and `face`.
//!
//! Source: G. Turk, The PLY polygon file format, 1994.

use nalgebra::Vector3;

use super::content::{RawSurface, fan};
use super::limits;
use super::not_a;
use super::numbers::numbers;
use super::words::Words;
use crate::anatomy::error::{At, Checked, Fault};
use crate::anatomy::frame::Frame;
use crate::shown::cut;

/// Most corners of a face.
const CORNERS: usize = 1000;

#[derive(Debug)]
struct Element {
    name: String,
    count: u64,
    properties: Vec<Property>,
}

#[derive(Debug)]
struct Property {
    name: String,
    kind: &'static str,
    /// Type of the length before a list.
    list: Option<&'static str>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Style {
    Text,
    Binary { big_endian: bool },
}

/// Reads a surface.
pub(super) fn read(bytes: &[u8]) -> Checked<RawSurface> {
    if !bytes.starts_with(b"ply") {
        return Err(not_a("a PLY surface", bytes));
    }
    let mut words = Words::new(bytes);
    words.rest_of_line();
    let (style, elements, frame) = head(&mut words)?;
    let mut out = RawSurface {
        frame,
        ..RawSurface::default()
    };
    let mut faces: Vec<Vec<u64>> = Vec::new();
    let mut entry = Entry::default();
    for element in &elements {
        let coordinates: Vec<Option<usize>> = ["x", "y", "z"]
            .iter()
            .map(|axis| element.properties.iter().position(|p| p.name == *axis))
            .collect();
        let corners = element
            .properties
            .iter()
            .position(|p| p.name == "vertex_indices" || p.name == "vertex_index");
        let (is_vertex, is_face) = (element.name == "vertex", element.name == "face");
        if is_vertex {
            limits::at_most("points", element.count, limits::POINTS)?;
        }
        limits::at_most(
            "entries of an element",
            element.count,
            2 * limits::TRIANGLES,
        )?;
        for _ in 0..element.count {
            entry.read(&mut words, style, &element.properties)?;
            if is_vertex {
                let [Some(x), Some(y), Some(z)] = coordinates[..] else {
                    return Err((
                        At::Whole,
                        Fault::Empty {
                            what: "coordinates x, y, z at its vertices",
                        },
                    ));
                };
                let at = |i: usize| entry.values[entry.starts[i]];
                out.points.push(Vector3::new(at(x), at(y), at(z)));
            } else if is_face && let Some(corners) = corners {
                let end = entry.starts.get(corners + 1).copied();
                let list = &entry.values[entry.starts[corners]..end.unwrap_or(entry.values.len())];
                faces.push(list.iter().map(|x| index(*x)).collect());
            }
        }
    }
    for face in &faces {
        fan(face, out.points.len(), &mut out.triangles)?;
    }
    Ok(out)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates; what is no index fails where it is looked up"
)]
fn index(x: f64) -> u64 {
    if x >= 0.0 { x as u64 } else { u64::MAX }
}

fn head(words: &mut Words<'_>) -> Checked<(Style, Vec<Element>, Option<Frame>)> {
    let mut style = None;
    let mut elements: Vec<Element> = Vec::new();
    let mut frame = None;
    loop {
        let at = words.at();
        let wrong = |what: String| (at, Fault::Malformed { what });
        let keyword = words.word("the head of the file, up to end_header,")?;
        match keyword.as_ref() {
            "format" => {
                style = Some(match words.word("the format")?.as_ref() {
                    "ascii" => Style::Text,
                    "binary_little_endian" => Style::Binary { big_endian: false },
                    "binary_big_endian" => Style::Binary { big_endian: true },
                    other => {
                        return Err(wrong(format!("the format {:?} is not known", cut(other))));
                    }
                });
                words.rest_of_line();
            }
            "comment" | "obj_info" => {
                frame = frame.or(Frame::in_comment(&words.rest_of_line()));
            }
            "element" => {
                let name = words.word("the name of an element")?.to_string();
                let count = words.count("the number of entries")?;
                elements.push(Element {
                    name,
                    count,
                    properties: Vec::new(),
                });
            }
            "property" => {
                let mut kind = words.word("a type")?.to_string();
                let mut list = None;
                if kind == "list" {
                    list = Some(xml_type(&words.word("a type")?).ok_or_else(|| {
                        wrong("the length of a list has a type that is not known".into())
                    })?);
                    kind = words.word("a type")?.to_string();
                }
                let kind = xml_type(&kind)
                    .ok_or_else(|| wrong(format!("the type {:?} is not known", cut(kind))))?;
                let name = words.word("the name of a property")?.to_string();
                let element = elements
                    .last_mut()
                    .ok_or_else(|| wrong("a property stands before any element".into()))?;
                element.properties.push(Property { name, kind, list });
            }
            "end_header" => {
                words.rest_of_line();
                let style = style.ok_or_else(|| wrong("the head says no format".into()))?;
                return Ok((style, elements, frame));
            }
            other => {
                return Err(wrong(format!(
                    "the word {other:?} does not belong in the head"
                )));
            }
        }
    }
}

/// The values of one entry of an element, and where each property begins among them.
#[derive(Default)]
struct Entry {
    values: Vec<f64>,
    starts: Vec<usize>,
}

impl Entry {
    fn read(
        &mut self,
        words: &mut Words<'_>,
        style: Style,
        properties: &[Property],
    ) -> Checked<()> {
        self.values.clear();
        self.starts.clear();
        for property in properties {
            self.starts.push(self.values.len());
            let count = match property.list {
                None => 1,
                Some(kind) => {
                    let count = one(words, style, kind)?;
                    if !(0.0..=CORNERS as f64).contains(&count) {
                        return Err((
                            words.at(),
                            Fault::Malformed {
                                what: format!(
                                    "a list has {count} entries, allowed are 0 to {CORNERS}"
                                ),
                            },
                        ));
                    }
                    index(count)
                }
            };
            for _ in 0..count {
                let value = one(words, style, property.kind)?;
                self.values.push(value);
            }
        }
        Ok(())
    }
}

fn one(words: &mut Words<'_>, style: Style, kind: &'static str) -> Checked<f64> {
    let Style::Binary { big_endian } = style else {
        return words.number("an entry");
    };
    let width = match kind {
        "Int8" | "UInt8" => 1,
        "Int16" | "UInt16" => 2,
        "Float64" => 8,
        _ => 4,
    };
    let bytes = words.raw(width, "the entries that are announced")?;
    Ok(numbers(bytes, kind, big_endian)[0])
}

fn xml_type(kind: &str) -> Option<&'static str> {
    Some(match kind {
        "char" | "int8" => "Int8",
        "uchar" | "uint8" => "UInt8",
        "short" | "int16" => "Int16",
        "ushort" | "uint16" => "UInt16",
        "int" | "int32" => "Int32",
        "uint" | "uint32" => "UInt32",
        "float" | "float32" => "Float32",
        "double" | "float64" => "Float64",
        _ => return None,
    })
}
