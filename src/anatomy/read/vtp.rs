//! VTK XML polygonal data (`.vtp`): ASCII, inline binary, appended raw or base64, each plain or
//! compressed with zlib.
//!
//! Source: the VTK file formats document, XML formats; checked against files that VTK writes.

use std::io::Read;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use flate2::read::ZlibDecoder;
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use super::content::PolyData;
use super::limits::{self, Budget};
use super::not_a;
use super::words::Words;
use crate::anatomy::error::{At, Checked, Fault, whole};
use crate::anatomy::frame::Frame;

const KIND: &str = "VTK XML polygonal data";

/// How the numbers of the whole file are written.
#[derive(Debug, Clone, Copy)]
struct Style {
    big_endian: bool,
    wide_headers: bool,
    compressed: bool,
}

/// One array as the file describes it.
#[derive(Debug)]
struct Array<'a> {
    section: Section,
    name: String,
    kind: String,
    components: usize,
    data: Data<'a>,
    at: At,
}

#[derive(Debug)]
enum Data<'a> {
    Ascii(&'a [u8]),
    Inline(&'a [u8]),
    Appended(usize),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Section {
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
struct Piece<'a> {
    points: u64,
    arrays: Vec<Array<'a>>,
}

/// Where appended data begin, and whether they are raw.
#[derive(Debug, Clone, Copy)]
struct Appended<'a> {
    bytes: &'a [u8],
    raw: bool,
}

/// Reads polygonal data.
pub(super) fn read(bytes: &[u8]) -> Checked<PolyData> {
    let text = bytes.trim_ascii_start();
    let text = text.strip_prefix(b"\xef\xbb\xbf").unwrap_or(text);
    if !text.starts_with(b"<") {
        return Err(not_a(KIND, bytes));
    }
    let (style, pieces, appended) = outline(bytes)?;
    let mut budget = Budget::new();
    let mut out = PolyData::default();
    for piece in &pieces {
        let base = (out.points.len() / 3) as u64;
        add_piece(piece, base, style, appended, &mut budget, &mut out)?;
    }
    Ok(out)
}

/// The arrays of the file with what is needed to decode them.
fn outline(bytes: &[u8]) -> Checked<(Style, Vec<Piece<'_>>, Option<Appended<'_>>)> {
    let mut reader = Reader::from_reader(bytes);
    reader.config_mut().check_end_names = false;
    let mut style = None;
    let mut pieces: Vec<Piece> = Vec::new();
    let mut appended = None;
    let mut section = None;
    loop {
        let position = usize::try_from(reader.buffer_position()).unwrap_or(usize::MAX);
        let at = At::Line(line_of(bytes, position));
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

fn line_of(bytes: &[u8], position: usize) -> usize {
    let before = &bytes[..position.min(bytes.len())];
    before.iter().filter(|b| **b == b'\n').count() + 1
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

fn add_piece(
    piece: &Piece<'_>,
    base: u64,
    style: Style,
    appended: Option<Appended<'_>>,
    budget: &mut Budget,
    out: &mut PolyData,
) -> Checked<()> {
    limits::at_most("points", base.saturating_add(piece.points), limits::POINTS)?;
    let decode = |array: &Array<'_>, budget: &mut Budget| {
        values(array, style, appended, budget).map_err(|(at, fault)| match at {
            At::Whole => (array.at, fault),
            _ => (at, fault),
        })
    };
    let cells = |section: Section, budget: &mut Budget| -> Checked<Vec<Vec<u64>>> {
        let of = |name: &str| {
            piece
                .arrays
                .iter()
                .find(|a| a.section == section && a.name == name)
        };
        let (Some(connectivity), Some(offsets)) = (of("connectivity"), of("offsets")) else {
            return Ok(Vec::new());
        };
        let ids = decode(connectivity, budget)?;
        let ends = decode(offsets, budget)?;
        split(&ids, &ends, base).map_err(|fault| (connectivity.at, fault))
    };
    let verts = cells(Section::Verts, budget)?;
    let lines = cells(Section::Lines, budget)?;
    if !cells(Section::Strips, budget)?.is_empty() {
        return whole(Fault::Unsupported {
            what: "triangle strips".into(),
            allowed: "polygons in place of strips",
        });
    }
    let polygons = cells(Section::Polys, budget)?;
    let mut count = 0;
    for array in &piece.arrays {
        match array.section {
            Section::Points => {
                let coordinates = decode(array, budget)?;
                count = coordinates.len();
                out.points.extend(coordinates);
            }
            Section::PointData if array.kind != "String" => {
                if array.components == 1 {
                    let numbers = decode(array, budget)?;
                    match out.point_arrays.iter_mut().find(|(n, _)| *n == array.name) {
                        Some((_, all)) => all.extend(numbers),
                        None => out.point_arrays.push((array.name.clone(), numbers)),
                    }
                } else if !out.wide_arrays.contains(&array.name) {
                    out.wide_arrays.push(array.name.clone());
                }
            }
            Section::CellData if array.kind == "String" => {
                let texts = texts(&decode(array, budget)?);
                match out.cell_texts.iter_mut().find(|(n, _)| *n == array.name) {
                    Some((_, all)) => all.extend(texts),
                    None => out.cell_texts.push((array.name.clone(), texts)),
                }
            }
            _ => {}
        }
    }
    if count as u64 != 3 * piece.points {
        return whole(Fault::Truncated {
            what: format!(
                "{} points are announced, {count} coordinates are there",
                piece.points
            ),
        });
    }
    out.vertex_cells += verts.len();
    out.lines.extend(lines);
    out.polygons.extend(polygons);
    out.frame = out.frame.or_else(|| {
        let named = |a: &&Array<'_>| a.name.eq_ignore_ascii_case("space");
        let space = piece.arrays.iter().find(named)?;
        let Data::Ascii(text) = space.data else {
            return None;
        };
        Frame::in_comment(&format!("SPACE={}", String::from_utf8_lossy(text)))
    });
    Ok(())
}

/// Cuts a list of point numbers at the ends of the cells.
fn split(ids: &[f64], ends: &[f64], base: u64) -> Result<Vec<Vec<u64>>, Fault> {
    let whole_number = |x: f64| -> Result<u64, Fault> {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a whole number of that range"
        )]
        let n = x as u64;
        if (0.0..9e15).contains(&x) && (x - n as f64).abs() <= 0.0 {
            return Ok(n);
        }
        Err(Fault::Malformed {
            what: format!("a number of a point is {x}, allowed are whole numbers from 0"),
        })
    };
    let mut cells = Vec::with_capacity(ends.len().min(1 << 20));
    let mut from = 0;
    for &end in ends {
        let to = usize::try_from(whole_number(end)?).unwrap_or(usize::MAX);
        let cell = ids.get(from..to).ok_or_else(|| Fault::Malformed {
            what: format!(
                "a cell runs from entry {from} to {to} of {} point numbers",
                ids.len()
            ),
        })?;
        cells.push(
            cell.iter()
                .map(|&id| whole_number(id).map(|n| n.saturating_add(base)))
                .collect::<Result<_, _>>()?,
        );
        from = to;
    }
    Ok(cells)
}

/// Texts written as codes of characters, each ending in 0.
fn texts(codes: &[f64]) -> Vec<String> {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the cast saturates"
    )]
    let bytes: Vec<u8> = codes.iter().map(|c| *c as u8).collect();
    bytes
        .split(|b| *b == 0)
        .map(|t| String::from_utf8_lossy(t).into_owned())
        .collect()
}

