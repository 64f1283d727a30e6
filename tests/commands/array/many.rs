//! Ten thousand shares, a million rows: the store alone, no trials.
#![allow(
    clippy::print_stdout,
    reason = "times and memory are what it is run for"
)]

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use bendwise::scenario::sweep::model::DesignKind;
use bendwise::study::sweep::{ARRAY, ArrayPlan, ShareSink};
use bendwise::study::{Deal, Point, Sink};
use rayon::prelude::*;

use crate::sweep_common::{row, setup, uniform};

const SHARES: u32 = 10_000;
const POINTS: usize = 50_000;
const TRIALS: u32 = 20;
/// Most memory of `gather` in MB.
const MOST_MB: f64 = 256.0;

/// Runs the program; prints its time and returns the most memory that it took, in MB.
fn measured(folder: &Path, words: &[&str]) -> f64 {
    let begun = Instant::now();
    let mut child = Command::new(assert_cmd::cargo::cargo_bin!("bendwise"))
        .current_dir(folder)
        .args(words)
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let mut most: f64 = 0.0;
    let status = loop {
        let said = fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap_or_default();
        let line = said.lines().find(|line| line.starts_with("VmHWM:"));
        let kilobytes = line.and_then(|line| line.split_whitespace().nth(1)?.parse::<f64>().ok());
        most = most.max(kilobytes.unwrap_or(0.0) / 1024.0);
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        sleep(Duration::from_millis(20));
    };
    assert!(status.success(), "{words:?}");
    println!(
        "{}: {:.1} s, {most:.0} MB",
        words[0],
        begun.elapsed().as_secs_f64()
    );
    most
}

/// `cargo test --release --test commands ten_thousand_shares -- --ignored --nocapture`.
#[test]
#[ignore = "a gigabyte of rows"]
fn ten_thousand_shares_are_looked_at_and_joined_in_little_memory() {
    let folder = tempfile::tempdir().unwrap();
    let kind = DesignKind::Sobol { points: POINTS };
    let setup = setup(kind, vec![uniform("length_mm", 1.0, 5.0)], TRIALS, 9);
    let deal = Deal::by_cost(&vec![1.0; POINTS], SHARES);
    let plan = ArrayPlan {
        sweep: folder.path().join("sweep.toml"),
        setup,
        of: SHARES as usize,
        deal,
    };
    let array = folder.path().join("array");
    fs::create_dir(&array).unwrap();
    fs::write(array.join(ARRAY), plan.to_bytes().unwrap()).unwrap();
    (1..=plan.of).into_par_iter().for_each(|number| {
        let part = plan.share(number);
        let share = ArrayPlan::share_folder(&array, number);
        fs::create_dir_all(&share).unwrap();
        let mut sink = ShareSink::new(&part);
        sink.begin(&share, &part.setup).unwrap();
        for point in part.points() {
            let rows =
                (0..TRIALS).map(|trial| row(trial, (point + trial as usize).is_multiple_of(3)));
            let rows = [rows.collect::<Vec<_>>()];
            sink.point(&Point {
                folder: &share,
                setup: &part.setup,
                number: point,
                refused: None,
                rows: &rows,
                pressed: &[],
            })
            .unwrap();
        }
        sink.finish(&share).unwrap();
    });
    measured(folder.path(), &["status", "array"]);
    let most = measured(folder.path(), &["gather", "array", "--out", "joined"]);
    assert!(most < MOST_MB, "gather took {most} MB");
    let rows = fs::read_to_string(folder.path().join("joined/trials.csv")).unwrap();
    assert_eq!(rows.lines().count(), POINTS * TRIALS as usize + 1);
}
