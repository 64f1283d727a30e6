//! What a VTK XML file says about itself: how its numbers are written, its pieces and their
//! arrays, without decoding any.

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use super::KIND;
use crate::anatomy::error::{At, Checked, Fault, whole};
use crate::anatomy::read::not_a;

/// How the numbers of the whole file are written.
#[derive(Debug, Clone, Copy)]
pub(super) struct Style {
    pub big_endian: bool,
    pub wide_headers: bool,
    pub compressed: bool,
}

/// One array as the file describes it.
#[derive(Debug)]
pub(super) struct Array<'a> {
    pub section: Section,
    pub name: String,
    pub kind: String,
    pub components: usize,
    pub data: Data<'a>,
    pub at: At,
}

#[derive(Debug)]
pub(super) enum Data<'a> {
    Ascii(&'a [u8]),
    Inline(&'a [u8]),
    Appended(usize),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Section {
    Points,
    PointData,
    CellData,
    FieldData,
    Verts,
    Lines,
    Strips,
    Polys,
}

#[derive(Debug, Default)]
pub(super) struct Piece<'a> {
    pub points: u64,
    pub arrays: Vec<Array<'a>>,
}

/// Where appended data begin, and whether they are raw.
#[derive(Debug, Clone, Copy)]
pub(super) struct Appended<'a> {
    pub bytes: &'a [u8],
    pub raw: bool,
}

/// The arrays of the file with what is needed to decode them.
pub(super) fn outline(bytes: &[u8]) -> Checked<(Style, Vec<Piece<'_>>, Option<Appended<'_>>)> {
    let mut reader = Reader::from_reader(bytes);
    reader.config_mut().check_end_names = false;
    let mut style = None;
    let mut pieces: Vec<Piece> = Vec::new();
    let mut appended = None;
    let mut section = None;
    let (mut line, mut counted) = (1, 0);
    loop {
        let position = usize::try_from(reader.buffer_position()).unwrap_or(usize::MAX);
        let passed = bytes.get(counted..position).unwrap_or_default();
        line += passed.iter().filter(|b| **b == b'\n').count();
        counted = counted.max(position);
        let at = At::Line(line);
        let event = reader.read_event().map_err(|error| {
            (
                at,
                Fault::Malformed {
                    what: format!("not well-formed XML: {error}"),
                },
            )
        })?;
        let (start, empty) = match event {
            Event::Eof => break,
            Event::Start(start) => (start, false),
            Event::Empty(start) => (start, true),
            _ => continue,
        };
        match start.name().as_ref() {
            b"VTKFile" => style = Some(style_of(&start, at)?),
            b"Piece" => pieces.push(Piece {
                points: attribute(&start, "NumberOfPoints")
                    .and_then(|v| v.trim().parse().ok())
                    .unwrap_or(0),
                arrays: Vec::new(),
            }),
            b"Points" => section = Some(Section::Points),
            b"PointData" => section = Some(Section::PointData),
            b"CellData" => section = Some(Section::CellData),
            b"FieldData" => section = Some(Section::FieldData),
            b"Verts" => section = Some(Section::Verts),
            b"Lines" => section = Some(Section::Lines),
            b"Strips" => section = Some(Section::Strips),
            b"Polys" => section = Some(Section::Polys),
            b"DataArray" | b"Array" => {
                let data = data_of(&start, empty, &mut reader, bytes, at)?;
                if let (Some(section), Some(piece)) = (section, pieces.last_mut())
                    && section != Section::FieldData
                {
                    piece.arrays.push(Array {
                        section,
                        name: attribute(&start, "Name").unwrap_or_default(),
                        kind: attribute(&start, "type").unwrap_or_default(),
                        components: attribute(&start, "NumberOfComponents")
                            .and_then(|v| v.trim().parse().ok())
                            .unwrap_or(1),
                        data,
                        at,
                    });
                }
            }
            b"AppendedData" => {
                let raw = attribute(&start, "encoding").is_some_and(|e| e == "raw");
                let from = usize::try_from(reader.buffer_position()).unwrap_or(bytes.len());
                let rest = bytes.get(from..).unwrap_or_default();
                let mark = rest.iter().position(|b| *b == b'_').ok_or_else(|| {
                    (
                        at,
                        Fault::Truncated {
                            what: "the appended data have no beginning".into(),
                        },
                    )
                })?;
                appended = Some(Appended {
                    bytes: &rest[mark + 1..],
                    raw,
                });
                break;
            }
            _ => {}
        }
    }
    let style = style.ok_or_else(|| not_a(KIND, bytes))?;
    if pieces.is_empty() {
        return whole(Fault::Truncated {
            what: "there is no piece of polygonal data in it".into(),
        });
    }
    Ok((style, pieces, appended))
}

fn attribute(start: &BytesStart<'_>, name: &str) -> Option<String> {
    let found = start.try_get_attribute(name).ok()??;
    Some(String::from_utf8_lossy(&found.value).into_owned())
}

fn style_of(start: &BytesStart<'_>, at: At) -> Checked<Style> {
    let kind = attribute(start, "type").unwrap_or_default();
    if kind != "PolyData" {
        return Err((
            at,
            Fault::WrongType {
                expected: KIND,
                found: format!("VTKFile of type {kind}"),
            },
        ));
    }
    let compressor = attribute(start, "compressor").unwrap_or_default();
    if !compressor.is_empty() && !compressor.contains("ZLib") {
        return Err((
            at,
            Fault::Unsupported {
                what: format!("the compressor {compressor}"),
                allowed: "zlib compression or none",
            },
        ));
    }
    Ok(Style {
        big_endian: attribute(start, "byte_order").is_some_and(|o| o == "BigEndian"),
        wide_headers: attribute(start, "header_type").is_some_and(|h| h == "UInt64"),
        compressed: !compressor.is_empty(),
    })
}

/// The data of an array; of an inline one the reader is moved behind its text.
fn data_of<'a>(
    start: &BytesStart<'_>,
    empty: bool,
    reader: &mut Reader<&'a [u8]>,
    bytes: &'a [u8],
    at: At,
) -> Checked<Data<'a>> {
    let format = attribute(start, "format").unwrap_or_else(|| "ascii".into());
    if format == "appended" {
        let offset = attribute(start, "offset").and_then(|o| o.trim().parse().ok());
        return offset.map(Data::Appended).ok_or_else(|| {
            (
                at,
                Fault::Malformed {
                    what: "an appended array has no offset".into(),
                },
            )
        });
    }
    let from = usize::try_from(reader.buffer_position()).unwrap_or(bytes.len());
    let rest = bytes.get(from..).unwrap_or_default();
    let length = if empty {
        0
    } else {
        rest.iter().position(|b| *b == b'<').ok_or_else(|| {
            (
                at,
                Fault::Truncated {
                    what: "an array has no end".into(),
                },
            )
        })?
    };
    let text = rest[..length].trim_ascii();
    match format.as_str() {
        "ascii" => Ok(Data::Ascii(text)),
        "binary" => Ok(Data::Inline(text)),
        other => Err((
            at,
            Fault::Unsupported {
                what: format!("the array format \"{other}\""),
                allowed: "ascii, binary or appended arrays",
            },
        )),
    }
}