/// The numbers of an array.
fn values(
    array: &Array<'_>,
    style: Style,
    appended: Option<Appended<'_>>,
    budget: &mut Budget,
) -> Checked<Vec<f64>> {
    let raw = match array.data {
        Data::Ascii(text) => return ascii(text, array.at, budget),
        Data::Inline(text) => unpack(&Stream::Base64(text), style, budget)?,
        Data::Appended(offset) => {
            let Some(appended) = appended else {
                return whole(Fault::Truncated {
                    what: "the appended data are missing".into(),
                });
            };
            let bytes = appended.bytes.get(offset..).ok_or_else(|| {
                (
                    At::Whole,
                    Fault::Truncated {
                        what: format!("the appended data end before offset {offset}"),
                    },
                )
            })?;
            if appended.raw {
                unpack(&Stream::Raw(bytes), style, budget)?
            } else {
                unpack(&Stream::Base64(bytes), style, budget)?
            }
        }
    };
    let size = width(&array.kind)?;
    budget.take(8 * (raw.len() / size) as u64)?;
    Ok(numbers(&raw, &array.kind, style.big_endian))
}

fn ascii(text: &[u8], at: At, budget: &mut Budget) -> Checked<Vec<f64>> {
    let mut words = Words::new(text);
    let mut out = Vec::new();
    budget.take(4 * text.len() as u64)?;
    let from = match at {
        At::Line(line) => line,
        _ => 1,
    };
    while words.peek().is_some() {
        let number = words
            .number("an entry of an array")
            .map_err(|(at, f)| match at {
                At::Line(line) => (At::Line(from + line), f),
                at => (at, f),
            })?;
        out.push(number);
    }
    Ok(out)
}

