//! `bendwise sweep` and `bendwise gather` on the real binary: shares, a sweep that is broken off and
//! one in a piece give the same bytes, and wrong input is refused with its place.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use std::fs;
use std::path::Path;
use std::process::Stdio;

use assert_cmd::Command;
use predicates::prelude::*;
use predicates::str::contains;
use tempfile::TempDir;

use crate::in_folder::{bendwise, folder_of};

/// A short way, one strategy.
pub const SHORT: &str = short_way!("", "", "");

/// Six points with three trials each.
pub const SWEEP: &str = r#"name = "short-sweep"
description = "A short sweep."
scenario = "short.toml"

[design]
kind = "grid"
trials = 3

[[parameter]]
path = "wire.soft.bend.length_mm"
name = "bend length"
low = 1
high = 3
steps = 3

[[parameter]]
path = "vessel.branch.side.take_off_deg"
name = "take-off"
levels = [30, 60]

[map]
x = "bend_length_mm"
y = "take_off_deg"
"#;

fn folder() -> TempDir {
    folder_of(&[("short.toml", SHORT), ("sweep.toml", SWEEP)])
}

fn sweep(folder: &TempDir, out: &str, more: &[&str]) -> Command {
    let mut command = bendwise(folder, &["sweep", "sweep.toml", "--quiet", "--out", out]);
    command.args(more);
    command
}

fn assert_same(folder: &TempDir, first: &str, second: &str) {
    for name in [
        "trials.csv",
        "trials.parquet",
        "points.csv",
        "sweep.json",
        "report.md",
        "figures/map.png",
        "figures/main-effects.svg",
    ] {
        let [a, b] = [first, second].map(|out| fs::read(folder.path().join(out).join(name)));
        assert!(a.unwrap() == b.unwrap(), "{name} differs");
    }
}

#[test]
fn shares_joined_and_parts_are_the_whole_sweep() {
    let folder = folder();
    sweep(&folder, "whole", &[]).assert().success();
    sweep(&folder, "parts", &["--at-most", "5"])
        .assert()
        .success();
    bendwise(&folder, &["sweep", "sweep.toml", "--out", "parts"])
        .assert()
        .success()
        .stderr(contains("5 of 18 trials are kept from an earlier run"));
    assert_same(&folder, "whole", "parts");
    for number in ["1", "2"] {
        let shard = format!("{number}/2");
        sweep(
            &folder,
            &format!("part{number}"),
            &["--shard", &shard, "--threads", "1"],
        )
        .assert()
        .success();
    }
    bendwise(
        &folder,
        &["gather", "part2", "part1", "--quiet", "--out", "joined"],
    )
    .assert()
    .success();
    assert_same(&folder, "whole", "joined");
    let text = fs::read_to_string(folder.path().join("whole/sweep.json")).unwrap();
    let json: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(json["points"], 6);
    assert_eq!(json["trials_in_all"], 18);
    assert!(
        json["caution"]
            .as_str()
            .unwrap()
            .contains("not for clinical decisions")
    );
}

/// Every write of the table fails for want of space (Linux).
#[test]
fn a_full_disk_keeps_the_trials() {
    if !Path::new("/dev/full").exists() {
        crate::skipped::skipped("this system has no /dev/full");
        return;
    }
    #[cfg(unix)]
    {
        let folder = folder();
        for file in ["trials.csv", "trials.parquet", "sweep.json"] {
            let path = folder.path().join("out.partial").join(file);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            let _ = fs::remove_file(&path);
            std::os::unix::fs::symlink("/dev/full", &path).unwrap();
            sweep(&folder, "out", &[]).assert().code(1).stderr(
                contains("no space left while writing")
                    .and(contains(file))
                    .and(contains("18 of 18 trials are kept"))
                    .and(contains("run the same command again")),
            );
            fs::remove_file(&path).unwrap();
        }
        sweep(&folder, "out", &[]).assert().success();
    }
}

fn refused(change: (&str, &str), more: &[&str]) -> String {
    let folder = folder();
    let (from, to) = change;
    assert!(SWEEP.contains(from), "{from}");
    fs::write(folder.path().join("sweep.toml"), SWEEP.replace(from, to)).unwrap();
    let output = sweep(&folder, "out", more)
        .assert()
        .code(2)
        .get_output()
        .stderr
        .clone();
    assert!(!folder.path().join("out").exists());
    String::from_utf8(output).unwrap()
}

