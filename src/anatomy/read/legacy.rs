//! Legacy VTK files (`.vtk`), text and binary, of file versions 1 to 5: polygonal data, and
//! unstructured grids of lines and faces.
//!
//! Source: the VTK file formats document, simple legacy formats; checked against files that VTK
//! writes.

use super::content::PolyData;
use super::limits::{self, Budget};
use super::not_a;
use super::vtp::numbers;
use super::words::Words;
use crate::anatomy::error::{Checked, Fault};
use crate::anatomy::frame::Frame;

const KIND: &str = "a legacy VTK file with polygonal data";

/// To which cells or points the arrays that follow belong.
#[derive(Clone, Copy, PartialEq)]
enum Home {
    Points,
    Cells,
    Field,
}

struct Legacy<'a> {
    words: Words<'a>,
    binary: bool,
    budget: Budget,
    out: PolyData,
    home: Home,
    count: u64,
    /// Cells of an unstructured grid, until their types are known.
    mixed: Vec<Vec<u64>>,
}

/// Reads polygonal data.
pub(super) fn read(bytes: &[u8]) -> Checked<PolyData> {
    if !bytes.starts_with(b"# vtk DataFile") {
        return Err(not_a(KIND, bytes));
    }
    let mut words = Words::new(bytes);
    words.rest_of_line();
    let title = words.rest_of_line();
    let binary = match words.word("ASCII or BINARY")?.to_ascii_uppercase().as_str() {
        "ASCII" => false,
        "BINARY" => true,
        other => {
            return Err((
                words.at(),
                Fault::Malformed {
                    what: format!("ASCII or BINARY was expected, found {other:?}"),
                },
            ));
        }
    };
    let mut legacy = Legacy {
        words,
        binary,
        budget: Budget::new(),
        out: PolyData {
            frame: Frame::in_comment(&title),
            ..PolyData::default()
        },
        home: Home::Field,
        count: 0,
        mixed: Vec::new(),
    };
    while let Some(word) = legacy.words.next_word() {
        legacy.section(&word.to_ascii_uppercase())?;
    }
    Ok(legacy.out)
}

