//! One discipline for every command that writes a folder: nobody's files are touched, no kept trial
//! is lost, and what was damaged is computed again or refused.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

mod changed_bytes;
mod company;
mod gathered;
mod others_files;

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use tempfile::TempDir;

pub use crate::files_below::files_below as files;
pub use crate::in_folder::bendwise;
use crate::in_folder::folder_of;

/// A short way with a view, one strategy.
const SHORT: &str = short_way!(
    r#"[study]
trials = 4
recorded = 1

"#,
    "",
    r#"
[view]
patient_frame = ["left", "head", "front"]
current = "RAO 30"
"#
);

/// Two points with two trials each.
const SWEEP: &str = r#"name = "short-sweep"
description = "A short sweep."
scenario = "short.toml"

[design]
kind = "grid"
trials = 2

[[parameter]]
path = "wire.soft.bend.length_mm"
name = "bend length"
levels = [1, 3]
"#;

/// Commands that write into --out, by their words before it; `share` is a share of the sweep.
const COMMANDS: [&[&str]; 7] = [
    &["run", "short.toml", "--quiet", "--trials", "2"],
    &["view", "short.toml", "--quiet", "--no-runs"],
    &["sweep", "sweep.toml", "--quiet"],
    &["export", "short.toml"],
    &["assay", "short.toml", "--quiet", "--only", "tip-load"],
    &["gather", "share", "--quiet"],
    &["evidence", "--quiet", "--only", "core"],
];

fn folder() -> TempDir {
    folder_of(&[("short.toml", SHORT), ("sweep.toml", SWEEP)])
}

fn with_out(folder: &TempDir, words: &[&str], more: &[&str]) -> Command {
    bendwise(folder, &[words, &["--out", "out"], more].concat())
}

fn make_share(folder: &TempDir) {
    let words = ["sweep", "sweep.toml", "--quiet", "--shard", "1/1"];
    bendwise(folder, &[&words[..], &["--out", "share"]].concat())
        .assert()
        .success();
}

/// Names in a folder, sorted.
fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<String> = entries
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}
