//! Binary arrays of a VTK XML file: base64 or raw, plain or in blocks compressed with zlib.

use std::io::Read;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use flate2::read::ZlibDecoder;

use super::outline::Style;
use crate::anatomy::error::{At, Checked, Fault, whole};
use crate::anatomy::read::limits::Budget;

/// Bytes of an array before and after they are decoded from base64.
pub(super) enum Stream<'a> {
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
pub(super) fn unpack(stream: &Stream<'_>, style: Style, budget: &mut Budget) -> Checked<Vec<u8>> {
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
