//! Input that would hang the program, make it panic or eat memory: it is taken within bounds, or
//! refused with the place, the reason and a remedy.
//!
//! `check` runs in a child process that the system stops beyond 256 MB of address space, which is
//! more than what is resident, or 5 s of processor time (longer in builds without optimisation).
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

mod bounds;
mod commands;
mod messages;
mod seeds;
mod sweeps;

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use tempfile::TempDir;

/// Most address space of a check in kB.
const MOST_MEMORY_KB: u32 = 256 * 1024;
/// Most processor time of a check in s; builds for debugging are some ten times slower.
const MOST_SECONDS: u32 = if cfg!(debug_assertions) { 60 } else { 5 };

/// A small scenario that can be changed by replacing parts of it.
const SCENARIO: &str = r#"name = "small"
origin = "invented"
description = "a vessel with a branch"

[study]
trials = 2
seed = 1

[vessel]
[[vessel.branch]]
name = "parent"
diameter_mm = 3
pieces = [{ shape = "straight", length_mm = 40 }]
[[vessel.branch]]
name = "side"
parent = "parent"
at_mm = 20
take_off_deg = 60
diameter_mm = 2
pieces = [{ shape = "straight", length_mm = 20 }]

[guide]
branch = "parent"

[target]
branch = "side"
beyond_ostium_mm = 4
max_fed_mm = 60

[[wire]]
name = "soft"
diameter_mm = 0.3556
tip_load_gf = 1
core_mm = [[20, 0.07], [100, 0.13], [250, 0.18]]
friction = 0.02
bend = { length_mm = 4, angle_deg = 60 }

[[technique]]
kind = "push"
"#;

/// The scenario with some of its text replaced.
fn scenario(changes: &[(&str, &str)]) -> String {
    let change = |text: String, (from, to): &(&str, &str)| {
        assert!(text.contains(from), "{from}");
        text.replacen(from, to, 1)
    };
    changes.iter().fold(SCENARIO.to_owned(), change)
}

/// A folder with one file in it.
fn folder_with(name: &str, text: impl AsRef<[u8]>) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join(name), text).unwrap();
    folder
}

/// Runs `bendwise` within the bounds.
fn bounded(folder: &Path, args: &[&str]) -> Output {
    let script =
        format!("ulimit -v {MOST_MEMORY_KB}; ulimit -t {MOST_SECONDS}; exec \"$0\" \"$@\"");
    Command::new("sh")
        .args(["-c", &script, env!("CARGO_BIN_EXE_bendwise")])
        .args(args)
        .current_dir(folder)
        .output()
        .unwrap()
}

/// The exit status and all that was said.
fn said(output: &Output) -> (Option<i32>, String) {
    let text = [&output.stdout[..], &output.stderr[..]].concat();
    (
        output.status.code(),
        String::from_utf8_lossy(&text).into_owned(),
    )
}

/// Checks a text as a file; it must be taken or refused within the bounds, and briefly.
fn checked(text: impl AsRef<[u8]>) -> (Option<i32>, String) {
    let folder = folder_with("a.toml", text);
    let output = bounded(folder.path(), &["check", "a.toml"]);
    let (code, text) = said(&output);
    assert!(
        matches!(code, Some(0 | 2)),
        "{code:?} {}",
        &text[..text.len().min(500)]
    );
    if code == Some(2) {
        assert!(text.len() < 5000, "{} bytes: {}", text.len(), &text[..500]);
    }
    (code, text)
}

/// Checks a text that must be refused in these words.
fn refused(text: impl AsRef<[u8]>, words: &[&str]) {
    let (code, said) = checked(text);
    assert_eq!(code, Some(2), "{said}");
    for word in words {
        assert!(said.contains(word), "no {word:?} in {said}");
    }
}
