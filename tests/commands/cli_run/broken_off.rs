//! A run that is broken off, by Ctrl-C or by a kill without warning, goes on where it stopped and
//! ends as if nothing had happened.

use std::fs;
use std::io::Read;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use predicates::prelude::*;
use predicates::str::contains;
use tempfile::TempDir;

use crate::cli_run::{assert_same_as_uninterrupted, folder, run};

/// Enough trials for a signal to arrive while many are still to do.
const MANY: [&str; 4] = ["--threads", "1", "--trials", "40"];
const TOTAL: usize = 80;
/// Trials that are finished before the signal is sent.
const SOME: usize = 3;
/// Longest wait for them, with room for a machine that is busy with other tests.
const PATIENCE: Duration = Duration::from_secs(120);

fn start(folder: &TempDir) -> Child {
    Command::new(assert_cmd::cargo::cargo_bin!("bendwise"))
        .current_dir(folder.path())
        .args(["run", "short.toml", "--out", "out"])
        .args(MANY)
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

/// The rows of the journal.
const ROWS: &str = "out.partial/rows/00000000.jsonl";

/// Whole lines of the journal: the trials that a resumed run need not compute.
fn journaled(folder: &Path) -> usize {
    let rows = fs::read(folder.join(ROWS)).unwrap_or_default();
    rows.iter().filter(|&&byte| byte == b'\n').count()
}

/// A run with some trials finished and most of them still to do.
fn in_the_middle(folder: &TempDir) -> Child {
    let child = start(folder);
    let begun = Instant::now();
    while journaled(folder.path()) < SOME {
        assert!(begun.elapsed() < PATIENCE, "no trial finishes");
        sleep(Duration::from_millis(2));
    }
    child
}

fn rest_of_stderr(child: &mut Child) -> String {
    let mut said = String::new();
    let mut stderr = child.stderr.take().unwrap();
    stderr.read_to_string(&mut said).unwrap();
    said
}

/// What was finished is kept, what was not is missing, and the same command ends as one run.
fn goes_on(folder: &TempDir) {
    let kept = journaled(folder.path());
    assert!(
        (SOME..TOTAL).contains(&kept),
        "{kept} of {TOTAL} trials are kept"
    );
    assert!(!folder.path().join("out").exists());
    run(folder, "out", &MANY)
        .assert()
        .success()
        .stderr(contains(format!(
            "{kept} of {TOTAL} trials are kept from an earlier run"
        )));
    assert_same_as_uninterrupted(folder, "out", &MANY);
}

#[test]
fn ctrl_c_keeps_the_finished_trials_and_the_same_command_goes_on() {
    let folder = folder();
    let mut child = in_the_middle(&folder);
    let pid = child.id().to_string();
    let sent = Command::new("kill").args(["-INT", &pid]).status();
    assert!(sent.unwrap().success());
    let said = rest_of_stderr(&mut child);
    assert_eq!(child.wait().unwrap().code(), Some(75), "{said}");
    let kept = journaled(folder.path());
    let message = format!("interrupted; {kept} of {TOTAL} trials are kept in out.partial");
    let expected = contains(message).and(contains("run the same command again to go on"));
    assert!(expected.eval(&said), "{said}");
    goes_on(&folder);
}

#[test]
fn a_kill_without_warning_loses_the_trials_in_flight_and_nothing_else() {
    let folder = folder();
    let mut child = in_the_middle(&folder);
    child.kill().unwrap();
    let status = child.wait().unwrap();
    assert_eq!(status.code(), None, "killed by a signal, not ended");
    goes_on(&folder);
}

/// A kill can leave the last line of the journal without its end.
#[test]
fn a_torn_last_line_is_a_trial_still_to_do() {
    let folder = folder();
    let more = ["--threads", "1", "--trials", "2"];
    run(&folder, "out", &[&more[..], &["--at-most", "3"]].concat())
        .assert()
        .success();
    let path = folder.path().join(ROWS);
    let whole = fs::read(&path).unwrap();
    fs::write(&path, &whole[..whole.len() - 20]).unwrap();
    run(&folder, "out", &more)
        .assert()
        .success()
        .stderr(contains("2 of 4 trials are kept from an earlier run"));
    assert_same_as_uninterrupted(&folder, "out", &more);
}
