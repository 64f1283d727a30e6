//! `bendwise assay`: what it leaves, what it explains, what it refuses.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use assert_cmd::cargo::cargo_bin_cmd;
use predicates::prelude::*;
use predicates::str::contains;
use serde_json::Value;
use std::fs;

use crate::in_folder::{assay, written};

/// Two wires in which nothing is wrong, without a vessel.
const SOUND: &str = r#"name = "two"

[[wire]]
name = "soft"
diameter_mm = 0.3556
tip_load_gf = 0.5
core_mm = [[20, 0.06], [200, 0.18]]
surface = "hydrophilic"

[[wire]]
name = "shaped"
diameter_mm = 0.3556
tip_load_gf = 1.0
core_mm = [[20, 0.07], [200, 0.18]]
surface = "hydrophilic"
bend = { length_mm = 3, angle_deg = 45 }
"#;

const QUICK: &str = "tip-load,flexibility,three-point,pinch,kink,fit";

#[test]
fn a_file_with_wires_alone_gives_table_curves_figures_and_numbers() {
    let folder = tempfile::tempdir().unwrap();
    let mut curve = String::from("station_mm,deflection_mm,load_gf\n");
    for station in [20, 40, 60, 80, 100, 130] {
        curve += &format!("{station},0.2,{}\n", 1.5e-7 * f64::from(station).powi(3));
    }
    written(folder.path(), "measured.csv", &curve);
    let fit = "[[assay.fit]]\nname = \"found\"\nwire = \"soft\"\ncurve = \"measured.csv\"\n\
               test = \"three-point\"\nknots_mm = [20, 60, 130]\n";
    let file = written(folder.path(), "wires.toml", &format!("{SOUND}\n{fit}"));
    let run = |out: &str, threads: &str| {
        cargo_bin_cmd!("bendwise")
            .arg("assay")
            .arg(&file)
            .args(["--only", QUICK, "--threads", threads, "--out"])
            .arg(folder.path().join(out))
            .assert()
            .success()
            .stdout(
                contains("| reading | unit | soft | shaped |")
                    .and(contains("Tip load"))
                    .and(contains("not for clinical decisions")),
            );
    };
    run("one", "1");
    run("two", "2");
    let read = |out: &str, name: &str| fs::read(folder.path().join(out).join(name)).unwrap();
    let summary: Value = serde_json::from_slice(&read("one", "assay.json")).unwrap();
    assert_eq!(summary["wires"].as_array().unwrap().len(), 2);
    let tests = summary["tests"].as_array().unwrap();
    let names: Vec<_> = tests.iter().map(|t| t["test"].as_str().unwrap()).collect();
    assert_eq!(
        names.join(","),
        "tip-load,flexibility,three-point,pinch,kink,fit"
    );
    for test in tests {
        let name = test["test"].as_str().unwrap();
        let readings = test["readings"].as_array().unwrap();
        assert!(!readings.is_empty(), "{name}");
        for reading in readings {
            let value = &reading["value"];
            assert!(
                value.is_f64() || value.is_null() && reading["note"].is_string(),
                "{reading}"
            );
        }
        for file in [
            format!("curves/{name}.csv"),
            format!("figures/{name}.png"),
            format!("figures/{name}.svg"),
        ] {
            let bytes = read("one", &file);
            assert!(bytes.len() > 100, "{file}");
            assert_eq!(bytes, read("two", &file), "{file} depends on the threads");
        }
        let curve = String::from_utf8(read("one", &format!("curves/{name}.csv"))).unwrap();
        assert!(curve.starts_with("wire,condition,"), "{curve}");
    }
    for name in ["assay.json", "report.md", "wires/found.toml"] {
        assert_eq!(
            read("one", name),
            read("two", name),
            "{name} depends on the threads"
        );
    }
    // Where no reading reaches is said in the page, in the wire and in the curves.
    let page = String::from_utf8(read("one", "report.md")).unwrap();
    assert!(
        page.contains("## Remarks") && page.contains("No reading reaches the wire 0 to 10 mm"),
        "{page}"
    );
    let wire = String::from_utf8(read("one", "wires/found.toml")).unwrap();
    assert!(
        wire.contains("# not reached by any reading, the stiffness of \"soft\":"),
        "{wire}"
    );
    let rows = String::from_utf8(read("one", "curves/fit.csv")).unwrap();
    assert!(
        rows.lines()
            .any(|row| row.contains("whole profile") && row.ends_with(",0")),
        "{rows}"
    );
    let figure = String::from_utf8(read("one", "figures/fit.svg")).unwrap();
    for words in [
        "wire as described",
        "no reading reaches: as described",
        "measured.csv, three-point bending",
    ] {
        assert!(figure.contains(words), "{words}");
    }
    // A disc for each of the six readings, over the profile and beside it.
    assert_eq!(
        figure.matches("<circle").count(),
        6 + 6 + 1,
        "readings in both panels and one in the key"
    );
    let residuals = String::from_utf8(read("one", "curves/fit-residuals-found.csv")).unwrap();
    assert_eq!(residuals.lines().count(), 7, "{residuals}");
    // The wire that was fitted is a file for the bench itself.
    cargo_bin_cmd!("bendwise")
        .arg("check")
        .arg(folder.path().join("one/wires/found.toml"))
        .assert()
        .success()
        .stdout(contains("found"));
}

