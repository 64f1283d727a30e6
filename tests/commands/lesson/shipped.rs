//! The lessons that come with the program: their trials bear out what they say.

use std::fs;
use std::path::Path;

use assert_cmd::cargo::cargo_bin_cmd;

use super::json;

/// Builds a shipped lesson.
fn builds(name: &str) {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join(name);
    cargo_bin_cmd!("bendwise")
        .current_dir(Path::new(env!("CARGO_MANIFEST_DIR")))
        .args([
            "lesson",
            &format!("scenarios/lessons/{name}.toml"),
            "--quiet",
            "--out",
        ])
        .arg(&out)
        .assert()
        .success();
    let size = fs::metadata(out.join("lesson.html")).expect("a page").len();
    assert!(size < 8_000_000, "{size} bytes");
    let built = json(&out);
    let pages = built["pages"].as_array().expect("pages");
    assert!(pages.len() >= 3);
    for page in pages {
        assert!(!page["claims"].as_array().expect("claims").is_empty());
    }
}

#[test]
fn a_soft_tip_follows_a_bend() {
    builds("soft-tip");
}

#[test]
fn length_and_angle_of_the_bend() {
    builds("tip-bend");
}

#[test]
fn what_to_do_beyond_120_degrees() {
    builds("backwards");
}

#[test]
fn why_the_view_matters() {
    builds("view");
}
