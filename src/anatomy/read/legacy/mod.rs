//! Legacy VTK files (`.vtk`), text and binary, of file versions 1 to 5: polygonal data, and
//! unstructured grids of lines and faces.
//!
//! Here are the sections of the file; `cells` and `arrays` read what stands in them.
//!
//! Source: the VTK file formats document, simple legacy formats; checked against files that VTK
//! writes.
mod arrays;
mod cells;

use super::content::PolyData;
use super::limits::{self, Budget};
use super::not_a;
use super::words::Words;
use crate::anatomy::error::{Checked, Fault};
use crate::anatomy::frame::Frame;
use crate::shown::cut;

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
                    what: format!("ASCII or BINARY was expected, found {:?}", cut(other)),
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
                self.out.points = self.array(count.saturating_mul(3), &kind, "the points")?;
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
                self.array(count.saturating_mul(4), kind, &name).map(|_| ())
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
                    what: format!("the section {:?} is not one of polygonal data", cut(other)),
                },
            )),
        }
    }

    fn change_home(&mut self, home: Home) -> Checked<()> {
        self.home = home;
        self.count = self.words.count("the number of values")?;
        limits::at_most("values of an array", self.count, limits::POINTS)
    }
}
