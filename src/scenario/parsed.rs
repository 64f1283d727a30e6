//! A text as TOML, refused where it would take much memory.

use toml::Spanned;
use toml::de::DeTable;

use super::error::{Checked, Problem};
use crate::schema::{DocumentFault, odd_number};

/// Most signs and blanks that part the words, numbers and lines of a scenario file.
const MOST_PARTS: usize = 800_000;

/// Parses a text whose faults are told as if it began at byte `base`.
pub(super) fn parsed(text: &str, base: usize) -> Checked<Spanned<DeTable<'_>>> {
    limited(text, base)?;
    DeTable::parse(text).map_err(|error| {
        let span = error.span().unwrap_or(0..0);
        Problem::new(
            DocumentFault::Syntax {
                message: error.message().to_owned(),
                suspicion: odd_number::remedy_at(text, span.start),
            },
            span.start + base..span.end + base,
        )
    })
}

/// Refuses a text that would take much memory once it is parsed, which goes with its words: some
/// 160 bytes for each sign, blank or line that parts two of them.
fn limited(text: &str, base: usize) -> Checked<()> {
    let is_blank = |byte: u8| byte == b' ' || byte == b'\t';
    let mut before = b'\n';
    let mut found = 0_usize;
    for byte in text.bytes() {
        let parts = if is_blank(byte) {
            !is_blank(before)
        } else {
            byte.is_ascii_control() || (byte.is_ascii_punctuation() && !b"-_+".contains(&byte))
        };
        found += usize::from(parts);
        before = byte;
    }
    if found <= MOST_PARTS {
        return Ok(());
    }
    Err(Problem::new(
        DocumentFault::TooMuch {
            what: "the signs and blanks between words, values and lines of the file are".into(),
            found,
            allowed: MOST_PARTS,
            remedy: "give many points in a file of their own (file in [vessel]), or thin them out"
                .into(),
        },
        base..base,
    ))
}
