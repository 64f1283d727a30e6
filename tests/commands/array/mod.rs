//! A sweep in shares, as a cluster computes it: `sweep --array`, `share`, `status`, `gather`.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

mod balance;
mod engines;
mod joined;
mod many;
mod refused;
mod slurm;
mod stopped;

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use assert_cmd::assert::Assert;
use tempfile::TempDir;

use crate::files_below::files_below;
use crate::in_folder::{bendwise, folder_of};
use crate::sweep_command::{SHORT, SWEEP};

/// A folder with a sweep of six points with so many trials each.
fn folder(trials: usize) -> TempDir {
    let sweep = SWEEP.replace("trials = 3", &format!("trials = {trials}"));
    folder_of(&[("short.toml", SHORT), ("sweep.toml", &sweep)])
}

/// Writes an array of so many shares into `array`; nothing is measured.
fn array(folder: &TempDir, shares: usize) {
    array_of(folder, &shares.to_string()).success();
}

/// The command that does so, given.
fn array_of(folder: &TempDir, shares: &str) -> Assert {
    let words = [
        "sweep",
        "sweep.toml",
        "--out",
        "array",
        "--measure",
        "0",
        "--array",
        shares,
    ];
    bendwise(folder, &words).assert()
}

/// Computes a share on one thread.
fn share(folder: &TempDir, number: usize) -> Command {
    let number = number.to_string();
    bendwise(
        folder,
        &["share", "array", &number, "--threads", "1", "--quiet"],
    )
}

/// What `status` says.
fn status(folder: &TempDir) -> String {
    let said = bendwise(folder, &["status", "array"]).assert().success();
    String::from_utf8(said.get_output().stdout.clone()).unwrap()
}

/// The sweep in one piece, in `whole`.
fn whole(folder: &TempDir) {
    bendwise(
        folder,
        &["sweep", "sweep.toml", "--quiet", "--out", "whole"],
    )
    .assert()
    .success();
}

/// The files in both folders are the same, byte for byte.
fn assert_same(folder: &TempDir, first: &str, second: &str) {
    let [first, second] = [first, second].map(|name| files_below(&folder.path().join(name)));
    assert!(first.contains_key("trials.csv"));
    assert_eq!(
        first.keys().collect::<Vec<_>>(),
        second.keys().collect::<Vec<_>>()
    );
    for (name, bytes) in &first {
        assert!(*bytes == second[name], "{name} differs");
    }
}

fn text(folder: &TempDir, name: &str) -> String {
    fs::read_to_string(folder.path().join(name)).unwrap()
}

/// Whether a share is finished.
fn is_there(folder: &Path, number: usize) -> bool {
    folder
        .join(format!("array/shares/{number}/share.json"))
        .is_file()
}