#[test]
fn the_wires_of_a_scenario_can_be_measured_too() {
    let folder = tempfile::tempdir().unwrap();
    cargo_bin_cmd!("bendwise")
        .args([
            "assay",
            "scenarios/side-branch.toml",
            "--only",
            "pinch",
            "--quiet",
            "--out",
        ])
        .arg(folder.path().join("out"))
        .assert()
        .success();
    let text = fs::read_to_string(folder.path().join("out/report.md")).unwrap();
    assert!(text.contains("workhorse 1 gf") && text.contains("true coefficient"));
}

#[test]
fn an_existing_result_is_kept_unless_it_is_to_be_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let file = written(folder.path(), "wires.toml", SOUND);
    let out = folder.path().join("out");
    fs::create_dir(&out).unwrap();
    fs::write(out.join("mine.txt"), "kept").unwrap();
    let mut command = cargo_bin_cmd!("bendwise");
    command
        .arg("assay")
        .arg(&file)
        .args(["--only", "pinch", "--out"])
        .arg(&out);
    command.assert().code(2).stderr(contains("--overwrite"));
    assert_eq!(fs::read_to_string(out.join("mine.txt")).unwrap(), "kept");
    let refused = command.arg("--overwrite").assert().code(2);
    refused.stderr(contains("did not write").and(contains("mine.txt")));
    assert_eq!(fs::read_to_string(out.join("mine.txt")).unwrap(), "kept");
    fs::remove_file(out.join("mine.txt")).unwrap();
    for _ in 0..2 {
        command.assert().success();
        assert!(out.join("assay.json").exists());
    }
}

#[test]
fn the_list_explains_every_test_with_its_source() {
    let output = cargo_bin_cmd!("bendwise")
        .args(["assay", "--list"])
        .output()
        .unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(output.status.success());
    for name in [
        "tip-load",
        "flexibility",
        "three-point",
        "torque",
        "track",
        "pinch",
        "kink",
        "straightening",
        "fit",
    ] {
        assert!(
            text.lines()
                .any(|line| line.starts_with(&format!("{name} ("))),
            "{name}"
        );
    }
    assert_eq!(text.matches("Source: ").count(), 9);
    assert!(text.contains("common practice, no source"));
    assert!(text.contains("not for clinical decisions"));
}

#[test]
fn a_file_of_wires_cannot_be_run_and_says_what_to_do() {
    let folder = tempfile::tempdir().unwrap();
    let file = written(folder.path(), "wires.toml", SOUND);
    cargo_bin_cmd!("bendwise")
        .arg("run")
        .arg(&file)
        .arg("--out")
        .arg(folder.path().join("out"))
        .assert()
        .code(2)
        .stderr(contains("bendwise assay"));
    cargo_bin_cmd!("bendwise")
        .arg("check")
        .arg(&file)
        .assert()
        .success()
        .stdout(contains("BENDING STIFFNESS").and(contains("shaped")));
}

#[test]
fn wrong_settings_are_refused_with_line_value_and_what_is_allowed() {
    for (added, says) in [
        (
            "[assay]\nthree_point = { stations_mm = [400] }",
            "described up to 200 mm",
        ),
        (
            "[assay]\nthree_point = { stations_mm = [3] }",
            "straight and described from",
        ),
        (
            "[assay]\nthree_point = { span_mm = 500 }",
            "allowed is a span up to",
        ),
        (
            "[assay]\nthree_point = { span_mm = 20, deflection_mm = 5 }",
            "a tenth of the span",
        ),
        (
            "[assay]\nthree_point = { stations_mm = [50, 40] }",
            "rising numbers",
        ),
        (
            "[assay]\nedge_mm = 1\nflexibility = { held_mm = [1.5, 10] }",
            "two edges",
        ),
        (
            "[assay]\nedge_mm = 5\ntip_load = { held_mm = 8 }",
            "two edges",
        ),
        ("[assay]\nkink = { stations_mm = [4] }", "a loop takes"),
        (
            "[assay]\nflexibility = { angles_deg = [0.785] }",
            "looks like rad",
        ),
        ("[assay]\npinch = { clamp_N = 5 }", "clamp_gf"),
        (
            "[assay]\ntwisting = { turn_deg = 1 }",
            "unknown field twisting",
        ),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let (status, text) = assay(folder.path(), &format!("{SOUND}\n{added}\n"));
        assert_eq!(status, 2, "{added}: {text}");
        assert!(text.contains(says), "{added}: {text}");
        assert!(text.contains("wires.toml:"), "{added}: {text}");
        assert!(!folder.path().join("out").exists(), "{added}");
    }
}

#[test]
fn a_file_without_a_wire_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    for without in ["[assay]\nedge_mm = 0.1\n", "name = \"empty\"\n", ""] {
        let (status, text) = assay(folder.path(), without);
        assert_eq!(status, 2, "{text}");
        assert!(text.contains("missing field wire"), "{text}");
    }
    let output = cargo_bin_cmd!("bendwise")
        .args(["assay", "nothing.toml", "--out", "never-made"])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("cannot read"));
}