impl Legacy<'_> {
    fn section(&mut self, word: &str) -> Checked<()> {
        match word {
            "DATASET" => {
                let kind = self.words.word("the kind of the data set")?;
                if !["POLYDATA", "UNSTRUCTURED_GRID"].contains(&kind.to_ascii_uppercase().as_str())
                {
                    return Err((
                        self.words.at(),
                        Fault::WrongType {
                            expected: KIND,
                            found: format!("DATASET {kind}"),
                        },
                    ));
                }
                Ok(())
            }
            "POINTS" => {
                let count = self.words.count("the number of points")?;
                limits::at_most("points", count, limits::POINTS)?;
                let kind = self.words.word("the type of the points")?.to_string();
                self.out.points = self.array(3 * count, &kind, "the points")?;
                Ok(())
            }
            "VERTICES" => {
                let cells = self.cells()?;
                self.out.vertex_cells = cells.len();
                Ok(())
            }
            "LINES" => {
                self.out.lines = self.cells()?;
                Ok(())
            }
            "POLYGONS" => {
                self.out.polygons = self.cells()?;
                Ok(())
            }
            "TRIANGLE_STRIPS" => Err((
                self.words.at(),
                Fault::Unsupported {
                    what: "triangle strips".into(),
                    allowed: "polygons in place of strips",
                },
            )),
            "CELLS" => {
                self.mixed = self.cells()?;
                Ok(())
            }
            "CELL_TYPES" => self.cell_types(),
            "POINT_DATA" => self.change_home(Home::Points),
            "CELL_DATA" => self.change_home(Home::Cells),
            "FIELD" => {
                self.words.word("the name of a field")?;
                let arrays = self.words.count("the number of arrays")?;
                for _ in 0..arrays {
                    self.field_array()?;
                }
                Ok(())
            }
            "SCALARS" => self.scalars(),
            "LOOKUP_TABLE" => {
                let name = self.words.word("the name of a table")?.to_string();
                let count = self.words.count("the size of a table")?;
                let kind = if self.binary {
                    "unsigned_char"
                } else {
                    "float"
                };
                self.array(4 * count, kind, &name).map(|_| ())
            }
            "VECTORS" | "NORMALS" => self.wide(3),
            "TENSORS" => self.wide(9),
            "TEXTURE_COORDINATES" => {
                let name = self.words.word("the name of an array")?.to_string();
                let width = self.words.count("the number of components")?;
                let kind = self.words.word("the type of an array")?.to_string();
                self.keep(&name, width, &kind)
            }
            "METADATA" => {
                // Ends at an empty line.
                self.words.rest_of_line();
                while !self.words.rest_of_line().trim().is_empty() {}
                Ok(())
            }
            other => Err((
                self.words.at(),
                Fault::Malformed {
                    what: format!("the section {other:?} is not one of polygonal data"),
                },
            )),
        }
    }

    /// Sorts the cells of an unstructured grid by their type; those without length or area are
    /// left out, volumes are refused.
    fn cell_types(&mut self) -> Checked<()> {
        let count = self.words.count("the number of cell types")?;
        limits::at_most("cells", count, limits::LINES)?;
        let types = self.array(count, "int", "the cell types")?;
        for (cell, kind) in std::mem::take(&mut self.mixed).into_iter().zip(types) {
            match number_of(kind) {
                1 | 2 => self.out.vertex_cells += 1,
                3 | 4 => self.out.lines.push(cell),
                5 | 7 | 9 => self.out.polygons.push(cell),
                other => {
                    return Err((
                        self.words.at(),
                        Fault::Unsupported {
                            what: format!("cells of type {other}"),
                            allowed: "lines (3, 4), triangles (5), polygons (7) and squares (9)",
                        },
                    ));
                }
            }
        }
        Ok(())
    }

    fn change_home(&mut self, home: Home) -> Checked<()> {
        self.home = home;
        self.count = self.words.count("the number of values")?;
        limits::at_most("values of an array", self.count, limits::POINTS)
    }

    fn scalars(&mut self) -> Checked<()> {
        let name = self.words.word("the name of an array")?.to_string();
        let kind = self.words.word("the type of an array")?.to_string();
        let mut width = 1;
        while let Some(word) = self.words.peek() {
            if let Ok(stated) = word.parse::<u64>() {
                width = stated;
                self.words.next_word();
            } else {
                break;
            }
            if !self.binary {
                break;
            }
        }
        if self
            .words
            .peek()
            .is_some_and(|w| w.eq_ignore_ascii_case("LOOKUP_TABLE"))
        {
            self.words.next_word();
            self.words.word("the name of a table")?;
        }
        self.keep(&name, width, &kind)
    }

    fn wide(&mut self, width: u64) -> Checked<()> {
        let name = self.words.word("the name of an array")?.to_string();
        let kind = self.words.word("the type of an array")?.to_string();
        self.keep(&name, width, &kind)
    }

    fn field_array(&mut self) -> Checked<()> {
        while self
            .words
            .peek()
            .is_some_and(|w| w.eq_ignore_ascii_case("METADATA"))
        {
            self.words.next_word();
            self.section("METADATA")?;
        }
        let name = self.words.word("the name of an array")?.to_string();
        let width = self.words.count("the number of components")?;
        let count = self.words.count("the number of values")?;
        limits::at_most("values of an array", count, limits::POINTS)?;
        let kind = self.words.word("the type of an array")?.to_string();
        if kind.eq_ignore_ascii_case("string") {
            let texts = self.texts(count.saturating_mul(width))?;
            if self.home == Home::Cells {
                self.out.cell_texts.push((decoded(&name), texts));
            }
            return Ok(());
        }
        let before = std::mem::replace(&mut self.count, count);
        let kept = self.keep(&name, width, &kind);
        self.count = before;
        kept
    }

    /// Texts: a line each in text files; with a length before each in binary ones.
    fn texts(&mut self, count: u64) -> Checked<Vec<String>> {
        limits::at_most("texts", count, limits::POINTS)?;
        let mut texts = Vec::new();
        self.words.rest_of_line();
        for _ in 0..count {
            if self.binary {
                let head = self.words.raw(1, "a text")?[0];
                // The two highest bits say how many bytes of length follow.
                let length = match head >> 6 {
                    3 => usize::from(head & 0x3f),
                    2 => {
                        usize::from(head & 0x3f) << 8 | usize::from(self.words.raw(1, "a text")?[0])
                    }
                    _ => {
                        return Err((
                            self.words.at(),
                            Fault::Malformed {
                                what: "a text is longer than 16383 characters".into(),
                            },
                        ));
                    }
                };
                let text = self.words.raw(length, "a text")?;
                texts.push(String::from_utf8_lossy(text).into_owned());
            } else {
                texts.push(decoded(self.words.rest_of_line().trim()));
            }
        }
        Ok(texts)
    }

    /// Reads an array and keeps it if it belongs to the points.
    fn keep(&mut self, name: &str, width: u64, kind: &str) -> Checked<()> {
        let count = self.count.saturating_mul(width);
        let values = self.array(count, kind, name)?;
        if self.home == Home::Points {
            let name = decoded(name);
            if width == 1 {
                self.out.point_arrays.push((name, values));
            } else {
                self.out.wide_arrays.push(name);
            }
        }
        Ok(())
    }

    /// Cells: counted lists, or from version 5 on offsets and connectivity.
    fn cells(&mut self) -> Checked<Vec<Vec<u64>>> {
        let first = self.words.count("the number of cells")?;
        let second = self.words.count("the number of entries")?;
        limits::at_most("cells", first, limits::LINES)?;
        limits::at_most("entries of cells", second, 8 * limits::POINTS)?;
        let is_new = self
            .words
            .peek()
            .is_some_and(|w| w.eq_ignore_ascii_case("OFFSETS"));
        if is_new {
            self.words.next_word();
            let kind = self.words.word("the type of the offsets")?.to_string();
            let offsets = self.array(first, &kind, "the offsets")?;
            let word = self.words.word("CONNECTIVITY")?;
            if !word.eq_ignore_ascii_case("CONNECTIVITY") {
                return Err((
                    self.words.at(),
                    Fault::Malformed {
                        what: format!("CONNECTIVITY was expected, found {word:?}"),
                    },
                ));
            }
            let kind = self.words.word("the type of the connectivity")?.to_string();
            let ids = self.array(second, &kind, "the connectivity")?;
            return offsets
                .windows(2)
                .map(|pair| self.cell(&ids, number_of(pair[0]), number_of(pair[1])))
                .collect();
        }
        let entries = self.array(second, "int", "the cells")?;
        let mut cells = Vec::new();
        let mut at = 0;
        for _ in 0..first {
            let size = entries.get(at).map_or(usize::MAX, |n| number_of(*n));
            cells.push(self.cell(&entries, at + 1, (at + 1).saturating_add(size))?);
            at += 1 + size;
        }
        Ok(cells)
    }

    fn cell(&self, ids: &[f64], from: usize, to: usize) -> Checked<Vec<u64>> {
        let cell = ids.get(from..to).ok_or_else(|| {
            (
                self.words.at(),
                Fault::Malformed {
                    what: format!("a cell runs from entry {from} to {to} of {}", ids.len()),
                },
            )
        })?;
        Ok(cell.iter().map(|id| number_of(*id) as u64).collect())
    }

    /// `count` numbers of a type.
    fn array(&mut self, count: u64, kind: &str, what: &str) -> Checked<Vec<f64>> {
        let kind = xml_type(kind).ok_or_else(|| {
            (
                self.words.at(),
                Fault::Unsupported {
                    what: format!("the number type \"{kind}\""),
                    allowed: "char to long, vtktypeint64, float or double",
                },
            )
        })?;
        self.budget.take(count.saturating_mul(8))?;
        let count = usize::try_from(count).unwrap_or(usize::MAX);
        if self.binary {
            self.words.rest_of_line();
            let width = match kind {
                "Int8" | "UInt8" => 1,
                "Int16" | "UInt16" => 2,
                "Int32" | "UInt32" | "Float32" => 4,
                _ => 8,
            };
            let bytes = self.words.raw(count.saturating_mul(width), what)?;
            return Ok(numbers(bytes, kind, true));
        }
        let mut values = Vec::new();
        for _ in 0..count {
            values.push(self.words.number(what)?);
        }
        Ok(values)
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates; a number that was no index fails where it is looked up"
)]
fn number_of(x: f64) -> usize {
    if x >= 0.0 { x as usize } else { usize::MAX }
}

