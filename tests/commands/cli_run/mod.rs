//! `bendwise run` on the real binary: nothing is overwritten or lost, and the result depends on
//! neither threads nor interruptions.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

#[cfg(unix)]
mod broken_off;
#[cfg(unix)]
mod full_disk;

use assert_cmd::Command;
use assert_cmd::cargo::cargo_bin_cmd;
use predicates::prelude::*;
use predicates::str::{contains, starts_with};
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

use crate::files_below::files_below;
use crate::in_folder::{bendwise, folder_of};

/// A short way, two strategies.
const SHORT: &str = short_way!(
    r#"[study]
trials = 2
recorded = 1

"#,
    r#"[[wire]]
name = "firm"
diameter_mm = 0.3556
tip_load_gf = 1
surface = "hydrophilic"
bend = { length_mm = 2, angle_deg = 45 }

"#,
    ""
);

/// A folder with the scenario `short.toml`.
fn folder() -> TempDir {
    folder_of(&[("short.toml", SHORT)])
}

fn run(folder: &TempDir, out: &str, more: &[&str]) -> Command {
    let mut command = bendwise(folder, &["run", "short.toml", "--out", out]);
    command.args(more);
    command
}

/// The two files that must not depend on how a study was run.
fn answers(folder: &TempDir, out: &str) -> [String; 2] {
    ["summary.json", "trials.csv"]
        .map(|name| fs::read_to_string(folder.path().join(out).join(name)).unwrap())
}

/// The results in `out` are those of an uninterrupted run, file for file and byte for byte, and
/// nothing else is left beside them.
fn assert_same_as_uninterrupted(folder: &TempDir, out: &str, more: &[&str]) {
    run(folder, "uninterrupted", more).assert().success();
    let [whole, resumed] = ["uninterrupted", out].map(|out| files_below(&folder.path().join(out)));
    assert!(whole.keys().eq(resumed.keys()));
    for (name, bytes) in &whole {
        assert!(resumed[name] == *bytes, "{name} differs");
    }
    assert!(!folder.path().join(format!("{out}.partial")).exists());
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
        .success()
        .stdout(contains("stopped after 2 new trials, as --at-most asks"))
        .stdout(contains("2 of 4 trials are kept"))
        .stdout(contains("run the same command again"));
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
        .code(2)
        .stderr(contains("mine.txt").and(contains("move it away")));
    assert_eq!(names(&out), [out.join("mine.txt")]);
    fs::rename(out.join("mine.txt"), folder.path().join("mine.txt")).unwrap();
    run(&folder, "out", &["--trials", "1"]).assert().success();
    let summary = fs::read(out.join("summary.json")).unwrap();
    run(&folder, "out", &["--overwrite", "--trials", "2"])
        .assert()
        .success();
    assert!(fs::read(out.join("summary.json")).unwrap() != summary);
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

/// What is allowed but odd is said before the work begins, where `check` says it too.
#[test]
fn warnings_of_the_scenario_come_first() {
    let folder = folder();
    let odd = SHORT.replace("tip_load_gf = 1\n", "tip_load_gf = 20\n");
    let line = 1 + odd.lines().position(|l| l == "tip_load_gf = 20").unwrap();
    fs::write(folder.path().join("short.toml"), odd).unwrap();
    let said = "tip_load_gf in [[wire]] \"firm\" is 20 gf";
    cargo_bin_cmd!("bendwise")
        .current_dir(folder.path())
        .args(["check", "short.toml"])
        .assert()
        .success()
        .stdout(contains("WARNINGS").and(contains(said)));
    let first = format!("warning: short.toml, line {line}: {said}");
    run(&folder, "loud", &["--trials", "1"])
        .assert()
        .success()
        .stderr(starts_with(&first).and(contains("2 of 2 trials")));
    run(&folder, "quiet", &["--trials", "1", "--quiet"])
        .assert()
        .success()
        .stdout("")
        .stderr(starts_with(&first).and(contains("of 2 trials").not()));
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
