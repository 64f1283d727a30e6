//! `bendwise check` refuses wrong input with exit status 2 and one message that names file, line,
//! field, value and what is allowed.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

mod catheters;
mod form;
mod motion;
mod techniques;
mod together;
mod values;

use assert_cmd::cargo::cargo_bin_cmd;
use std::fs;
use std::path::Path;

/// A scenario in which nothing is wrong.
const SOUND: &str = r#"name = "test"
origin = "invented"
description = "A vessel with one branch."

[study]
trials = 4

[vessel]

[[vessel.branch]]
name = "parent"
diameter_mm = 3.0
pieces = [{ shape = "straight", length_mm = 60 }]

[[vessel.branch]] # the side branch
name = "side"
parent = "parent"
at_mm = 30
take_off_deg = 90
diameters_mm = [[0, 2.0], [25, 1.5]]
pieces = [{ shape = "arc", radius_mm = 12, angle_deg = 60 }, { shape = "straight", length_mm = 15 }]

[guide]
branch = "parent"

[target]
branch = "side"
max_fed_mm = 80

[[wire]]
name = "soft"
diameter_mm = 0.3556
tip_load_gf = 0.3
core_mm = [[20, 0.06], [200, 0.18]]
friction = 0.05
bend = { length_mm = 2, angle_deg = 45 }

[[technique]]
kind = "push"

[[technique]]
kind = "redirect"
attempts = 5
"#;

/// Exit status and what went to standard error for the scenario file `file` of `folder`.
fn check(folder: &Path, file: &str) -> (i32, String) {
    let output = cargo_bin_cmd!("bendwise")
        .current_dir(folder)
        .args(["check", file])
        .output()
        .unwrap();
    let code = output.status.code().unwrap();
    (code, String::from_utf8(output.stderr).unwrap())
}

/// The message by which the sound scenario with `old` replaced by `new` is refused.
pub fn message(old: &str, new: &str) -> String {
    assert_eq!(SOUND.matches(old).count(), 1, "{old} must stand once");
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("wrong.toml"), SOUND.replace(old, new)).unwrap();
    let (code, message) = check(folder.path(), "wrong.toml");
    assert_eq!(code, 2, "exit status; message:\n{message}");
    message
}

/// The sound scenario with `old` replaced by `new` is refused; the message points at the line
/// that holds `at` and contains every text of `says`.
fn refused_at(old: &str, new: &str, at: &str, says: &[&str]) {
    let message = message(old, new);
    let text = SOUND.replace(old, new);
    let line = text.lines().position(|line| line.contains(at)).unwrap() + 1;
    let place = format!("wrong.toml:{line}:");
    assert!(message.contains(&place), "no {place} in:\n{message}");
    for text in says {
        assert!(message.contains(text), "no '{text}' in:\n{message}");
    }
    let errors = message.matches('×').count();
    assert_eq!(errors, 1, "one message, not {errors}:\n{message}");
}

fn refused(old: &str, new: &str, says: &[&str]) {
    refused_at(old, new, new.lines().next().unwrap(), says);
}

#[test]
fn the_sound_scenario_passes() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("sound.toml"), SOUND).unwrap();
    let (code, message) = check(folder.path(), "sound.toml");
    assert_eq!((code, message.as_str()), (0, ""));
}
