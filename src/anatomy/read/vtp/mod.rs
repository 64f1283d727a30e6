//! VTK XML polygonal data (`.vtp`): ASCII, inline binary, appended raw or base64, each plain or
//! compressed with zlib.
//!
//! `outline` finds the arrays, `packed` unpacks binary ones; here they become polygonal data.
//!
//! Source: the VTK file formats document, XML formats; checked against files that VTK writes.
mod outline;
mod packed;

use super::content::PolyData;
use super::limits::{self, Budget};
use super::not_a;
use super::numbers::{numbers, width};
use super::words::Words;
use crate::anatomy::error::{At, Checked, Fault, whole};
use crate::anatomy::frame::Frame;
use outline::{Appended, Array, Data, Piece, Section, Style, outline};
use packed::{Stream, unpack};

const KIND: &str = "VTK XML polygonal data";

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
            Section::CellData if array.kind != "String" && array.components == 1 => {
                let numbers = decode(array, budget)?;
                match out.cell_arrays.iter_mut().find(|(n, _)| *n == array.name) {
                    Some((_, all)) => all.extend(numbers),
                    None => out.cell_arrays.push((array.name.clone(), numbers)),
                }
            }
            Section::CellData | Section::PointData if array.kind == "String" => {
                let texts = texts(&decode(array, budget)?);
                let home = if array.section == Section::CellData {
                    &mut out.cell_texts
                } else {
                    &mut out.point_texts
                };
                match home.iter_mut().find(|(n, _)| *n == array.name) {
                    Some((_, all)) => all.extend(texts),
                    None => home.push((array.name.clone(), texts)),
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
    let bytes = bytes.strip_suffix(&[0]).unwrap_or(&bytes);
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