/// Bytes of an array before and after they are decoded from base64.
enum Stream<'a> {
    Base64(&'a [u8]),
    Raw(&'a [u8]),
}

impl Stream<'_> {
    /// `count` bytes from `from` on, and how many characters or bytes that took (base64: with its
    /// padding).
    fn bytes(&self, from: usize, count: usize) -> Checked<(std::borrow::Cow<'_, [u8]>, usize)> {
        let short = |left: usize| {
            (
                At::Whole,
                Fault::Truncated {
                    what: format!("an array needs {count} bytes, {left} are left"),
                },
            )
        };
        match self {
            Self::Raw(all) => {
                let left = all.get(from..).unwrap_or_default();
                let taken = left.get(..count).ok_or_else(|| short(left.len()))?;
                Ok((taken.into(), count))
            }
            Self::Base64(all) => {
                let left = all.get(from..).unwrap_or_default();
                let characters = count.div_ceil(3).saturating_mul(4);
                let taken = left
                    .get(..characters)
                    .ok_or_else(|| short(left.len() / 4 * 3))?;
                let decoded = STANDARD.decode(taken).map_err(|error| {
                    (
                        At::Whole,
                        Fault::Malformed {
                            what: format!("an array is not valid base64: {error}"),
                        },
                    )
                })?;
                if decoded.len() < count {
                    return Err(short(decoded.len()));
                }
                Ok((decoded[..count].to_vec().into(), characters))
            }
        }
    }
}

