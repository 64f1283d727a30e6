//! A disk that is full, or a file that may not grow: the message says what is kept and how to go
//! on, nothing is lost, and with room the same command ends as an undisturbed run.

use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::process::Command;

use predicates::prelude::*;
use predicates::str::contains;

use crate::cli_run::{SHORT, assert_same_as_uninterrupted, folder, run};
use crate::skipped::skipped;

const GO_ON: &str = "run the same command again to go on from there";

/// Device on which every write fails for want of space (Linux).
const FULL: &str = "/dev/full";

/// Each file of a result in turn has no space: while trials run, and when all are finished.
#[test]
fn no_space_for_any_one_file_keeps_the_trials() {
    if !Path::new(FULL).exists() {
        skipped(&format!("this system has no {FULL}"));
        return;
    }
    let folder = folder();
    let partial = folder.path().join("out.partial");
    let more = ["--threads", "1"];
    for (file, kept) in [
        ("traces/push-firm-0.csv", 2),
        ("shapes/push-firm-0/wire-0000.vtp", 2),
        ("trials.csv", 4),
        ("wall-force-map.csv", 4),
        ("summary.json", 4),
        ("report.md", 4),
        ("report.html", 4),
        ("vessel.vtp", 4),
        ("figures/success-rate.svg", 4),
        ("figures/scene.png", 4),
    ] {
        let path = partial.join(file);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        let _ = fs::remove_file(&path);
        symlink(FULL, &path).unwrap();
        run(&folder, "out", &more).assert().code(1).stderr(
            contains(format!("no space left while writing out.partial/{file}"))
                .and(contains(format!(
                    "{kept} of 4 trials are kept in out.partial"
                )))
                .and(contains("make room"))
                .and(contains(GO_ON)),
        );
        assert!(!folder.path().join("out").exists(), "{file}");
        fs::remove_file(&path).unwrap();
    }
    run(&folder, "out", &more)
        .assert()
        .success()
        .stderr(contains("4 of 4 trials are kept from an earlier run"));
    assert_same_as_uninterrupted(&folder, "out", &more);
}

/// A limit on the size of files stops the journal itself in the middle of a line.
#[test]
fn a_journal_that_may_not_grow_keeps_whole_trials() {
    let folder = folder();
    let scenario = SHORT.replace("recorded = 1", "recorded = 0");
    fs::write(folder.path().join("short.toml"), scenario).unwrap();
    let more = ["--threads", "1", "--trials", "20"];
    let limited = Command::new("sh")
        .current_dir(folder.path())
        .args(["-c", "trap '' XFSZ; ulimit -f 16 && exec \"$@\"", "sh"])
        .arg(assert_cmd::cargo::cargo_bin!("bendwise"))
        .args(["run", "short.toml", "--out", "out"])
        .args(more)
        .output()
        .unwrap();
    let said = String::from_utf8(limited.stderr).unwrap();
    assert_eq!(limited.status.code(), Some(1), "{said}");
    let expected = contains("out.partial/rows/00000000.jsonl: File too large")
        .and(contains("of 40 trials are kept in out.partial"))
        .and(contains(GO_ON));
    assert!(expected.eval(&said), "{said}");
    let journal =
        fs::read_to_string(folder.path().join("out.partial/rows/00000000.jsonl")).unwrap();
    let kept = journal.lines().count();
    assert!(kept > 0 && journal.ends_with('\n'), "{journal}");
    assert!(
        said.contains(&format!("; {kept} of 40 trials")),
        "{kept}: {said}"
    );
    run(&folder, "out", &more)
        .assert()
        .success()
        .stderr(contains(format!(
            "{kept} of 40 trials are kept from an earlier run"
        )));
    assert_same_as_uninterrupted(&folder, "out", &more);
}

/// A real file system of 96 kB that fills up, and is then made larger.
#[test]
fn a_disk_that_fills_up_and_gets_room_again_ends_with_the_same_bytes() {
    let folder = folder();
    let disk = folder.path().join("disk");
    fs::create_dir(&disk).unwrap();
    let own_mounts = |script: &str| {
        Command::new("unshare")
            .args([
                "--user",
                "--map-root-user",
                "--mount",
                "sh",
                "-c",
                script,
                "sh",
            ])
            .arg(assert_cmd::cargo::cargo_bin!("bendwise"))
            .current_dir(folder.path())
            .output()
    };
    let allowed = own_mounts("mount -t tmpfs -o size=96k none disk");
    if !allowed.is_ok_and(|output| output.status.success()) {
        skipped("this system lets nobody but its administrator mount a file system");
        return;
    }
    let output = own_mounts(
        "mount -t tmpfs -o size=96k none disk
         \"$1\" run short.toml --threads 1 --out disk/out; echo \"first: $?\"
         ls disk
         mount -o remount,size=64m disk
         \"$1\" run short.toml --threads 1 --out disk/out --quiet; echo \"second: $?\"
         cp -r disk/out out",
    );
    let output = output.unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    let printed = String::from_utf8(output.stdout).unwrap();
    let expected = contains("no space left while writing disk/out.partial/")
        .and(contains("of 4 trials are kept in disk/out.partial"))
        .and(contains(GO_ON));
    assert!(expected.eval(&said), "{said}");
    assert_eq!(printed, "first: 1\nout.partial\nsecond: 0\n", "{said}");
    assert_same_as_uninterrupted(&folder, "out", &["--threads", "1"]);
}
