//! Records with a checksum: a line each, JSON on the outside too, so that other programs read them.
//!
//! A line is `{"crc32":"<8 digits>","record":<JSON>}`. The checksum (CRC-32 of IEEE 802.3, which
//! finds every change within 32 neighbouring bits) goes over a seed and the record; records of one
//! journal have the checksum of its first line as their seed, so that none of another is taken for
//! one of them.

use serde::Serialize;

const HEAD: &[u8] = b"{\"crc32\":\"";
const MIDDLE: &[u8] = b"\",\"record\":";
const DIGITS: usize = 8;

/// Bytes of a line before its record.
const BEFORE: usize = HEAD.len() + DIGITS + MIDDLE.len();

/// The checksum of a record behind a seed.
#[must_use]
pub fn checksum(seed: u32, record: &[u8]) -> u32 {
    let mut hasher = crc32fast::Hasher::new_with_initial(seed);
    hasher.update(record);
    hasher.finalize()
}

/// The line of a record, with its end.
///
/// # Errors
///
/// Where the record cannot be written as JSON.
pub fn line(seed: u32, record: &impl Serialize) -> serde_json::Result<Vec<u8>> {
    Ok(line_of(seed, &serde_json::to_vec(record)?))
}

/// The line of a record that is written as JSON already.
#[must_use]
pub fn line_of(seed: u32, record: &[u8]) -> Vec<u8> {
    let mut line = Vec::with_capacity(BEFORE + record.len() + 2);
    line.extend_from_slice(HEAD);
    line.extend_from_slice(format!("{:08x}", checksum(seed, record)).as_bytes());
    line.extend_from_slice(MIDDLE);
    line.extend_from_slice(record);
    line.extend_from_slice(b"}\n");
    line
}

/// The record in a line (with or without its end) whose checksum is right.
#[must_use]
pub fn record(seed: u32, line: &[u8]) -> Option<&[u8]> {
    let line = line.strip_suffix(b"\n").unwrap_or(line);
    let digits = line.strip_prefix(HEAD)?.get(..DIGITS)?;
    let record = line.get(BEFORE..)?.strip_suffix(b"}")?;
    let same = line.get(HEAD.len() + DIGITS..BEFORE)? == MIDDLE
        && digits == format!("{:08x}", checksum(seed, record)).as_bytes();
    same.then_some(record)
}

/// Whether a file begins as a file of records; an empty one does.
#[must_use]
pub fn begins_as_records(start: &[u8]) -> bool {
    start.starts_with(HEAD) || HEAD.starts_with(start)
}

/// The lines of a file of records.
#[derive(Debug, Default)]
pub struct Lines<'a> {
    /// Whole lines whose checksum is right, and the numbers of the lines, from 1.
    pub good: Vec<(usize, &'a [u8])>,
    /// Numbers of whole lines that are something else.
    pub damaged: Vec<usize>,
    /// Whether a last line without its end was left behind.
    pub torn: bool,
}

/// Reads the lines of a file; `first` is the number of its first line.
#[must_use]
pub fn lines(seed: u32, bytes: &[u8], first: usize) -> Lines<'_> {
    let mut lines = Lines::default();
    for (index, line) in bytes.split_inclusive(|&b| b == b'\n').enumerate() {
        if line == b"\n" {
            continue;
        }
        if !line.ends_with(b"\n") {
            lines.torn = true;
        } else if let Some(record) = record(seed, line) {
            lines.good.push((first + index, record));
        } else {
            lines.damaged.push(first + index);
        }
    }
    lines
}

/// Numbers of lines in words, the first of many.
#[must_use]
pub fn numbers(lines: &[usize]) -> String {
    const SHOWN: usize = 5;
    let shown: Vec<String> = lines.iter().take(SHOWN).map(usize::to_string).collect();
    let word = if lines.len() == 1 { "line" } else { "lines" };
    let more = if lines.len() > SHOWN { ", ..." } else { "" };
    format!("{word} {}{more}", shown.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The check value of CRC-32/ISO-HDLC, "123456789", from the catalogue of CRC algorithms.
    #[test]
    fn the_checksum_is_the_published_one() {
        assert_eq!(checksum(0, b"123456789"), 0xcbf4_3926);
    }

    #[test]
    fn no_changed_byte_is_taken_for_a_record() {
        let text = "a text with \u{e9}\u{2014} and \"quotes\"";
        let whole = line(7, &text).unwrap_or_default();
        assert!(record(7, &whole).is_some() && record(8, &whole).is_none());
        for at in 0..whole.len() {
            for change in 1..=255_u8 {
                let mut changed = whole.clone();
                changed[at] ^= change;
                let lines = lines(7, &changed, 1);
                assert!(lines.good.is_empty(), "byte {at} changed by {change}");
            }
        }
    }
}