/// The raw bytes of an array behind its header.
fn unpack(stream: &Stream<'_>, style: Style, budget: &mut Budget) -> Checked<Vec<u8>> {
    let word = if style.wide_headers { 8 } else { 4 };
    let entry = |bytes: &[u8], i: usize| -> u64 {
        let part = &bytes[i * word..(i + 1) * word];
        let fold = |sum: u64, b: &u8| (sum << 8) | u64::from(*b);
        if style.big_endian {
            part.iter().fold(0, fold)
        } else {
            part.iter().rev().fold(0, fold)
        }
    };
    let size_of = |n: u64| usize::try_from(n).unwrap_or(usize::MAX);
    if !style.compressed {
        let (head, characters) = stream.bytes(0, word)?;
        let count = entry(&head, 0);
        budget.take(count)?;
        if let Stream::Base64(text) = stream
            && text.get(characters - 1) != Some(&b'=')
        {
            // Header and data were encoded in one go.
            let (both, _) = stream.bytes(0, word + size_of(count))?;
            return Ok(both[word..].to_vec());
        }
        let from = if matches!(stream, Stream::Raw(_)) {
            word
        } else {
            characters
        };
        return Ok(stream.bytes(from, size_of(count))?.0.into_owned());
    }
    let (head, _) = stream.bytes(0, 3 * word)?;
    let (blocks, block_size, last_size) = (entry(&head, 0), entry(&head, 1), entry(&head, 2));
    if blocks == 0 {
        return Ok(Vec::new());
    }
    budget.take(blocks.saturating_mul(word as u64))?;
    budget.take(blocks.saturating_mul(block_size))?;
    let (head, mut from) = stream.bytes(0, word * (3 + size_of(blocks)))?;
    let sizes: Vec<usize> = (0..size_of(blocks))
        .map(|i| size_of(entry(&head, 3 + i)))
        .collect();
    let total = sizes.iter().fold(0_usize, |s, n| s.saturating_add(*n));
    // All blocks were encoded in one go.
    let (packed, _) = match stream {
        Stream::Raw(_) => stream.bytes(from, total)?,
        Stream::Base64(_) => {
            if from % 4 != 0 {
                from += 4 - from % 4;
            }
            stream.bytes(from, total)?
        }
    };
    let mut out = Vec::new();
    let mut at = 0;
    for (i, size) in sizes.iter().enumerate() {
        let last = i + 1 == sizes.len() && last_size > 0;
        let expected = if last { last_size } else { block_size };
        let before = out.len() as u64;
        let mut decoder = ZlibDecoder::new(&packed[at..at + size]).take(expected + 1);
        decoder.read_to_end(&mut out).map_err(|error| {
            (
                At::Whole,
                Fault::Malformed {
                    what: format!("compressed block {} cannot be unpacked: {error}", i + 1),
                },
            )
        })?;
        let found = out.len() as u64 - before;
        if found != expected {
            return whole(Fault::Malformed {
                what: format!(
                    "compressed block {} unpacks to {} bytes, announced are {expected}",
                    i + 1,
                    if found > expected {
                        "more".to_owned()
                    } else {
                        found.to_string()
                    }
                ),
            });
        }
        at += size;
    }
    Ok(out)
}

/// Bytes of one number of a type.
fn width(kind: &str) -> Checked<usize> {
    match kind {
        "Int8" | "UInt8" | "String" => Ok(1),
        "Int16" | "UInt16" => Ok(2),
        "Int32" | "UInt32" | "Float32" => Ok(4),
        "Int64" | "UInt64" | "Float64" => Ok(8),
        _ => whole(Fault::Unsupported {
            what: format!("the number type \"{kind}\""),
            allowed: "Int8 to UInt64, Float32 or Float64",
        }),
    }
}

/// Bytes as numbers; a rest that is no whole number is left out.
pub(super) fn numbers(bytes: &[u8], kind: &str, big_endian: bool) -> Vec<f64> {
    fn all<const N: usize>(bytes: &[u8], big: bool, number: fn([u8; N]) -> f64) -> Vec<f64> {
        let (parts, _) = bytes.as_chunks::<N>();
        parts
            .iter()
            .map(|part| {
                let mut part = *part;
                if big {
                    part.reverse();
                }
                number(part)
            })
            .collect()
    }
    #[expect(
        clippy::cast_precision_loss,
        reason = "numbers of points are below 2^53"
    )]
    match kind {
        "Int8" => all::<1>(bytes, big_endian, |b| f64::from(i8::from_le_bytes(b))),
        "Int16" => all::<2>(bytes, big_endian, |b| f64::from(i16::from_le_bytes(b))),
        "UInt16" => all::<2>(bytes, big_endian, |b| f64::from(u16::from_le_bytes(b))),
        "Int32" => all::<4>(bytes, big_endian, |b| f64::from(i32::from_le_bytes(b))),
        "UInt32" => all::<4>(bytes, big_endian, |b| f64::from(u32::from_le_bytes(b))),
        "Int64" => all::<8>(bytes, big_endian, |b| i64::from_le_bytes(b) as f64),
        "UInt64" => all::<8>(bytes, big_endian, |b| u64::from_le_bytes(b) as f64),
        "Float32" => all::<4>(bytes, big_endian, |b| f64::from(f32::from_le_bytes(b))),
        "Float64" => all::<8>(bytes, big_endian, f64::from_le_bytes),
        _ => bytes.iter().map(|b| f64::from(*b)).collect(),
    }
}
