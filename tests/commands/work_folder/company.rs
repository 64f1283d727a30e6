//! Commands on a folder in which another one works, or has left work to go on with.

use std::fs;
use std::path::Path;
use std::process::{Child, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use predicates::str::contains;
use tempfile::TempDir;

use crate::work_folder::{COMMANDS, bendwise, files, folder, make_share, names, with_out};

const RUN: [&str; 4] = ["run", "short.toml", "--trials", "8"];

#[test]
fn no_command_takes_over_what_an_interrupted_run_keeps() {
    let folder = folder();
    make_share(&folder);
    with_out(&folder, &RUN, &["--at-most", "5"])
        .assert()
        .success()
        .stdout(contains("stopped after 5 new trials"));
    let partial = folder.path().join("out.partial");
    let trials = || {
        let mut files = files(&partial);
        files.remove("written.jsonl");
        files
    };
    let kept = trials();
    let picture: &[&str] = &["check", "short.toml", "--picture", "out"];
    for command in COMMANDS {
        with_out(&folder, command, &[])
            .assert()
            .code(2)
            .stderr(contains(
                "out.partial holds an unfinished run of something else",
            ));
    }
    bendwise(&folder, picture)
        .assert()
        .code(2)
        .stderr(contains("unfinished run"));
    assert!(trials() == kept, "the work folder is as it was");
    assert!(!folder.path().join("out").exists());
    with_out(&folder, &RUN, &[])
        .assert()
        .success()
        .stderr(contains("5 of 8 trials are kept from an earlier run"));
    let expected = ["out", "share", "short.toml", "sweep.toml"];
    assert_eq!(names(folder.path()), expected);
}

/// What an export that could not be finished left behind is nothing that anybody waits for.
#[cfg(unix)]
#[test]
fn leftovers_that_keep_nothing_give_way() {
    if !Path::new("/dev/full").exists() {
        crate::skipped::skipped("this system has no /dev/full");
        return;
    }
    for next in COMMANDS {
        let folder = folder();
        make_share(&folder);
        let partial = folder.path().join("out.partial");
        fs::create_dir(&partial).unwrap();
        std::os::unix::fs::symlink("/dev/full", partial.join("lumen.stl")).unwrap();
        with_out(&folder, COMMANDS[3], &[])
            .assert()
            .code(1)
            .stderr(contains("lumen.stl"));
        fs::remove_file(partial.join("lumen.stl")).unwrap();
        assert!(partial.join("branches.csv").exists());
        with_out(&folder, next, &[]).assert().success();
        assert!(!partial.exists());
        let is_export = next == COMMANDS[3];
        assert_eq!(folder.path().join("out/branches.csv").exists(), is_export);
    }
}

/// The first finished trials.
const ROWS: &str = "out.partial/rows/00000000.jsonl";

/// A run that has begun, with at least one trial kept.
struct Running(Child);

impl Running {
    fn start(folder: &TempDir, words: &[&str]) -> Self {
        let child = std::process::Command::new(assert_cmd::cargo::cargo_bin!("bendwise"))
            .current_dir(folder.path())
            .args(words)
            .args(["--out", "out", "--threads", "1"])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let running = Self(child);
        let path = folder.path().join(ROWS);
        let begun = Instant::now();
        while fs::read(&path).map_or(0, |b| b.iter().filter(|&&b| b == b'\n').count()) < 3 {
            let waited = begun.elapsed();
            assert!(waited < Duration::from_secs(120), "no trial finishes");
            sleep(Duration::from_millis(2));
        }
        running
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn no_command_works_beside_a_live_run_or_sweep() {
    let folder = folder();
    make_share(&folder);
    let sweep = fs::read_to_string(folder.path().join("sweep.toml")).unwrap();
    let long = sweep.replace("trials = 2", "trials = 2000");
    fs::write(folder.path().join("long.toml"), long).unwrap();
    let cases: [&[&str]; 2] = [
        &["run", "short.toml", "--trials", "4000"],
        &["sweep", "long.toml"],
    ];
    for words in cases {
        let running = Running::start(&folder, words);
        for command in COMMANDS {
            for more in [&[][..], &["--overwrite"]] {
                with_out(&folder, command, more)
                    .assert()
                    .code(2)
                    .stderr(contains("another run is writing out.partial"));
            }
        }
        bendwise(&folder, &["check", "short.toml", "--picture", "out"])
            .assert()
            .code(2)
            .stderr(contains("another run is writing"));
        assert!(!folder.path().join("out").exists());
        drop(running);
        // The lock went with the process; what it kept is still there and is not taken over.
        with_out(&folder, COMMANDS[3], &[])
            .assert()
            .code(2)
            .stderr(contains("unfinished run of something else"));
        let kept = fs::read_to_string(folder.path().join(ROWS)).unwrap();
        assert!(kept.lines().count() >= 3);
        with_out(&folder, COMMANDS[3], &["--overwrite"])
            .assert()
            .success();
        fs::remove_dir_all(folder.path().join("out")).unwrap();
    }
}

#[test]
fn what_appears_in_the_target_while_a_run_goes_on_stays() {
    let folder = folder();
    let out = folder.path().join("out");
    let words = ["run", "short.toml", "--trials", "200", "--quiet"];
    for overwrite in [false, true] {
        let more: &[&str] = if overwrite { &["--overwrite"] } else { &[] };
        let command = [&words[..], more].concat();
        let mut running = Running::start(&folder, &command);
        let place = |name: &str| out.join(name);
        fs::create_dir_all(place("figures")).unwrap();
        fs::write(place("notes.txt"), "notes").unwrap();
        fs::write(place("figures/mine.png"), "mine").unwrap();
        if overwrite {
            fs::write(place("report.md"), "with my remarks").unwrap();
        }
        assert!(running.0.wait().unwrap().success());
        let read = |name: &str| fs::read_to_string(place(name)).unwrap();
        assert_eq!(read("notes.txt"), "notes");
        assert_eq!(read("figures/mine.png"), "mine");
        assert!(place("trials.csv").exists() && place("figures/scene.png").exists());
        let beside = names(folder.path());
        let older: Vec<&String> = beside.iter().filter(|n| n.contains("previous")).collect();
        if overwrite {
            let older = folder.path().join(older[0]);
            let all = files(&older);
            assert_eq!(all.len(), 1, "{all:?}");
            assert_eq!(all["report.md"], b"with my remarks");
        } else {
            assert!(older.is_empty());
        }
        fs::remove_file(place("notes.txt")).unwrap();
        fs::remove_file(place("figures/mine.png")).unwrap();
    }
}

/// A killed run leaves its lock file, which locks nothing.
#[test]
fn a_lock_file_that_is_left_behind_locks_nothing_and_one_of_a_user_stays() {
    let folder = folder();
    let lock: &Path = &folder.path().join("out.lock");
    fs::write(lock, "bendwise\n").unwrap();
    with_out(&folder, COMMANDS[3], &[]).assert().success();
    assert!(!lock.exists());
    fs::write(lock, "mine").unwrap();
    with_out(&folder, COMMANDS[3], &["--overwrite"])
        .assert()
        .success();
    assert_eq!(fs::read_to_string(lock).unwrap(), "mine");
}
