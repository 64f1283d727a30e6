//! `bendwise evidence` on the real binary: what it says of a short scenario does not depend on threads or
//! stops, and what it writes holds every answer.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use std::fs;
#[cfg(unix)]
use std::io::{BufRead, BufReader, Read};
#[cfg(unix)]
use std::process::{Command, Stdio};

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
        .stdout(
            contains("1 of 1 checks hold; ")
                .and(contains("checks of the catalogue were left out (--only)"))
                .and(contains("push, soft: "))
                .and(contains("hangs most on: ")),
        );
    review(&folder, "halves", &["--at-most", "7", "--threads", "2"])
        .success()
        .stdout(contains("stopped after 7 new trials"));
    assert!(!folder.path().join("halves").exists());
    review(&folder, "halves", &["--threads", "2"])
        .success()
        .stderr(contains("check core: holds").and(contains("kept from before")));
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
    // The numbers of a run of the same draws.
    bendwise(
        &folder,
        &[
            "run",
            "short.toml",
            "--out",
            "run",
            "--trials",
            "2",
            "--quiet",
        ],
    )
    .assert()
    .success();
    let run: serde_json::Value = serde_json::from_str(&read(&folder, "run/summary.json")).unwrap();
    for (force, entry) in forces.iter().zip(["push", "wall", "tip"]) {
        let own = &run["strategies"][0][format!("peak_{entry}_force_mN")];
        assert_eq!(force["reported"]["median_mn"], own["median"], "{entry}");
        assert_eq!(force["reported"]["p95_mn"], own["p95"], "{entry}");
    }
    let page = read(&folder, "one/report.html");
    for part in [
        "Was the program checked?",
        "Is the result converged?",
        "What does the result hang on?",
        "Is it inside what was checked?",
        "not for clinical decisions",
        "--trials 2 --rows 2 --within 5 --only core",
        found["content_hash"].as_str().unwrap(),
        "no check of these varies it",
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
    assert!(read(&folder, "out/checks.md").contains("| `ring` |"));
    bendwise(&folder, &words)
        .assert()
        .code(2)
        .stderr(contains("--overwrite"));
    // Refused before any work, with a scenario too.
    review(&folder, "out", &[])
        .code(2)
        .stderr(contains("--overwrite").and(contains("check core").not()));
    bendwise(&folder, &["evidence", "--list"])
        .assert()
        .success()
        .stdout(contains("bend-with-friction").and(contains("tip-load")));
}

/// A side branch at 105 degrees with edges so long that the second draw passes by it, which finer edges do not.
const COARSE: &str = r#"name = "flip"
origin = "invented"
description = "A side branch at 105 degrees with coarse settings."

[solver]
step_mm = 2.0
edge_mm = 3.0

[vessel]
carina_blend_mm = 0.5
wall_stiffness_mN_per_mm2 = 300

[[vessel.branch]]
name = "parent"
diameter_mm = 3.0
pieces = [{ shape = "straight", length_mm = 30 }]

[[vessel.branch]]
name = "side"
parent = "parent"
at_mm = 12
take_off_deg = 105
diameter_mm = 2.0
pieces = [{ shape = "straight", length_mm = 20 }]

[guide]
branch = "parent"

[target]
branch = "side"
beyond_ostium_mm = 5
astray_mm = 8
max_fed_mm = 60

[[wire]]
name = "workhorse"
diameter_mm = 0.3556
tip_load_gf = 1.0
core_mm = [[20, 0.07], [100, 0.13], [250, 0.18]]
surface = "hydrophilic"
bend = { length_mm = 5, angle_deg = 75 }

[[technique]]
kind = "redirect"
attempts = 1
withdraw_to_mm = 3

[variation]
roll_half_width_deg = 180
friction_cv = 0.2
turn_sd_deg = 5
diameter_cv = 0.05
bend_cv = 0.1
"#;

/// A changed outcome is listed, filmed with both settings, and both films are in the page.
#[test]
fn a_changed_outcome_is_filmed_as_it_is_and_with_finer_settings() {
    let folder = folder_of(&[("coarse.toml", COARSE)]);
    let words = [
        "evidence",
        "coarse.toml",
        "--only",
        "core",
        "--trials",
        "2",
        "--rows",
        "0",
        "--seed",
        "1",
        "--out",
        "out",
    ];
    bendwise(&folder, &words)
        .assert()
        .success()
        .stdout(contains("1 of 2 outcomes change with all settings finer"));
    let found: serde_json::Value =
        serde_json::from_str(&read(&folder, "out/evidence.json")).unwrap();
    let flip = found["converged"][0]["flips"]
        .as_array()
        .unwrap()
        .last()
        .unwrap();
    assert_eq!(flip["as_it_is"], "wrong_branch");
    assert_eq!(flip["finer"], "reached");
    let page = read(&folder, "out/report.html");
    for (tag, words) in [
        ("as-it-is", "as the scenario is"),
        ("finer", "with the finer setting"),
    ] {
        let name = format!("flip-redirect-workhorse-1-{tag}");
        let strip = read(&folder, &format!("out/figures/{name}.svg"));
        assert!(strip.contains("draw 1"), "{name}");
        assert!(page.contains(&format!("Draw 1, {words}.")), "{name}");
    }
}

/// Options of trials without a scenario are no wish that can be met.
#[test]
fn options_of_a_scenario_need_one() {
    let folder = folder();
    for option in ["--rows", "--trials", "--within", "--seed"] {
        bendwise(&folder, &["evidence", "--out", "out", option, "3"])
            .assert()
            .code(2)
            .stderr(contains("SCENARIO"));
    }
    bendwise(&folder, &["evidence", "--out", "out", "--at-most", "3"])
        .assert()
        .code(2)
        .stderr(contains("name a scenario"));
    assert!(!folder.path().join("out.partial").exists());
}

/// Ctrl-C while checks are carried out ends with status 75, and those that were done are not done again.
#[cfg(unix)]
#[test]
fn a_stop_between_checks_keeps_those_that_are_done() {
    let folder = folder();
    let words = [
        "evidence",
        "--only",
        "ring,precurved-wire,wire-in-catheter,two-bent-devices",
        "--threads",
        "1",
        "--out",
        "out",
    ];
    let mut child = Command::new(env!("CARGO_BIN_EXE_bendwise"))
        .current_dir(folder.path())
        .args(words)
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stderr = BufReader::new(child.stderr.take().unwrap());
    let mut first = String::new();
    stderr.read_line(&mut first).unwrap();
    assert!(first.contains("1 of 4, check "), "{first}");
    let pid = child.id().to_string();
    let sent = Command::new("kill").args(["-INT", &pid]).status();
    assert!(sent.unwrap().success());
    let mut rest = String::new();
    stderr.read_to_string(&mut rest).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(75), "{rest}");
    assert!(
        rest.contains("of 4 checks and experiments are kept in out.partial"),
        "{rest}"
    );
    assert!(!folder.path().join("out").exists());
    bendwise(&folder, &words)
        .assert()
        .success()
        .stderr(contains("kept from before"))
        .stdout(contains("4 of 4 checks hold"));
    assert!(!folder.path().join("out/rows").exists());
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
