//! Readers, tree building and scene building under damaged files: no panic, whatever the bytes,
//! and bounded time and memory.
//!
//! The short test runs always. The long one is for hand:
//! `cargo test --release --test anatomy anatomy_fuzz -- --ignored --nocapture`; it runs for ten minutes,
//! or for as many seconds as `FUZZ_SECONDS` says, with another seed each time or that of
//! `BENDWISE_SEED`. With
//! `--config profile.release.package.bendwise.overflow-checks=true` sums that overflow are
//! found too.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "where a helper fails the test has failed; the count of tries is printed"
)]

mod damage;
mod shapes;
mod structure;

use crate::anatomy_common::{put, scenario};
use bendwise::anatomy::tree::ImportSettings;
use bendwise::anatomy::{Arrays, Frame, Unit, import, parse};
use bendwise::scenario;
use bendwise::trial::Prepared;
use damage::Draw;
use nalgebra::Vector3;
use std::collections::BTreeMap;
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Most memory in MB that the whole run may take.
const MOST_MEMORY_MB: f64 = 1500.0;

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

/// What a run of damaged files came to.
#[derive(Debug, Default)]
struct Tally {
    tries: u64,
    read: u64,
    trees: u64,
    scenes: u64,
    slowest: Duration,
    /// Panics by their message, with the file that made the first one.
    panics: BTreeMap<String, PathBuf>,
}

/// How far one file came.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Reached {
    Refused,
    Read,
    Tree,
    Scene,
}

/// Settings as a person might state them, now and then odd ones.
fn settings(draw: &mut Draw) -> ImportSettings {
    let mut settings = ImportSettings {
        units: Some(Unit::Millimetre),
        frame: Some(Frame::Scene),
        ..ImportSettings::default()
    };
    if draw.once_in(2) {
        return settings;
    }
    settings.units = draw.of(&[None, Some(Unit::Millimetre), Some(Unit::Metre)]);
    settings.cut_mm = draw.of(&[0.0, 1.0, 50.0]);
    settings.cut_radius_mm = draw.of(&[None, Some(0.1), Some(1.5)]);
    settings.inlet = draw.of(&[None, Some(Vector3::new(3.0, 1.0, 0.0))]);
    settings.split_mm = draw.of(&[0.05, 0.2, 2.0]);
    settings.join_mm = draw.of(&[0.1, 2.0, 10.0]);
    settings.stub_mm = draw.of(&[0.0, 3.0, 20.0]);
    settings.smooth_mm = draw.of(&[0.0, 1.0, 10.0]);
    settings.spacing_mm = draw.of(&[0.1, 0.5, 2.0]);
    settings.open_ends = draw.once_in(2);
    settings
}

/// Reads a file, makes a tree of it and now and then a scene; whatever is wrong must be refused.
fn try_one(draw: &mut Draw, folder: &Path, ending: &str, bytes: &[u8]) -> Reached {
    if parse(ending, bytes, &Arrays::default()).is_err() {
        return Reached::Refused;
    }
    let name = format!("damaged.{ending}");
    let path = put(folder, &name, bytes);
    let settings = settings(draw);
    let Ok((imported, _)) = import(&path, &settings) else {
        return Reached::Read;
    };
    assert!(!imported.branches.is_empty());
    for branch in &imported.branches {
        assert!(branch.points.len() > 1);
        assert!(branch.points.iter().flatten().all(|x| x.is_finite()));
        assert!(branch.radii.iter().all(|r| *r > 0.0), "{:?}", branch.radii);
    }
    if !draw.once_in(4) {
        return Reached::Tree;
    }
    let vessel = format!("file = \"{name}\"\nunits = \"mm\"\nframe = \"scene\"");
    let text = scenario(&vessel, "branch = \"branch-1\"", "tip = 1", 60.0);
    let Ok(loaded) = scenario::load(&put(folder, "scene.toml", text)) else {
        return Reached::Tree;
    };
    match Prepared::new(&loaded.scenario) {
        Ok(_) => Reached::Scene,
        Err(_) => Reached::Tree,
    }
}

/// Tries damaged files until the time is over.
fn attack(seed: u64, time: Duration) -> Tally {
    let seeds = seeds();
    let mut draw = Draw::new(seed);
    let folder = tempfile::tempdir().unwrap();
    let begin = Instant::now();
    let mut tally = Tally::default();
    let tried = folder.path().join("tried");
    while begin.elapsed() < time {
        let (ending, mut bytes) = if draw.once_in(3) {
            shapes::file(&mut draw)
        } else {
            seeds[draw.below(seeds.len())].clone()
        };
        match draw.below(3) {
            0 => {
                let other = seeds[draw.below(seeds.len())].1.clone();
                damage::damage(&mut draw, &mut bytes, &other);
            }
            1 => structure::damage(&mut draw, &ending, &mut bytes),
            _ => {}
        }
        // What is tried last stays there if the program has to be stopped.
        fs::write(&tried, &bytes).unwrap();
        let started = Instant::now();
        let found = catch_unwind(AssertUnwindSafe(|| {
            try_one(&mut draw, folder.path(), &ending, &bytes)
        }));
        let took = started.elapsed();
        tally.slowest = tally.slowest.max(took);
        tally.tries += 1;
        match found {
            Ok(reached) => {
                tally.read += u64::from(reached >= Reached::Read);
                tally.trees += u64::from(reached >= Reached::Tree);
                tally.scenes += u64::from(reached >= Reached::Scene);
            }
            Err(panic) => {
                let text = panic.downcast_ref::<String>().cloned();
                let text = text.or_else(|| panic.downcast_ref::<&str>().map(|t| (*t).to_owned()));
                let number = tally.panics.len();
                tally
                    .panics
                    .entry(text.unwrap_or_default())
                    .or_insert_with(|| {
                        let kept =
                            std::env::temp_dir().join(format!("fuzz-{seed}-{number}.{ending}"));
                        fs::write(&kept, &bytes).unwrap();
                        kept
                    });
            }
        }
        assert!(
            took < Duration::from_secs(60),
            "BENDWISE_SEED={seed}: a file of {} bytes took {took:?}; it is kept in {:?}",
            bytes.len(),
            folder.keep()
        );
        if tally.tries % 64 == 0 {
            let peak = peak_memory().unwrap_or(0.0);
            assert!(
                peak < MOST_MEMORY_MB,
                "BENDWISE_SEED={seed}: {peak} MB; kept in {:?}",
                folder.keep()
            );
        }
    }
    tally
}

/// Largest resident memory of this process so far in MB, where the system says it.
fn peak_memory() -> Option<f64> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes / 1024.0)
}

#[test]
fn damaged_files_are_read_or_refused_without_a_panic() {
    let tally = attack(1, Duration::from_secs(4));
    assert!(tally.panics.is_empty(), "{tally:#?}");
    assert!(
        tally.tries > 100 && tally.read > 20 && tally.trees > 10,
        "{tally:#?}"
    );
}

#[test]
#[ignore = "ten minutes; see the top of this file"]
fn damaged_files_for_ten_minutes() {
    let seed = crate::long_search::seed();
    let tally = attack(seed, crate::long_search::time());
    println!("{tally:#?}, peak memory {:?} MB", peak_memory());
    assert!(tally.panics.is_empty(), "BENDWISE_SEED={seed}");
}