#[test]
fn wrong_sweeps_are_refused_with_their_place_and_a_remedy() {
    let cases = [
        (
            ("bend.length_mm", "bend.lenght_mm"),
            "did you mean wire.soft.bend.length_mm?",
        ),
        (
            ("branch.side", "branch.sid"),
            "did you mean vessel.branch.side.take_off_deg?",
        ),
        (
            ("[30, 60]", "[30, \"wide\"]"),
            "numbers and texts stand in one list",
        ),
        (
            ("[30, 60]", "[\"wide\", \"narrow\"]"),
            "its levels are texts",
        ),
        (("[30, 60]", "[30, 600]"), "allowed is 0 to 180 deg"),
        (("[30, 60]", "[]"), "allowed is 1 or more"),
        (("low = 1", "low = 3"), "the range is empty"),
        (("low = 1", "low = 5"), "the bounds are reversed"),
        (("\"grid\"", "\"grd\""), "did you mean grid"),
        (("short.toml", "absent.toml"), "absent.toml"),
        (("trials = 3", "trials = 0"), "allowed is 1"),
        (
            ("y = \"take", "y = \"x_take"),
            "not a parameter of this sweep",
        ),
    ];
    for (change, message) in cases {
        let said = refused(change, &[]);
        assert!(said.contains(message), "{change:?}: {said}");
    }
    let many = refused(("steps = 3", "steps = 6000"), &[]);
    assert!(
        many.contains("12000 points") && many.contains("--yes"),
        "{many}"
    );
}

#[test]
fn trials_go_on_until_every_interval_is_narrow() {
    let folder = folder();
    let text = SWEEP.replace("levels = [30, 60]", "levels = [30, 150]");
    fs::write(folder.path().join("sweep.toml"), text).unwrap();
    sweep(&folder, "out", &["--until-width", "0.5"])
        .assert()
        .success();
    let mut points = csv::Reader::from_path(folder.path().join("out/points.csv")).unwrap();
    let names = points.headers().unwrap().clone();
    let column = |name: &str| names.iter().position(|n| n == name).unwrap();
    let [low, high, trials] = ["ci95_low", "ci95_high", "trials"].map(column);
    let mut most = 0;
    for point in points.records() {
        let point = point.unwrap();
        let number = |at: usize| point[at].parse::<f64>().unwrap();
        assert!(number(high) - number(low) <= 0.5, "{point:?}");
        most = most.max(point[trials].parse::<u32>().unwrap());
    }
    // Of 3 trials, as the file says, even 0 of 3 has an interval of 0.56.
    assert!(most > 3);
}

/// Nobody reads the progress any more: its terminal is gone.
#[test]
fn a_closed_stderr_does_not_end_a_sweep() {
    let folder = folder();
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    let status = std::process::Command::new(assert_cmd::cargo::cargo_bin!("bendwise"))
        .current_dir(folder.path())
        .args(["sweep", "sweep.toml", "--out", "out"])
        .stdout(Stdio::null())
        .stderr(writer)
        .status()
        .unwrap();
    assert!(status.success(), "{status}");
    assert!(folder.path().join("out/sweep.json").exists());
}

#[test]
fn wrong_options_are_refused() {
    for (options, message) in [
        (["--shard", "5/4"], "K from 1 to N"),
        (["--shard", "half"], "K from 1 to N"),
        (["--until-width", "0"], "0.005 to 1"),
        (["--threads", "0"], "1 to 1024"),
    ] {
        let said = refused(("steps = 3", "steps = 3"), &options);
        assert!(said.contains(message), "{options:?}: {said}");
    }
    let folder = folder();
    bendwise(&folder, &["gather", "--out", "joined"])
        .assert()
        .code(2)
        .stderr(contains("nothing to gather"));
}

#[test]
fn the_shipped_sweeps_read() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/sweeps");
    let mut count = 0;
    for file in fs::read_dir(folder).unwrap() {
        let path = file.unwrap().path();
        let sweep = bendwise::scenario::sweep::load_sweep(&path).unwrap();
        let base = bendwise::study::sweep::Base::read(&sweep);
        assert!(base.is_ok(), "{}: {}", path.display(), base.unwrap_err());
        count += 1;
    }
    assert!(count >= 6);
}
