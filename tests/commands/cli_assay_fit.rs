//! `bendwise assay` with `[[assay.fit]]`: joint fits, what is refused, and tip loads that disagree.
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

/// A wire in which nothing is wrong, without a vessel.
const SOUND: &str = r#"[[wire]]
name = "soft"
diameter_mm = 0.3556
tip_load_gf = 0.5
core_mm = [[20, 0.06], [200, 0.18]]
surface = "hydrophilic"
"#;

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
