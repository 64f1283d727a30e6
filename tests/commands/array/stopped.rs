//! A share that is stopped says so by its exit status, and goes on where it was.

use std::fs;
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use tempfile::TempDir;

use super::{array, assert_same, bendwise, folder, share, status, whole};

/// Longest wait for a first trial, with room for a machine that is busy with other tests.
const PATIENCE: Duration = Duration::from_secs(120);

/// A share with a trial kept and more to do.
fn in_the_middle(folder: &TempDir, number: usize) -> Child {
    let child = Command::new(assert_cmd::cargo::cargo_bin!("bendwise"))
        .current_dir(folder.path())
        .args([
            "share",
            "array",
            &number.to_string(),
            "--threads",
            "1",
            "--quiet",
        ])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let rows = folder
        .path()
        .join(format!("array/shares/{number}.partial/rows/00000000.jsonl"));
    let begun = Instant::now();
    while fs::read(&rows).unwrap_or_default().is_empty() {
        assert!(begun.elapsed() < PATIENCE, "no trial finishes");
        sleep(Duration::from_millis(2));
    }
    child
}

fn send(child: &Child, signal: &str) {
    let sent = Command::new("kill")
        .args([signal, &child.id().to_string()])
        .status();
    assert!(sent.unwrap().success());
}

/// A warning before a time limit, two requests within milliseconds, and a kill without warning: the
/// first two end with status 75, and each goes on to the same bytes.
#[test]
fn a_share_that_is_warned_or_told_twice_or_killed_goes_on() {
    let folder = folder(24);
    array(&folder, 3);
    let mut warned = in_the_middle(&folder, 1);
    send(&warned, "-USR1");
    assert_eq!(warned.wait().unwrap().code(), Some(75));
    let mut told = in_the_middle(&folder, 2);
    send(&told, "-TERM");
    send(&told, "-TERM");
    assert_eq!(told.wait().unwrap().code(), Some(75));
    let mut killed = in_the_middle(&folder, 3);
    send(&killed, "-KILL");
    assert_eq!(killed.wait().unwrap().code(), None);
    let said = status(&folder);
    assert!(said.contains("begun         3  1-3"), "{said}");
    assert!(said.contains("of 48 trials are kept"), "{said}");
    let so_far = ["gather", "array", "--so-far", "--quiet", "--out", "so-far"];
    bendwise(&folder, &so_far).assert().success();
    for number in 1..=3 {
        share(&folder, number).assert().success();
    }
    let joined = ["gather", "array", "--quiet", "--out", "joined"];
    bendwise(&folder, &joined).assert().success();
    whole(&folder);
    assert_same(&folder, "whole", "joined");
}
