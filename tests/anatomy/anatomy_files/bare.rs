//! `bendwise check` of a bare file.

use super::trees::{self, Telling};
use super::write::{Format, written};
use crate::anatomy_common::{bent_tube, obj, put, stl};
use assert_cmd::cargo::cargo_bin_cmd;
use std::fs;
use std::path::Path;

/// Exit status, standard output and standard error of the program in a folder.
pub fn bendwise(folder: &Path, args: &[&str]) -> (i32, String, String) {
    let output = cargo_bin_cmd!("bendwise")
        .current_dir(folder)
        .args(args)
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (
        output.status.code().unwrap(),
        text(output.stdout),
        text(output.stderr),
    )
}

/// A text with single blanks in place of line ends and margins.
pub fn words(text: &str) -> String {
    let parts = text.split_whitespace().filter(|part| *part != "\u{2502}");
    parts.collect::<Vec<_>>().join(" ")
}

/// The bare file is described and drawn, and a scenario is written that passes `check` and runs.
#[track_caller]
fn starts(folder: &Path, name: &str, says: &[&str]) -> String {
    let (code, out, err) = bendwise(
        folder,
        &["check", name, "--picture", "pictures", "--start", "my.toml"],
    );
    assert_eq!(code, 0, "{name}: {err}");
    assert!(folder.join("pictures/tree.png").is_file());
    for text in [&["VESSEL FILE", "tortuosity", "units are a guess"], says].concat() {
        assert!(out.contains(text), "{name}: no {text:?} in\n{out}");
    }
    let scenario = fs::read_to_string(folder.join("my.toml")).unwrap();
    for text in ["units = ", "GUESS", "frame = ", "smooth_mm = ", "cut_inlet"] {
        assert!(
            scenario.contains(text),
            "{name}: no {text:?} in\n{scenario}"
        );
    }
    let (code, _, err) = bendwise(folder, &["check", "my.toml"]);
    assert_eq!(code, 0, "{name}: {err}");
    let run = [
        "run",
        "my.toml",
        "--out",
        "out",
        "--trials",
        "2",
        "--quiet",
        "--overwrite",
    ];
    let (code, _, err) = bendwise(folder, &run);
    assert_eq!(code, 0, "{name}: {err}");
    fs::remove_file(folder.join("my.toml")).unwrap();
    scenario
}

#[test]
fn a_bare_file_of_each_format_is_described_drawn_and_started_from() {
    let folder = tempfile::tempdir().unwrap();
    let tree = trees::tree(&mut trees::rng(7));
    let lines = tree.told(Telling::Branches);
    let parents: Vec<Option<usize>> = tree.branches.iter().map(|b| b.parent).collect();
    for format in [Format::Vtp, Format::LegacyText, Format::Csv, Format::Swc] {
        let name = format!("tree.{}", format.ending());
        put(folder.path(), &name, written(format, &lines, &parents, 0.1));
        let scenario = starts(folder.path(), &name, &["units cm", "the frame is a guess"]);
        assert!(scenario.contains("units = \"cm\" # GUESS"), "{scenario}");
        assert!(
            scenario.contains(&format!("file = \"{name}\"")),
            "{scenario}"
        );
    }
}

#[test]
fn a_single_vessel_is_divided_so_that_there_is_a_target() {
    let folder = tempfile::tempdir().unwrap();
    let mesh = bent_tube(15.0, 12.0, 1.5, 1.6, 60, 20);
    put(folder.path(), "tube.stl", stl(&mesh));
    let scenario = starts(folder.path(), "tube.stl", &["one vessel and no branch"]);
    assert!(scenario.contains("divide_at_mm = "), "{scenario}");
    assert!(
        scenario.contains("# GUESS: one vessel and no branch"),
        "{scenario}"
    );
    put(folder.path(), "tube.obj", obj(&mesh));
    starts(folder.path(), "tube.obj", &[]);
}

#[test]
fn what_is_said_on_the_command_line_is_no_guess() {
    let folder = tempfile::tempdir().unwrap();
    let tree = trees::tree(&mut trees::rng(7));
    let lines = tree.told(Telling::FromInlet);
    put(
        folder.path(),
        "tree.vtp",
        written(Format::Vtp, &lines, &[], 1.0),
    );
    let said = ["check", "tree.vtp", "--units", "mm", "--frame", "RAS"];
    let (code, out, err) = bendwise(folder.path(), &said);
    assert_eq!(code, 0, "{err}");
    assert!(!out.contains("guess"), "{out}");
    assert!(out.contains("frame right-anterior-superior"), "{out}");
    assert!(
        out.contains("--picture") && out.contains("--start"),
        "{out}"
    );
    // Nothing is written, and nothing overwritten.
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    put(folder.path(), "mine.toml", "mine");
    let (code, _, err) = bendwise(
        folder.path(),
        &["check", "tree.vtp", "--start", "mine.toml"],
    );
    assert_eq!(code, 2, "{err}");
    assert_eq!(
        fs::read_to_string(folder.path().join("mine.toml")).unwrap(),
        "mine"
    );
}

