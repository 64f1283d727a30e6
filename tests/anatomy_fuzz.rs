//! Readers and tree building under damaged files: no panic, whatever the bytes, and bounded time
//! and memory.
//!
//! The short test runs always. The long one is for hand:
//! `cargo test --release --test anatomy_fuzz -- --ignored --nocapture`; it runs for ten minutes,
//! or for as many seconds as `FUZZ_SECONDS` says.
#![allow(
    clippy::cast_possible_truncation,
    reason = "the low bits of a time are a seed"
)]
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "where a helper fails the test has failed; the count of tries is printed"
)]

use bendwise::anatomy::tree::Settings;
use bendwise::anatomy::{Frame, Unit, import, parse};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Words that a mutation may put in, chosen to break counts, signs and structure.
const WORDS: [&[u8]; 18] = [
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

fn seeds() -> Vec<(String, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/anatomy");
    let mut paths: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    paths.sort();
    let mut seeds: Vec<(String, Vec<u8>)> = paths
        .iter()
        .map(|p| {
            let ending = p.extension().unwrap().to_string_lossy().into_owned();
            (ending, fs::read(p).unwrap())
        })
        .collect();
    let swc = "1 0 0 0 0 1.5 -1\n2 0 5 0 0 1.4 1\n3 0 10 0 0 1.3 2\n4 0 15 0 0 1.2 3\n\
               5 0 12 4 0 0.9 3\n6 0 14 8 0 0.8 5\n7 0 16 12 0 0.8 6\n";
    let csv = "branch,x,y,z,r\nA,0,0,0,2\nA,9,0,0,2\nA,20,1,0,2\nB,9,0,0,1\nB,14,9,0,1\n";
    seeds.push(("swc".into(), swc.into()));
    seeds.push(("csv".into(), csv.into()));
    seeds
}

struct Draw(ChaCha8Rng);

impl Draw {
    fn below(&mut self, n: usize) -> usize {
        self.0.next_u32() as usize % n.max(1)
    }

    fn mutate(&mut self, bytes: &mut Vec<u8>, other: &[u8]) {
        for _ in 0..=self.below(4) {
            let at = self.below(bytes.len());
            match self.below(7) {
                0 => bytes.truncate(at),
                1 => {
                    if let Some(b) = bytes.get_mut(at) {
                        *b ^= 1 << (self.0.next_u32() % 8);
                    }
                }
                2 => {
                    if let Some(b) = bytes.get_mut(at) {
                        *b = self.0.next_u32().to_le_bytes()[0];
                    }
                }
                3 => {
                    let word = WORDS[self.below(WORDS.len())];
                    bytes.splice(at..at, word.iter().copied());
                }
                4 => {
                    // A number in the text becomes another word.
                    let from = (at..bytes.len()).find(|i| bytes[*i].is_ascii_digit());
                    if let Some(from) = from {
                        let length = bytes[from..]
                            .iter()
                            .take_while(|b| b.is_ascii_digit())
                            .count();
                        let word = WORDS[self.below(WORDS.len())];
                        bytes.splice(from..from + length, word.iter().copied());
                    }
                }
                5 => {
                    let end = (at + self.below(64)).min(bytes.len());
                    let piece: Vec<u8> = bytes[at.min(end)..end].to_vec();
                    let to = self.below(bytes.len());
                    bytes.splice(to..to, piece);
                }
                _ => {
                    let from = self.below(other.len());
                    let to = (from + self.below(200)).min(other.len());
                    bytes.splice(at..at, other[from..to].iter().copied());
                }
            }
        }
    }
}

/// Tries damaged files until the time is over; gives how many, and how many were still read.
fn attack(seed: u64, time: Duration) -> (u64, u64, Duration) {
    let seeds = seeds();
    let mut draw = Draw(ChaCha8Rng::seed_from_u64(seed));
    let folder = tempfile::tempdir().unwrap();
    let settings = Settings {
        units: Some(Unit::Millimetre),
        frame: Some(Frame::Scene),
        ..Settings::default()
    };
    let begin = Instant::now();
    let (mut tries, mut read, mut slowest) = (0, 0, Duration::ZERO);
    while begin.elapsed() < time {
        let (ending, bytes) = &seeds[draw.below(seeds.len())];
        let mut bytes = bytes.clone();
        let other = seeds[draw.below(seeds.len())].1.clone();
        draw.mutate(&mut bytes, &other);
        let started = Instant::now();
        let content = parse(ending, &bytes, None);
        if content.is_ok() {
            read += 1;
            // What is read must also become a tree, or be refused, without a panic.
            let path = folder.path().join(format!("damaged.{ending}"));
            fs::write(&path, &bytes).unwrap();
            if let Ok((imported, _)) = import(&path, &settings) {
                assert!(!imported.branches.is_empty());
                for branch in &imported.branches {
                    assert!(branch.points.len() > 1);
                    assert!(branch.radii.iter().all(|r| *r > 0.0), "{:?}", branch.radii);
                }
            }
        }
        let took = started.elapsed();
        if took > slowest {
            slowest = took;
        }
        assert!(
            took < Duration::from_secs(60),
            "a file of {} bytes took {took:?}; it is kept in {:?}",
            bytes.len(),
            folder.keep()
        );
        tries += 1;
    }
    (tries, read, slowest)
}

#[test]
fn damaged_files_are_read_or_refused_without_a_panic() {
    let (tries, read, _) = attack(1, Duration::from_secs(4));
    assert!(tries > 100 && read > 0, "{tries} tries, {read} read");
}

#[test]
#[ignore = "ten minutes; see the top of this file"]
fn damaged_files_for_ten_minutes() {
    let seconds = std::env::var("FUZZ_SECONDS").ok();
    let seconds = seconds.and_then(|s| s.parse().ok()).unwrap_or(600);
    let seed = Instant::now().elapsed().as_nanos() as u64 ^ u64::from(std::process::id());
    println!("seed {seed}");
    let (tries, read, slowest) = attack(seed, Duration::from_secs(seconds));
    println!("{tries} damaged files, {read} still read, slowest {slowest:?}, no panic");
}
