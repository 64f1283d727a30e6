//! `bendwise run` on the real binary: nothing is overwritten or lost, and the result depends on
//! neither threads nor interruptions.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use assert_cmd::Command;
use assert_cmd::cargo::cargo_bin_cmd;
use predicates::prelude::*;
use predicates::str::contains;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// A short way, two strategies.
const SHORT: &str = r#"name = "short"
origin = "invented"
description = "A short vessel with one branch."

[study]
trials = 2
recorded = 1

[vessel]

[[vessel.branch]]
name = "parent"
diameter_mm = 3.0
pieces = [{ shape = "straight", length_mm = 25 }]

[[vessel.branch]]
name = "side"
parent = "parent"
at_mm = 8
take_off_deg = 40
diameter_mm = 2.5
pieces = [{ shape = "straight", length_mm = 15 }]

[guide]
branch = "parent"

[target]
branch = "side"
beyond_ostium_mm = 3
astray_mm = 4
max_fed_mm = 30

[[wire]]
name = "soft"
diameter_mm = 0.3556
tip_load_gf = 0.3
surface = "hydrophilic"
bend = { length_mm = 2, angle_deg = 45 }

[[wire]]
name = "firm"
diameter_mm = 0.3556
tip_load_gf = 1
surface = "hydrophilic"
bend = { length_mm = 2, angle_deg = 45 }

[[technique]]
kind = "push"
"#;

/// A folder with the scenario `short.toml`.
fn folder() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("short.toml"), SHORT).unwrap();
    folder
}

fn run(folder: &TempDir, out: &str, more: &[&str]) -> Command {
    let mut command = cargo_bin_cmd!("bendwise");
    command
        .current_dir(folder.path())
        .args(["run", "short.toml", "--out", out])
        .args(more);
    command
}

/// The two files that must not depend on how a study was run.
fn answers(folder: &TempDir, out: &str) -> [String; 2] {
    ["summary.json", "trials.csv"]
        .map(|name| fs::read_to_string(folder.path().join(out).join(name)).unwrap())
}

fn names(folder: &Path) -> Vec<PathBuf> {
    let mut names: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    names.sort();
    names
}

#[test]
fn threads_and_a_stop_half_way_leave_the_same_bytes() {
    let folder = folder();
    run(&folder, "one", &["--threads", "1"]).assert().success();
    run(&folder, "two", &["--threads", "2"]).assert().success();
    run(&folder, "halves", &["--at-most", "2"])
        .assert()
        .code(1)
        .stderr(contains("2 of 4 trials are kept"))
        .stderr(contains("run the same command again"));
    assert!(!folder.path().join("halves").exists());
    run(&folder, "halves", &[]).assert().success();
    let one = answers(&folder, "one");
    assert_eq!(one, answers(&folder, "two"));
    assert_eq!(one, answers(&folder, "halves"));
    assert_eq!(one[1].lines().count(), 1 + 4, "a head and a row a trial");
}

#[test]
fn results_are_not_overwritten_unless_asked() {
    let folder = folder();
    let out = folder.path().join("out");
    fs::create_dir(&out).unwrap();
    fs::write(out.join("mine.txt"), "precious").unwrap();
    run(&folder, "out", &[])
        .assert()
        .code(2)
        .stderr(contains("out").and(contains("--overwrite")));
    assert_eq!(names(&out), [out.join("mine.txt")]);
    run(&folder, "out", &["--overwrite", "--trials", "1"])
        .assert()
        .success();
    assert!(out.join("summary.json").exists() && !out.join("mine.txt").exists());
}

#[test]
fn quiet_says_nothing() {
    let folder = folder();
    run(&folder, "out", &["--quiet", "--trials", "1"])
        .assert()
        .success()
        .stdout("")
        .stderr("");
}

#[test]
fn an_output_that_cannot_be_a_folder_is_refused_before_any_work() {
    let folder = folder();
    fs::write(folder.path().join("file"), "").unwrap();
    for out in ["file", "file/below"] {
        run(&folder, out, &[])
            .assert()
            .code(2)
            .stderr(contains(out));
    }
}

#[test]
fn a_wrong_scenario_leaves_nothing_behind() {
    let folder = folder();
    let wrong = SHORT.replace("trials = 2", "trials = 0");
    fs::write(folder.path().join("short.toml"), wrong).unwrap();
    run(&folder, "out", &[])
        .assert()
        .code(2)
        .stderr(contains("short.toml:6:").and(contains("allowed is 1 to 1000000")));
    assert_eq!(names(folder.path()), [folder.path().join("short.toml")]);
}

/// Ctrl-C in the middle: exit status 1, the finished trials are kept, and the run goes on.
#[cfg(unix)]
#[test]
fn an_interrupted_run_is_kept_and_goes_on() {
    use std::io::{BufRead, BufReader, Read};
    use std::process::{self, Stdio};

    let folder = folder();
    let start = |trials: &str| {
        process::Command::new(assert_cmd::cargo::cargo_bin!("bendwise"))
            .current_dir(folder.path())
            .args(["run", "short.toml", "--out", "out", "--threads", "1"])
            .args(["--trials", trials])
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap()
    };
    let mut child = start("200");
    let mut said = BufReader::new(child.stderr.take().unwrap());
    let mut first = String::new();
    said.read_line(&mut first).unwrap();
    let pid = child.id().to_string();
    let sent = process::Command::new("kill").args(["-INT", &pid]).status();
    assert!(sent.unwrap().success());
    let mut rest = String::new();
    said.read_to_string(&mut rest).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(1), "{first}{rest}");
    assert!(rest.contains("interrupted; "), "{first}{rest}");
    assert!(rest.contains("of 400 trials are kept in"), "{first}{rest}");
    assert!(!folder.path().join("out").exists());

    run(
        &folder,
        "out",
        &["--threads", "1", "--trials", "200", "--at-most", "1"],
    )
    .assert()
    .code(1)
    .stderr(contains("stopped after 1 new trials"));
}
