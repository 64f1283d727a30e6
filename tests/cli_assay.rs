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
use std::path::{Path, PathBuf};

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

fn written(folder: &Path, name: &str, text: &str) -> PathBuf {
    let path = folder.join(name);
    fs::write(&path, text).unwrap();
    path
}

/// Exit status and standard error of the tests that need no tube.
fn assay(folder: &Path, text: &str) -> (i32, String) {
    let file = written(folder, "wires.toml", text);
    let output = cargo_bin_cmd!("bendwise")
        .arg("assay")
        .arg(&file)
        .args(["--only", "three-point", "--out"])
        .arg(folder.join("out"))
        .output()
        .unwrap();
    let text = String::from_utf8_lossy(&output.stderr).into_owned();
    (output.status.code().unwrap(), text)
}

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
    command.arg("--overwrite").assert().success();
    assert!(out.join("assay.json").exists() && !out.join("mine.txt").exists());
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

#[test]
fn wrong_curves_are_refused_with_file_line_and_what_is_allowed() {
    let three = "station_mm,deflection_mm,load_mN\n";
    let rows = |rows: &str| format!("{three}{rows}");
    let good = "20,0.2,1\n40,0.2,2\n60,0.2,3\n80,0.2,4\n";
    for (curve, says) in [
        (rows("20,0.2,1\n40,0.2,2\n"), "readings: 2, knots: 2"),
        (
            rows("20,0.2,1\n60,0.2,2\n40,0.2,3\n80,0.2,4\n"),
            "stations must rise",
        ),
        (good.to_owned(), "no column station_mm"),
        (
            format!("station_mm,deflection_mm,load_kg\n{good}"),
            "not in a known unit",
        ),
        (
            format!("station_in,deflection_mm,load_mN\n{good}"),
            "not in a known unit",
        ),
        (rows("20,0.2,1\n40,0.2,-2\n60,0.2,3\n"), "load_mN is -2"),
        (rows("20,0.2,1\n40,0.2,much\n60,0.2,3\n"), "line 3"),
        (
            rows("20,0.2,1\n40,0.2,2e9\n60,0.2,3\n"),
            "unit of the column",
        ),
    ] {
        let folder = tempfile::tempdir().unwrap();
        written(folder.path(), "measured.csv", &curve);
        let fit = "[[assay.fit]]\nname = \"found\"\nwire = \"soft\"\ncurve = \"measured.csv\"\n\
                   test = \"three-point\"\nknots_mm = [20, 60]\n";
        let (status, text) = assay(folder.path(), &format!("{SOUND}\n{fit}"));
        assert_eq!(status, 2, "{curve}: {text}");
        assert!(text.contains(says), "{curve}: {text}");
        assert!(text.contains("measured.csv"), "{text}");
    }
    for (fit, says) in [
        (
            "name = \"found\"\nwire = \"sof\"\ncurve = \"a.csv\"\ntest = \"three-point\"\nknots_mm = [20, 60]",
            "did you mean soft",
        ),
        (
            "name = \"found\"\nwire = \"soft\"\ncurve = \"a.csv\"\ntest = \"three-point\"\nknots_mm = [20, 60]",
            "cannot be read",
        ),
        (
            "name = \"found\"\nwire = \"soft\"\ncurve = \"a.csv\"\ntest = \"four-point\"\nknots_mm = [20, 60]",
            "three-point",
        ),
        (
            "name = \"found\"\nwire = \"soft\"\ncurve = \"a.csv\"\ntest = \"three-point\"",
            "missing field knots_mm",
        ),
        (
            "name = \"soft\"\nwire = \"soft\"\ncurve = \"a.csv\"\ntest = \"three-point\"\nknots_mm = [20]",
            "stands before it",
        ),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let (status, text) = assay(folder.path(), &format!("{SOUND}\n[[assay.fit]]\n{fit}\n"));
        assert_eq!(status, 2, "{fit}: {text}");
        assert!(text.contains(says), "{fit}: {text}");
    }
}

#[test]
fn a_flexibility_curve_must_rise() {
    for (rows, says) in [
        (
            "5,45,2\n5,90,1\n10,45,1\n",
            "a larger angle takes a larger force",
        ),
        (
            "5,45,1\n5,30,2\n10,45,1\n",
            "angles at one held length must rise",
        ),
        ("10,45,1\n5,45,2\n5,90,3\n", "held lengths must not fall"),
        ("5,45,1\n5,140,2\n10,45,1\n", "up to 100 degrees"),
    ] {
        let folder = tempfile::tempdir().unwrap();
        written(
            folder.path(),
            "m.csv",
            &format!("held_mm,angle_deg,force_mN\n{rows}"),
        );
        let fit = "[[assay.fit]]\nname = \"found\"\nwire = \"soft\"\ncurve = \"m.csv\"\n\
                   test = \"flexibility\"\nknots_mm = [4, 16]\n";
        let (status, text) = assay(folder.path(), &format!("{SOUND}\n{fit}"));
        assert_eq!(status, 2, "{rows}: {text}");
        assert!(text.contains(says), "{rows}: {text}");
    }
}

