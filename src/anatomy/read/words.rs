//! Words of a text with the line on which each stands.

use crate::anatomy::error::{At, Checked, Fault};
use crate::shown::cut;

/// Words one after the other, and raw bytes between them where a format mixes both.
#[derive(Debug, Clone)]
pub(super) struct Words<'a> {
    bytes: &'a [u8],
    pos: usize,
    line: usize,
}

impl<'a> Words<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Self {
        Self {
            bytes,
            pos: 0,
            line: 1,
        }
    }

    /// Place of the next character.
    pub(super) fn at(&self) -> At {
        At::Line(self.line)
    }

    /// The bytes that are left.
    pub(super) fn rest(&self) -> &'a [u8] {
        &self.bytes[self.pos..]
    }

    fn skip(&mut self, count: usize) {
        let passed = &self.bytes[self.pos..self.pos + count];
        self.line += passed.iter().filter(|b| **b == b'\n').count();
        self.pos += count;
    }

    fn skip_space(&mut self) {
        let count = self
            .rest()
            .iter()
            .take_while(|b| b.is_ascii_whitespace())
            .count();
        self.skip(count);
    }

    /// The next word; `None` at the end. Bytes that are no text read as replacement characters.
    pub(super) fn next_word(&mut self) -> Option<std::borrow::Cow<'a, str>> {
        self.skip_space();
        let rest = self.rest();
        let count = rest.iter().take_while(|b| !b.is_ascii_whitespace()).count();
        if count == 0 {
            return None;
        }
        self.pos += count;
        Some(String::from_utf8_lossy(&rest[..count]))
    }

    /// The next word without taking it.
    pub(super) fn peek(&self) -> Option<std::borrow::Cow<'a, str>> {
        self.clone().next_word()
    }

    /// The rest of this line without its end, taking both.
    pub(super) fn rest_of_line(&mut self) -> std::borrow::Cow<'a, str> {
        let rest = self.rest();
        let count = rest.iter().take_while(|b| **b != b'\n').count();
        self.skip((count + 1).min(rest.len()));
        let text = &rest[..count];
        String::from_utf8_lossy(text.strip_suffix(b"\r").unwrap_or(text))
    }

    /// Exactly `count` raw bytes.
    pub(super) fn raw(&mut self, count: usize, what: &str) -> Checked<&'a [u8]> {
        let rest = self.rest();
        if rest.len() < count {
            return Err((
                At::Byte(self.bytes.len()),
                Fault::Truncated {
                    what: format!("{what} need {count} bytes, {} are left", rest.len()),
                },
            ));
        }
        self.skip(count);
        Ok(&rest[..count])
    }

    /// A word that must be there.
    pub(super) fn word(&mut self, what: &str) -> Checked<std::borrow::Cow<'a, str>> {
        let at = self.at();
        self.next_word().ok_or_else(|| {
            (
                at,
                Fault::Truncated {
                    what: format!("{what} was expected"),
                },
            )
        })
    }

    /// A number that must be there.
    pub(super) fn number(&mut self, what: &str) -> Checked<f64> {
        let word = self.word(what)?;
        number(&word, what).map_err(|fault| (self.at(), fault))
    }

    /// A count that must be there.
    pub(super) fn count(&mut self, what: &str) -> Checked<u64> {
        let word = self.word(what)?;
        word.parse().map_err(|_| {
            (
                self.at(),
                Fault::Malformed {
                    what: format!(
                        "{what} must be a whole number of 0 or more, found {:?}",
                        cut(&word)
                    ),
                },
            )
        })
    }
}

/// A word as a number.
pub(super) fn number(word: &str, what: &str) -> Result<f64, Fault> {
    word.parse().map_err(|_| Fault::Malformed {
        what: format!("{what} must be a number, found {:?}", cut(word)),
    })
}
