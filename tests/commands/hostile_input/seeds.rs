//! The fuzzer's seeds and finds, replayed: no reader panics on them, nor on small changes to them.
//! A search guided by coverage is `tests/fuzz/run`.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

#[path = "../../fuzz/src/harness.rs"]
mod harness;

/// Most time that any one input may take; builds for debugging are slower.
const MOST: Duration = Duration::from_secs(if cfg!(debug_assertions) { 60 } else { 5 });

/// Words that are put in place of a number.
const WORDS: [&str; 16] = [
    "0",
    "-1",
    "1e-300",
    "1e300",
    "nan",
    "inf",
    "\"a\"",
    "[]",
    "{}",
    "true",
    "0.001",
    "10000",
    "40",
    "65536",
    "[[0, 1]]",
    "9223372036854775807",
];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let mut paths: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.is_file())
        .collect();
    paths.sort();
    paths
}

/// The stored seeds of a harness, and what is shipped of its kind.
fn seeds(name: &str) -> Vec<Vec<u8>> {
    let mut paths = files(&root().join("tests/fuzz/seeds").join(name));
    assert!(!paths.is_empty(), "no seeds for {name}");
    match name {
        "scenario" => paths.extend(files(&root().join("scenarios"))),
        "sweep" => paths.extend(files(&root().join("scenarios/sweeps"))),
        "vessel" => {}
        ending => {
            let shipped = files(&root().join("tests/reference/anatomy"));
            paths.extend(
                shipped
                    .into_iter()
                    .filter(|p| p.extension().is_some_and(|e| e == ending)),
            );
        }
    }
    paths.iter().map(|path| fs::read(path).unwrap()).collect()
}

fn runs(name: &str, data: &[u8]) {
    let run = harness::named(name).unwrap();
    let begin = Instant::now();
    run(data);
    let took = begin.elapsed();
    assert!(
        took < MOST,
        "{name} took {took:?}: {}",
        String::from_utf8_lossy(&data[..data.len().min(2000)])
    );
}

#[test]
fn every_seed_and_every_find_of_the_fuzzer_is_taken_or_refused() {
    for (name, _) in harness::ALL {
        for data in seeds(name) {
            runs(name, &data);
        }
    }
}

/// One or two changes to a text: a number becomes another word, a line is doubled, moved or left out,
/// a byte is changed.
fn changed(draw: &mut ChaCha8Rng, data: &[u8]) -> Vec<u8> {
    let mut below = |n: usize| draw.next_u32() as usize % n.max(1);
    let mut data = data.to_vec();
    for _ in 0..=below(2) {
        let at = below(data.len());
        match below(4) {
            0 | 1 => {
                let Some(from) = (at..data.len()).find(|i| data[*i].is_ascii_digit()) else {
                    continue;
                };
                let is_part = |b: &&u8| b.is_ascii_digit() || **b == b'.';
                let length = data[from..].iter().take_while(is_part).count();
                data.splice(from..from + length, WORDS[below(WORDS.len())].bytes());
            }
            2 => {
                let mut lines: Vec<Vec<u8>> =
                    data.split(|b| *b == b'\n').map(<[u8]>::to_vec).collect();
                let (a, b) = (below(lines.len()), below(lines.len()));
                match below(3) {
                    0 => drop(lines.remove(a)),
                    1 => lines.insert(b, lines[a].clone()),
                    _ => lines.swap(a, b),
                }
                data = lines.join(&b'\n');
            }
            _ => {
                if let Some(byte) = data.get_mut(at) {
                    *byte ^= 1 << below(8);
                }
            }
        }
    }
    data
}

#[test]
fn texts_with_small_changes_are_taken_or_refused() {
    let mut draw = ChaCha8Rng::seed_from_u64(16);
    for (name, count) in [("scenario", 200), ("vessel", 300), ("sweep", 60)] {
        for data in seeds(name) {
            for _ in 0..count {
                runs(name, &changed(&mut draw, &data));
            }
        }
    }
}

/// The same with other draws, for ten minutes or as many seconds as `FUZZ_SECONDS` says, with another
/// seed each time or that of `BENDWISE_SEED`. What is tried last stays in `target/tried` if the
/// program has to be stopped.
#[test]
#[ignore = "ten minutes; cargo test --release --test commands hostile_input -- --ignored --nocapture"]
fn texts_with_changes_for_ten_minutes() {
    let seed = crate::long_search::seed();
    let time = crate::long_search::time();
    let mut draw = ChaCha8Rng::seed_from_u64(seed);
    let (begin, mut tried) = (Instant::now(), 0_u64);
    let all = ["scenario", "vessel", "sweep"].map(|name| (name, seeds(name)));
    while begin.elapsed() < time {
        for (name, seeds) in &all {
            let mut data = seeds[draw.next_u32() as usize % seeds.len()].clone();
            for _ in 0..=draw.next_u32() % 3 {
                data = changed(&mut draw, &data);
            }
            fs::write(root().join("target/tried"), &data).unwrap();
            runs(name, &data);
            tried += 1;
        }
    }
    println!("{tried} texts from seed {seed}");
}
