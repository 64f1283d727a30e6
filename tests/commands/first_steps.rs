//! What a newcomer writes, forgets or takes otherwise than it is meant, and what the program says
//! to it.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::cargo::cargo_bin_cmd;
use bendwise::scenario::Document;
use tempfile::TempDir;

/// Exit status and everything that the program prints, with single blanks.
fn said(folder: &Path, args: &[&str]) -> (i32, String) {
    let output = cargo_bin_cmd!("bendwise")
        .current_dir(folder)
        .args(args)
        .output()
        .unwrap();
    let text = [output.stdout, output.stderr].concat();
    let text = String::from_utf8(text).unwrap();
    let words: Vec<&str> = text.split_whitespace().filter(|w| *w != "│").collect();
    (output.status.code().unwrap(), words.join(" "))
}

/// The small scenario of the page of all fields, in a folder.
fn small() -> (TempDir, String) {
    let page = Document::Scenario.page();
    let (_, rest) = page.split_once("```toml\n").unwrap();
    let (text, _) = rest.split_once("```").unwrap();
    (tempfile::tempdir().unwrap(), text.to_owned())
}

/// What `check` says of the small scenario with a part of it replaced.
#[track_caller]
fn checked(from: &str, to: &str) -> (i32, String) {
    let (folder, text) = small();
    assert!(text.contains(from), "{from}");
    fs::write(folder.path().join("my.toml"), text.replacen(from, to, 1)).unwrap();
    said(folder.path(), &["check", "my.toml"])
}

/// A bare tree of two vessels.
fn bare(folder: &Path) -> PathBuf {
    let path = folder.join("y.csv");
    let rows = "branch,x,y,z,r\nA,0,0,0,2\nA,9,0,0,2\nA,20,1,0,2\nB,9,0,0,1\nB,14,9,0,1\n";
    fs::write(&path, rows).unwrap();
    path
}

#[test]
fn the_small_scenario_of_the_page_runs_and_few_trials_show_their_largest_value() {
    let (folder, text) = small();
    fs::write(folder.path().join("my.toml"), text).unwrap();
    let (code, text) = said(folder.path(), &["check", "my.toml"]);
    assert_eq!(code, 0, "{text}");
    assert!(!text.contains("WARNINGS"), "{text}");
    let run = ["run", "my.toml", "--out", "results", "--trials", "2"];
    let (code, text) = said(folder.path(), &run);
    assert_eq!(code, 0, "{text}");
    let report = fs::read_to_string(folder.path().join("results/report.md")).unwrap();
    assert!(report.contains("median (largest)"), "{report}");
    assert!(!report.contains("(95th percentile)"), "{report}");
}

#[test]
fn decimal_commas_and_units_are_answered_by_how_numbers_are_written() {
    for (from, to, says) in [
        ("diameter_mm = 3.0", "diameter_mm = 3,5", "write 3.5"),
        ("diameter_mm = 3.0", "diameter_mm = \"3,5\"", "write 3.5"),
        ("length_mm = 40 }", "length_mm = 40,5 }", "write 40.5"),
        ("= 60", "= \"60 deg\"", "its name says that it is in deg"),
        ("= 60", "= 60 deg", "its name says that it is in deg"),
        ("= 60", "= 60°", "its name says that it is in deg"),
    ] {
        let (code, text) = checked(from, to);
        assert_eq!(code, 2, "{text}");
        assert!(text.contains(says), "{to}: no {says:?} in {text}");
    }
}

#[test]
fn an_angle_that_looks_like_rad_and_a_branch_wider_than_its_parent_are_warned_of() {
    let [before, behind] = [
        "\ndiameter_mm = 2.0\npieces = [{ shape = \"straight\", length_mm = ",
        " }]",
    ];
    let (code, text) = checked(
        &format!("take_off_deg = 60{before}25{behind}"),
        &format!("take_off_deg = 2.1{before}40{behind}"),
    );
    assert_eq!(code, 0, "{text}");
    for says in [
        "line 18: take_off_deg of branch \"side\": 2.1 degrees is almost straight on",
        "2.1 rad would be 120.3 deg",
    ] {
        assert!(text.contains(says), "no {says:?} in {text}");
    }
    let (code, text) = checked("diameter_mm = 2.0", "diameter_mm = 4.0");
    assert_eq!(code, 0, "{text}");
    let says = "branch \"side\" is wider than its parent \"parent\": 4 mm against 3 mm";
    assert!(text.contains(says), "no {says:?} in {text}");
}

#[test]
fn a_bend_that_is_too_tight_points_at_its_piece() {
    let arc = "[\n  { shape = \"straight\", length_mm = 20 },\n  \
               { shape = \"arc\", radius_mm = 1.2, angle_deg = 90 },\n  \
               { shape = \"straight\", length_mm = 20 },\n]";
    let (code, text) = checked("[{ shape = \"straight\", length_mm = 40 }]", arc);
    assert_eq!(code, 2, "{text}");
    assert!(text.contains("my.toml:14:3]"), "{text}");
}

#[test]
fn a_start_file_that_exists_is_named_and_left() {
    let folder = tempfile::tempdir().unwrap();
    bare(folder.path());
    fs::write(folder.path().join("my.toml"), "mine").unwrap();
    let (code, text) = said(folder.path(), &["check", "y.csv", "--start", "my.toml"]);
    assert_eq!(code, 2, "{text}");
    assert!(text.contains("my.toml exists already"), "{text}");
    assert!(text.contains("does not exist yet"), "{text}");
    let kept = fs::read_to_string(folder.path().join("my.toml")).unwrap();
    assert_eq!(kept, "mine");
}

/// What was guessed is said where the result is read, with the line that states it.
#[test]
fn what_was_guessed_of_a_bare_file_stands_in_words_in_check_and_report() {
    let folder = tempfile::tempdir().unwrap();
    bare(folder.path());
    let (code, text) = said(folder.path(), &["check", "y.csv", "--start", "my.toml"]);
    assert_eq!(code, 0, "{text}");
    assert!(text.contains("inlet: the widest end"), "{text}");
    assert!(!text.contains("nearest to inlet_mm"), "{text}");
    let run = ["run", "my.toml", "--out", "results", "--trials", "1"];
    let (code, text) = said(folder.path(), &run);
    assert_eq!(code, 0, "{text}");
    let report = fs::read_to_string(folder.path().join("results/report.md")).unwrap();
    for says in [
        "Guessed because nobody states it, or doubtful:",
        "units = \"mm\" (",
        "frame = \"left-posterior-superior\" (",
        "inlet_mm = [0.00, 0.00, 0.00] (",
        "delete the mark",
    ] {
        assert!(report.contains(says), "no {says:?} in {report}");
    }
    // An answered guess is one no longer.
    let scenario = fs::read_to_string(folder.path().join("my.toml")).unwrap();
    let answered = scenario.replacen("units = \"mm\" # GUESS", "units = \"mm\" # known", 1);
    assert_ne!(answered, scenario);
    fs::write(folder.path().join("my.toml"), answered).unwrap();
    let (_, text) = said(folder.path(), &["check", "my.toml"]);
    assert!(!text.contains("units = \"mm\" ("), "{text}");
    assert!(text.contains("inlet_mm = [0.00, 0.00, 0.00] ("), "{text}");
}