/// The XML name of a legacy type.
fn xml_type(kind: &str) -> Option<&'static str> {
    Some(match kind.to_ascii_lowercase().as_str() {
        "char" | "signed_char" => "Int8",
        "unsigned_char" => "UInt8",
        "short" => "Int16",
        "unsigned_short" => "UInt16",
        "int" => "Int32",
        "unsigned_int" => "UInt32",
        "long" | "vtktypeint64" | "vtkidtype" => "Int64",
        "unsigned_long" | "vtktypeuint64" => "UInt64",
        "float" => "Float32",
        "double" => "Float64",
        _ => return None,
    })
}

/// A name whose special characters are written as %20 and the like.
fn decoded(name: &str) -> String {
    let mut out = Vec::new();
    let bytes = name.as_bytes();
    let mut i = 0;
    while i < bytes.len() {
        let code = bytes
            .get(i + 1..i + 3)
            .and_then(|hex| std::str::from_utf8(hex).ok())
            .and_then(|hex| u8::from_str_radix(hex, 16).ok());
        match code {
            Some(code) if bytes[i] == b'%' => {
                out.push(code);
                i += 3;
            }
            _ => {
                out.push(bytes[i]);
                i += 1;
            }
        }
    }
    String::from_utf8_lossy(&out).into_owned()
}
