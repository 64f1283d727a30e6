//! Engines that know nothing of the program: some lines in README, run as they are written there.

use std::path::Path;
use std::process::Command;

use super::{TempDir, array, assert_same, bendwise, folder, whole};
use crate::skipped::skipped;

const README: &str = include_str!("../../../README.md");

/// The lines of the first block of README whose first line is ` ```LANGUAGE`.
fn block(language: &str) -> String {
    let begin = format!("```{language}\n");
    let from = README.find(&begin).unwrap() + begin.len();
    let lines = &README[from..];
    lines[..lines.find("```").unwrap()].to_owned()
}

/// Whether a program is there; the test says loudly that it skips where it is not.
fn has(program: &str) -> bool {
    let found = Command::new(program).arg("--version").output();
    let found = found.is_ok_and(|said| said.status.success());
    if !found {
        skipped(&format!("{program} is not installed"));
    }
    found
}

/// Runs a command of the shell in the folder, the program found by its name.
fn shell(folder: &TempDir, text: &str) {
    let program = assert_cmd::cargo::cargo_bin!("bendwise");
    let own = Path::new(program).parent().unwrap().display().to_string();
    let path = format!("{own}:{}", std::env::var("PATH").unwrap_or_default());
    let said = Command::new("sh")
        .args(["-e", "-c", text])
        .current_dir(folder.path())
        .env("PATH", path)
        .output()
        .unwrap();
    let err = String::from_utf8_lossy(&said.stderr);
    assert!(said.status.success(), "{text}\n{err}");
}

#[test]
fn gnu_parallel_computes_the_shares_as_readme_says() {
    if !has("parallel") {
        return;
    }
    let folder = folder(1);
    array(&folder, 4);
    whole(&folder);
    shell(&folder, &block("sh parallel"));
    assert_same(&folder, "whole", "result");
}

#[test]
fn make_computes_the_shares_as_readme_says() {
    if !has("make") {
        return;
    }
    let folder = folder(1);
    array(&folder, 4);
    whole(&folder);
    std::fs::write(folder.path().join("Makefile"), block("make")).unwrap();
    shell(&folder, "make -s -j 2");
    assert_same(&folder, "whole", "result");
    bendwise(&folder, &["status", "array"]).assert().success();
}