#[test]
fn several_curves_and_a_tip_load_of_one_wire_are_fitted_in_one_go() {
    let folder = tempfile::tempdir().unwrap();
    // A uniform tip of 24.3 mN mm² (0.5 gf pinned): 45 degrees take 1.6041 B / L² (elastica).
    let mut bent = String::from("held_mm,angle_deg,force_mN\n");
    for held in [5.0, 10.0] {
        bent += &format!("{held},45,{}\n", 1.604_13 * 24.28 / (held * held));
    }
    written(folder.path(), "bent.csv", &bent);
    // 48 B d / L³ of the same stiffness.
    let pressed = "station_mm,deflection_mm,load_mN\n15,0.1,0.01457\n25,0.1,0.01457\n";
    written(folder.path(), "pressed.csv", pressed);
    let fit = "[[assay.fit]]\nname = \"found\"\nwire = \"soft\"\nknots_mm = [3, 20]\n\
               tip_load_gf = 0.5\ntip_load_error = 0.03\ncurves = [\n\
               { curve = \"bent.csv\", test = \"flexibility\", relative_error = 0.02 },\n\
               { curve = \"pressed.csv\", test = \"three-point\", relative_error = 0.02 },\n]\n\
               [assay]\nedge_mm = 0.2\n";
    let file = written(folder.path(), "wires.toml", &format!("{SOUND}\n{fit}"));
    let out = folder.path().join("out");
    cargo_bin_cmd!("bendwise")
        .arg("assay")
        .arg(&file)
        .args(["--only", "fit", "--out"])
        .arg(&out)
        .assert()
        .success()
        .stdout(contains("bent.csv").and(contains("tip load on average above the fit")));
    let summary: Value =
        serde_json::from_slice(&fs::read(out.join("assay.json")).unwrap()).unwrap();
    let readings = summary["tests"][0]["readings"].as_array().unwrap();
    let value = |key: &str| {
        let found = readings.iter().find(|r| r["key"] == key);
        found.and_then(|r| r["value"].as_f64()).unwrap()
    };
    for knot in [
        "found_stiffness_at_3_mm_N_mm2",
        "found_stiffness_at_20_mm_N_mm2",
    ] {
        assert!((value(knot) / 0.02428 - 1.0).abs() < 0.02, "{readings:?}");
    }
    assert!((value("found_tip_load_fixed_pinned_gf") / 0.5 - 1.0).abs() < 0.02);
    for set in 1..=3 {
        assert!(value(&format!("found_set_{set}_off_percent")).abs() < 2.0);
    }
}

#[test]
fn what_a_fit_cannot_use_is_refused_with_the_place() {
    let folder = tempfile::tempdir().unwrap();
    let rows = "station_mm,deflection_mm,load_mN\n60,0.2,1\n70,0.2,2\n80,0.2,3\n90,0.2,4\n";
    written(folder.path(), "m.csv", rows);
    let head = "name = \"found\"\nwire = \"soft\"\n";
    for (fit, says) in [
        (
            "curve = \"m.csv\"\ntest = \"three-point\"\nknots_mm = [5, 80]",
            "no reading reaches there: the curves reach 50 to 100 mm",
        ),
        (
            "curve = \"m.csv\"\ncurves = [{ curve = \"m.csv\", test = \"three-point\" }]\nknots_mm = [80]",
            "curves says it for each curve",
        ),
        ("curves = []\nknots_mm = [80]", "curve"),
        (
            "curve = \"m.csv\"\ntest = \"three-point\"\nknots_mm = [80]\ntip_load_error = 0.1",
            "no tip_load_gf is given",
        ),
    ] {
        let text = format!("{SOUND}\n[[assay.fit]]\n{head}{fit}\n");
        let (status, text) = assay(folder.path(), &text);
        assert_eq!(status, 2, "{fit}: {text}");
        assert!(text.contains(says), "{fit}: {text}");
        assert!(text.contains("wires.toml:"), "{fit}: {text}");
    }
}

#[test]
fn check_and_assay_warn_where_a_list_leaves_the_stated_tip_load() {
    let folder = tempfile::tempdir().unwrap();
    // 0.199 N mm² is what 0.5 gf gives for a free tip; 4.09 gf for a pinned one.
    let wire = "[[wire]]\nname = \"listed\"\ndiameter_mm = 0.3556\n\
                stiffness_N_mm2 = [[0, 0.199], [10, 0.199], [100, 2], [250, 6]]\n\
                tip_load_gf = 0.5\nsurface = \"hydrophilic\"\n";
    let says = |text: &str| {
        assert!(text.contains("0.500 gf is stated"), "{text}");
        assert!(text.contains("4.09"), "{text}");
        assert!(text.contains("measured fixed-free"), "{text}");
        assert!(text.contains("eightfold"), "{text}");
        assert!(text.contains("25 % off is tolerated"), "{text}");
    };
    let file = written(folder.path(), "listed.toml", wire);
    let output = cargo_bin_cmd!("bendwise")
        .arg("check")
        .arg(&file)
        .output()
        .unwrap();
    assert!(output.status.success());
    // The page of `check` breaks lines.
    let flat = |bytes: &[u8]| {
        let text = String::from_utf8_lossy(bytes).into_owned();
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    says(&flat(&output.stdout));
    let output = cargo_bin_cmd!("bendwise")
        .arg("assay")
        .arg(&file)
        .args(["--only", "three-point", "--out"])
        .arg(folder.path().join("out"))
        .output()
        .unwrap();
    assert!(output.status.success());
    says(&flat(&output.stderr));
    // The same list says nothing where the load is stated for a free tip.
    let free = format!("{wire}end_condition = \"fixed-free\"\n");
    let file = written(folder.path(), "free.toml", &free);
    cargo_bin_cmd!("bendwise")
        .arg("check")
        .arg(&file)
        .assert()
        .success()
        .stdout(contains("is stated").not());
}
