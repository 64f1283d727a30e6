//! Arrays of a legacy VTK file: numbers and texts, at points or cells.

use super::{Home, Legacy};
use crate::anatomy::error::{Checked, Fault};
use crate::anatomy::read::limits;
use crate::anatomy::read::numbers::{numbers, width};

impl Legacy<'_> {
    pub(super) fn scalars(&mut self) -> Checked<()> {
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

    pub(super) fn wide(&mut self, width: u64) -> Checked<()> {
        let name = self.words.word("the name of an array")?.to_string();
        let kind = self.words.word("the type of an array")?.to_string();
        self.keep(&name, width, &kind)
    }

    pub(super) fn field_array(&mut self) -> Checked<()> {
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
            match self.home {
                Home::Cells => self.out.cell_texts.push((decoded(&name), texts)),
                Home::Points => self.out.point_texts.push((decoded(&name), texts)),
                Home::Field => {}
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

    /// Reads an array and keeps it if it belongs to the points or is one of single numbers at the
    /// cells.
    pub(super) fn keep(&mut self, name: &str, width: u64, kind: &str) -> Checked<()> {
        let count = self.count.saturating_mul(width);
        let values = self.array(count, kind, name)?;
        if self.home == Home::Points {
            let name = decoded(name);
            if width == 1 {
                self.out.point_arrays.push((name, values));
            } else {
                self.out.wide_arrays.push(name);
            }
            return Ok(());
        }
        if self.home == Home::Cells && width == 1 {
            self.out.cell_arrays.push((decoded(name), values));
        }
        Ok(())
    }

    /// `count` numbers of a type.
    pub(super) fn array(&mut self, count: u64, kind: &str, what: &str) -> Checked<Vec<f64>> {
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
            let width = width(kind)?;
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
