//! Commands that are given in a folder with some files.

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use assert_cmd::cargo::cargo_bin_cmd;
use tempfile::TempDir;

/// A file with a text.
pub fn written(folder: &Path, name: &str, text: &str) -> PathBuf {
    let path = folder.join(name);
    fs::write(&path, text).expect("a file of the test");
    path
}

/// A folder with files, told by name and text.
pub fn folder_of(files: &[(&str, &str)]) -> TempDir {
    let folder = tempfile::tempdir().expect("a folder of the test");
    for (name, text) in files {
        written(folder.path(), name, text);
    }
    folder
}

/// The program in a folder.
pub fn bendwise(folder: &TempDir, args: &[&str]) -> Command {
    let mut command = cargo_bin_cmd!("bendwise");
    command.current_dir(folder.path()).args(args);
    command
}

/// Exit status and standard error of the bench test that takes least time.
pub fn assay(folder: &Path, text: &str) -> (i32, String) {
    let file = written(folder, "wires.toml", text);
    let output = cargo_bin_cmd!("bendwise")
        .arg("assay")
        .arg(&file)
        .args(["--only", "three-point", "--out"])
        .arg(folder.join("out"))
        .output()
        .expect("the program runs");
    let text = String::from_utf8_lossy(&output.stderr).into_owned();
    (output.status.code().expect("it ends by itself"), text)
}