/// Where the picture cannot be drawn no scenario is left, so that the command can be given again.
#[test]
fn a_scenario_is_written_last() {
    let folder = tempfile::tempdir().unwrap();
    let tree = trees::tree(&mut trees::rng(7));
    let lines = tree.told(Telling::FromInlet);
    put(
        folder.path(),
        "tree.vtp",
        written(Format::Vtp, &lines, &[], 1.0),
    );
    put(folder.path(), "pictures", "a file, not a folder");
    let said = [
        "check",
        "tree.vtp",
        "--picture",
        "pictures",
        "--start",
        "my.toml",
    ];
    let (code, _, err) = bendwise(folder.path(), &said);
    assert_ne!(code, 0, "{err}");
    assert!(!folder.path().join("my.toml").exists());
    fs::remove_file(folder.path().join("pictures")).unwrap();
    let (code, _, err) = bendwise(folder.path(), &said);
    assert_eq!(code, 0, "{err}");
    assert!(folder.path().join("my.toml").exists());
}

/// A file without a tree has no picture of it.
#[test]
fn a_picture_of_a_file_without_a_tree_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    put(folder.path(), "wires.toml", "[[wire]]\nname = \"a\"\n");
    put(folder.path(), "sweep.toml", "scenario = \"base.toml\"\n");
    for file in ["wires.toml", "sweep.toml"] {
        let said = ["check", file, "--picture", "pictures"];
        let (code, _, err) = bendwise(folder.path(), &said);
        assert_eq!(code, 2, "{err}");
        assert!(err.contains("--picture draws"), "{err}");
        assert!(!folder.path().join("pictures").exists());
    }
}

/// Names go out with the lines, and come in again.
#[test]
fn exported_lines_carry_the_names_of_their_branches() {
    let folder = tempfile::tempdir().unwrap();
    let tree = trees::tree(&mut trees::rng(7));
    let lines = tree.told(Telling::FromInlet);
    put(
        folder.path(),
        "tree.vtp",
        written(Format::Vtp, &lines, &[], 1.0),
    );
    let (code, _, err) = bendwise(folder.path(), &["check", "tree.vtp", "--start", "my.toml"]);
    assert_eq!(code, 0, "{err}");
    let text = fs::read_to_string(folder.path().join("my.toml")).unwrap();
    let named = "[[vessel.name]]\ntip = 1\nname = \"distal\"\n\n[guide]";
    put(folder.path(), "my.toml", text.replace("[guide]", named));
    let (code, _, err) = bendwise(folder.path(), &["export", "my.toml", "--out", "out"]);
    assert_eq!(code, 0, "{err}");
    let said = [
        "check",
        "out/centrelines.vtp",
        "--units",
        "mm",
        "--frame",
        "scene",
    ];
    let (code, out, err) = bendwise(folder.path(), &said);
    assert_eq!(code, 0, "{err}");
    assert!(out.contains("distal"), "{out}");
}

/// A half circle of 1.3 mm radius in a lumen of 2 mm: kept as it is, it is the union of its balls,
/// and trials run there.
#[test]
fn a_fold_that_is_kept_becomes_the_union_of_balls_and_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let mut table = String::from("x,y,z,r\n");
    for i in 0..40 {
        table += &format!("{},0,0,2\n", 0.5 * f64::from(i) - 20.0);
    }
    for i in 0..=10 {
        let a = std::f64::consts::PI * f64::from(i) / 10.0;
        table += &format!("{},{},0,2\n", 1.3 * a.sin(), 1.3 - 1.3 * a.cos());
    }
    for i in 1..=40 {
        table += &format!("{},2.6,0,2\n", -0.5 * f64::from(i));
    }
    put(folder.path(), "fold.csv", table);
    let said = ["check", "fold.csv", "--units", "mm", "--start", "my.toml"];
    let (code, _, err) = bendwise(folder.path(), &said);
    assert_eq!(code, 0, "{err}");
    let text = fs::read_to_string(folder.path().join("my.toml")).unwrap();
    let kept = text.replace("tight_bends = \"eased\"", "tight_bends = \"kept\"");
    let kept = kept.replace("smooth_mm = 1 ", "smooth_mm = 0.3 ");
    put(folder.path(), "my.toml", kept);
    let (code, out, err) = bendwise(folder.path(), &["check", "my.toml"]);
    assert_eq!(code, 0, "{err}");
    let words = out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("the lumen is the union of the balls"),
        "{out}"
    );
    let run = ["run", "my.toml", "--out", "out", "--trials", "2", "--quiet"];
    let (code, _, err) = bendwise(folder.path(), &run);
    assert_eq!(code, 0, "{err}");
    let summary = fs::read_to_string(folder.path().join("out/summary.json")).unwrap();
    let summary: serde_json::Value = serde_json::from_str(&summary).unwrap();
    assert_eq!(summary["strategies"][0]["outcomes"]["unresolved"], 0);
}
