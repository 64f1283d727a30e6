//! `bendwise evidence` on the real binary: what it says of a short scenario does not depend on threads or
//! stops, and what it writes holds every answer.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use std::fs;

use predicates::prelude::*;
use predicates::str::contains;
use tempfile::TempDir;

use crate::in_folder::{bendwise, folder_of};

const SHORT: &str = short_way!("", "", "");

fn folder() -> TempDir {
    folder_of(&[("short.toml", SHORT)])
}

/// The command on the short scenario with the check that takes least time.
fn review(folder: &TempDir, out: &str, more: &[&str]) -> assert_cmd::assert::Assert {
    let words = [
        "evidence",
        "short.toml",
        "--out",
        out,
        "--only",
        "core",
        "--trials",
        "2",
        "--rows",
        "2",
    ];
    bendwise(folder, &[&words[..], more].concat()).assert()
}

fn read(folder: &TempDir, name: &str) -> String {
    fs::read_to_string(folder.path().join(name)).unwrap()
}

#[test]
fn threads_and_a_stop_half_way_leave_the_same_findings() {
    let folder = folder();
    review(&folder, "one", &["--threads", "1"])
        .success()
        .stdout(contains("1 of 1 checks hold").and(contains("push, soft: ")));
    review(&folder, "halves", &["--at-most", "7", "--threads", "2"])
        .success()
        .stdout(contains("stopped after 7 new trials"));
    assert!(!folder.path().join("halves").exists());
    review(&folder, "halves", &["--threads", "2"]).success();
    let [one, halves] = ["one", "halves"].map(|out| read(&folder, &format!("{out}/evidence.json")));
    assert!(one == halves, "evidence.json differs");
    let found: serde_json::Value = serde_json::from_str(&one).unwrap();
    let converged = &found["converged"][0];
    assert_eq!(converged["draws"], 2);
    // Step, edge, contact spacing, tolerance and wall, each alone, for three forces.
    let forces = converged["forces"].as_array().unwrap();
    assert_eq!(forces.len(), 3);
    assert!(
        forces
            .iter()
            .all(|f| f["alone"].as_array().unwrap().len() == 5)
    );
    assert!(forces.iter().all(|f| f["together"]["draws"] == 2));
    // Success and three forces, each over five inputs: a push takes no turns.
    let hangs = found["hangs_on"].as_array().unwrap();
    assert_eq!(hangs.len(), 4);
    assert!(
        hangs
            .iter()
            .all(|h| h["effects"].as_array().unwrap().len() == 5)
    );
    let page = read(&folder, "one/report.html");
    for part in [
        "Was the program checked?",
        "Is the result converged?",
        "What does the result hang on?",
        "Is it inside what was checked?",
        "not for clinical decisions",
        converged["verdict"].as_str().unwrap(),
    ] {
        assert!(page.contains(part), "{part}");
    }
}

#[test]
fn without_a_scenario_the_checks_alone_are_carried_out() {
    let folder = folder();
    let words = ["evidence", "--only", "core,ring", "--out", "out"];
    bendwise(&folder, &words)
        .assert()
        .success()
        .stdout(contains("2 of 2 checks hold"));
    let checks: serde_json::Value =
        serde_json::from_str(&read(&folder, "out/checks.json")).unwrap();
    assert_eq!(checks["hold"], 2);
    let ring = &checks["checks"][0];
    assert_eq!(ring["name"], "ring");
    assert!(!ring["readings"].as_array().unwrap().is_empty());
    bendwise(&folder, &words)
        .assert()
        .code(2)
        .stderr(contains("--overwrite"));
    bendwise(&folder, &["evidence", "--list"])
        .assert()
        .success()
        .stdout(contains("bend-with-friction").and(contains("tip-load")));
}

#[test]
fn wrong_options_are_refused_with_what_is_allowed() {
    let folder = folder();
    for (option, value, said) in [
        ("--spread", "friction=2:1", "LOW has to be below HIGH"),
        ("--spread", "colour=1:2", "friction, tip-load"),
        ("--spread", "friction=1", "NAME=LOW:HIGH"),
        ("--only", "rings", "allowed are cantilever, circle"),
        ("--within", "0", "allowed is a number from 0.01 to 100"),
        ("--rows", "-1", "a whole number from 0"),
    ] {
        let words = ["evidence", "short.toml", "--out", "out", option, value];
        bendwise(&folder, &words)
            .assert()
            .code(2)
            .stderr(contains(said));
    }
}
