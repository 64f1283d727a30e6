//! Damage that knows nothing of formats: bits, bytes, words, pieces.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// Words that may be put in, chosen to break counts, signs and structure.
pub const WORDS: [&[u8]; 18] = [
    b"-1",
    b"0",
    b"nan",
    b"inf",
    b"1e308",
    b"4294967295",
    b"18446744073709551615",
    b"99999999",
    b"-9223372036854775808",
    b"\n",
    b" ",
    b"<",
    b">",
    b"\"",
    b"_",
    b"=",
    b"LINES 3 17",
    b"end_header\n",
];

/// A source of draws.
pub struct Draw(ChaCha8Rng);

impl Draw {
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    pub fn bits(&mut self) -> u32 {
        self.0.next_u32()
    }

    pub fn below(&mut self, n: usize) -> usize {
        self.bits() as usize % n.max(1)
    }

    /// One of the given things.
    pub fn of<T: Copy>(&mut self, all: &[T]) -> T {
        all[self.below(all.len())]
    }

    /// A number from 0 to 1.
    pub fn share(&mut self) -> f64 {
        f64::from(self.bits()) / f64::from(u32::MAX)
    }

    /// True once in `n` times.
    pub fn once_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }
}

/// One to five changes to the bytes of a file; pieces of `other` may come in.
pub fn damage(draw: &mut Draw, bytes: &mut Vec<u8>, other: &[u8]) {
    for _ in 0..=draw.below(4) {
        let at = draw.below(bytes.len());
        match draw.below(8) {
            0 => bytes.truncate(at),
            1 => {
                let bit = draw.below(8);
                if let Some(b) = bytes.get_mut(at) {
                    *b ^= 1 << bit;
                }
            }
            2 => {
                let new = draw.bits().to_le_bytes()[0];
                if let Some(b) = bytes.get_mut(at) {
                    *b = new;
                }
            }
            3 => {
                let word = draw.of(&WORDS);
                bytes.splice(at..at, word.iter().copied());
            }
            4 | 5 => {
                // A number in the text becomes another word.
                let from = (at..bytes.len()).find(|i| bytes[*i].is_ascii_digit());
                if let Some(from) = from {
                    let digits = bytes[from..].iter().take_while(|b| b.is_ascii_digit());
                    let length = digits.count();
                    let word = draw.of(&WORDS);
                    bytes.splice(from..from + length, word.iter().copied());
                }
            }
            6 => {
                let end = (at + draw.below(64)).min(bytes.len());
                let piece: Vec<u8> = bytes[at.min(end)..end].to_vec();
                let to = draw.below(bytes.len());
                bytes.splice(to..to, piece);
            }
            _ => {
                let from = draw.below(other.len());
                let to = (from + draw.below(200)).min(other.len());
                bytes.splice(at..at, other[from..to].iter().copied());
            }
        }
    }
}
