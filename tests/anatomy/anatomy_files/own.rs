//! What a person with files of their own is told: where points lie, which lines were turned, whether the
//! inlet is likely, what a vessel file given in place of a scenario is.

use crate::anatomy_common::{put, scenario};
use crate::anatomy_files::bare::{bendwise, words};
use std::fs;
use std::path::Path;

/// Rows of a line between two points of the file, in cm, 21 of them.
fn rows(name: &str, from: [f64; 3], to: [f64; 3], radius: f64) -> String {
    let row = |i: i32| {
        let at = |k: usize| from[k] + (to[k] - from[k]) * f64::from(i) / 20.0;
        format!("{name},{},{},{},{radius}\n", at(0), at(1), at(2))
    };
    (0..=20).map(row).collect()
}

/// A trunk of 40 mm along x and a side branch from its middle, which runs towards the inlet, in cm in
/// an image's frame (y to the back, z to the head).
fn tree() -> String {
    "branch,x,y,z,r\n".to_owned()
        + &rows("trunk", [0.0; 3], [4.0, 0.0, 0.0], 0.15)
        + &rows("side", [3.5, 0.0, 2.0], [2.0, 0.0, 0.0], 0.1)
}

const READ: &str = "file = \"tree.csv\"\nunits = \"cm\"\nframe = \"LPS\"";

fn checked(folder: &Path, vessel: &str, target: &str) -> (i32, String, String) {
    let text = scenario(vessel, "branch = \"branch-1\"", target, 90.0);
    put(folder, "my.toml", text);
    let (code, out, err) = bendwise(folder, &["check", "my.toml"]);
    (code, words(&out), words(&err))
}

#[test]
fn points_are_said_with_distance_and_frame_and_refused_far_off() {
    let folder = tempfile::tempdir().unwrap();
    put(folder.path(), "tree.csv", tree());
    let vessel = format!("{READ}\ninlet_mm = [0, 1, 0]");
    let (code, out, err) = checked(folder.path(), &vessel, "near_mm = [35, 21, 0]");
    assert_eq!(code, 0, "{err}");
    for text in [
        "turned 1 line: its points ran towards the inlet",
        "the end nearest to inlet_mm, at (0.0, 0.0, 0.0) mm, diameter 3.00 mm, 1.00 mm from the point",
        "near_mm of [target]: side at 25.0 mm, 1.00 mm from the point",
        "x to the patient's left, y to the head, z to the front",
    ] {
        assert!(out.contains(text), "no {text:?} in {out}");
    }
    // The tip of the side branch as the file has it, and a point that is nowhere.
    let (code, _, err) = checked(folder.path(), READ, "near_mm = [3.5, 0, 19]");
    assert_eq!(code, 2, "{err}");
    assert!(err.contains("from the nearest branch"), "{err}");
    assert!(err.contains("nearest are"), "{err}");
    let vessel = format!("{READ}\ninlet_mm = [0, 0, -30]");
    let (code, _, err) = checked(folder.path(), &vessel, "branch = \"side\"");
    assert_eq!(code, 2, "{err}");
    assert!(err.contains("30.0 mm from the nearest end"), "{err}");
    assert!(err.contains("allowed is up to 6.0 mm"), "{err}");
}

/// A Y whose stem is thinner than an arm that leaves it at 150 degrees.
#[test]
fn a_stem_thinner_than_an_arm_is_told_as_the_likely_inlet() {
    let folder = tempfile::tempdir().unwrap();
    let y = "branch,x,y,z,r\n".to_owned()
        + &rows("stem", [0.0; 3], [30.0, 0.0, 0.0], 1.3)
        + &rows("wide", [30.0, 0.0, 0.0], [56.0, 15.0, 0.0], 1.6)
        + &rows("thin", [30.0, 0.0, 0.0], [56.0, -15.0, 0.0], 1.2);
    put(folder.path(), "y.csv", y);
    let said = ["check", "y.csv", "--units", "mm", "--frame", "scene"];
    let (code, out, err) = bendwise(
        folder.path(),
        &[&said[..], &["--start", "my.toml"]].concat(),
    );
    assert_eq!(code, 0, "{err}");
    let out = words(&out);
    assert!(out.contains("the inlet may be another end"), "{out}");
    assert!(out.contains("inlet_mm = [0.00, 0.00, 0.00]"), "{out}");
    let start = fs::read_to_string(folder.path().join("my.toml")).unwrap();
    assert!(
        start.contains("inlet_mm = [56.00, 15.00, 0.00] # GUESS"),
        "{start}"
    );
    for table in ["[variation]", "[view]", "friction_cv = 0.2"] {
        assert!(start.contains(table), "{start}");
    }
    // Said, it is no guess any more.
    let stem = start.replace("[56.00, 15.00, 0.00] # GUESS", "[0, 0, 0] # said");
    let stem = stem.replace("[guide]\nbranch = \"wide\"", "[guide]\nbranch = \"stem\"");
    let stem = stem.replace("[target]\nbranch = \"stem\"", "[target]\nbranch = \"thin\"");
    put(folder.path(), "stem.toml", stem);
    let (code, out, err) = bendwise(folder.path(), &["check", "stem.toml"]);
    assert_eq!(code, 0, "{err}");
    assert!(!out.contains("the inlet may be"), "{out}");
}

#[test]
fn a_vessel_file_in_place_of_another_is_told_with_the_command_for_it() {
    let folder = tempfile::tempdir().unwrap();
    put(folder.path(), "tree.csv", tree());
    for command in ["run", "sweep", "view", "export", "assay"] {
        let (code, _, err) = bendwise(folder.path(), &[command, "tree.csv", "--out", "out"]);
        assert_eq!(code, 2, "{command}: {err}");
        let err = words(&err);
        assert!(
            err.contains("tree.csv is a vessel file, not"),
            "{command}: {err}"
        );
        assert!(
            err.contains("`bendwise check tree.csv --start my.toml`"),
            "{command}: {err}"
        );
    }
}

#[test]
fn a_run_repeats_how_its_anatomy_was_read_and_an_export_says_its_frame() {
    let folder = tempfile::tempdir().unwrap();
    put(folder.path(), "tree.csv", tree());
    let text = scenario(READ, "branch = \"branch-1\"", "branch = \"side\"", 90.0);
    put(folder.path(), "my.toml", text);
    let run = ["run", "my.toml", "--out", "out", "--trials", "1", "--quiet"];
    let (code, _, err) = bendwise(folder.path(), &run);
    assert_eq!(code, 0, "{err}");
    let report = fs::read_to_string(folder.path().join("out/report.md")).unwrap();
    let summary = fs::read_to_string(folder.path().join("out/summary.json")).unwrap();
    for text in [
        "units cm, frame left-posterior-superior",
        "turned: 1 line: its points ran towards the inlet",
        "largest shift: ",
    ] {
        assert!(
            report.contains(&format!("- {text}")),
            "no {text} in {report}"
        );
        assert!(summary.contains(text), "no {text} in {summary}");
    }
    assert!(report.contains("## Anatomy as read"), "{report}");
    let (code, out, err) = bendwise(folder.path(), &["export", "my.toml", "--out", "exported"]);
    assert_eq!(code, 0, "{err}");
    assert!(out.contains("lengths in mm, in the scene's frame"), "{out}");
    for file in ["centrelines.vtp", "centrelines.swc", "lumen.stl"] {
        let bytes = fs::read(folder.path().join("exported").join(file)).unwrap();
        let head = String::from_utf8_lossy(&bytes[..300]).into_owned();
        assert!(
            head.contains("x to the patient's left, y to the head"),
            "{file}: {head}"
        );
    }
}
