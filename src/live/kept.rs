//! Moments of a session as the page was told them, so that it can show an earlier one again.

use std::io::{Read, Write};

use flate2::Compression;
use flate2::read::DeflateDecoder;
use flate2::write::DeflateEncoder;

/// Moments that are kept at most, some 5 kB each.
const MOST: usize = 4096;

/// Moments from the beginning on, packed. Of a session with more movements than there is room for, every second
/// one is kept, then every fourth.
#[derive(Debug)]
pub(super) struct Moments {
    /// From one that is kept to the next.
    every: usize,
    /// Moments that were added.
    count: usize,
    packed: Vec<Vec<u8>>,
}

impl Moments {
    pub(super) fn new() -> Self {
        Self {
            every: 1,
            count: 0,
            packed: Vec::new(),
        }
    }

    /// Adds the next moment; `text` is its JSON.
    pub(super) fn add(&mut self, text: &str) {
        let number = self.count;
        self.count += 1;
        if !number.is_multiple_of(self.every) {
            return;
        }
        self.packed.push(pack(text).unwrap_or_default());
        if self.packed.len() > MOST {
            let mut place = 0;
            self.packed.retain(|_| {
                place += 1;
                place % 2 == 1
            });
            self.every *= 2;
        }
    }

    /// JSON of the moment after so many movements, or of the nearest that is kept; `None` before the first one.
    pub(super) fn nearest(&self, at: usize) -> Option<String> {
        let place = (at.min(self.count) + self.every / 2) / self.every;
        let packed = self
            .packed
            .get(place.min(self.packed.len().checked_sub(1)?))?;
        let mut text = String::new();
        let mut unpacked = DeflateDecoder::new(packed.as_slice());
        unpacked.read_to_string(&mut text).ok()?;
        Some(text).filter(|text| !text.is_empty())
    }
}

fn pack(text: &str) -> std::io::Result<Vec<u8>> {
    let mut packed = DeflateEncoder::new(Vec::new(), Compression::fast());
    packed.write_all(text.as_bytes())?;
    packed.finish()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_moment_is_told_again_as_it_was_and_of_many_the_nearest() {
        let mut moments = Moments::new();
        assert_eq!(moments.nearest(0), None);
        let number =
            |moments: &Moments, at| -> usize { moments.nearest(at).unwrap().parse().unwrap() };
        for at in 0..MOST {
            moments.add(&at.to_string());
        }
        assert_eq!(
            (number(&moments, 17), number(&moments, 9999)),
            (17, MOST - 1)
        );
        for at in MOST..5 * MOST {
            moments.add(&at.to_string());
        }
        assert!(moments.packed.len() <= MOST);
        for at in [0, 17, MOST, 4 * MOST + 3] {
            let off = number(&moments, at).abs_diff(at);
            assert!(2 * off <= moments.every, "{at}: {off}");
        }
    }
}
