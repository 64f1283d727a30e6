//! Commands that get another kind of file than theirs, that cannot print, or that stop where they
//! were told to.

use std::fs::{self, File};
use std::process::{Command, Stdio};

use crate::hostile_input::{bounded, folder_with, said, scenario};

const SWEEP: &str = "name = \"s\"\ndescription = \"s\"\nscenario = \"a.toml\"\n[design]\nkind = \"grid\"\n\
                     trials = 2\n[[parameter]]\npath = 'wire.soft.tip_load_gf'\nlevels = [1, 2]\n";
const WIRES: &str = "name = \"w\"\n[[wire]]\nname = \"soft\"\n\
                     diameter_mm = 0.3556\ntip_load_gf = 1\n\
                     core_mm = [[20, 0.07], [100, 0.13], [250, 0.18]]\nfriction = 0.02\n";
const TREE: &str = "[[branch]]\nname = \"a\"\ndiameter_mm = 2\npieces = [{ shape = \"straight\", length_mm = 9 }]\n";

/// Each command says what the file is and which command takes it.
#[test]
fn a_file_of_another_kind_is_told_with_its_command() {
    let folder = folder_with("a.toml", scenario(&[]));
    for (name, text) in [("s.toml", SWEEP), ("w.toml", WIRES), ("t.toml", TREE)] {
        fs::write(folder.path().join(name), text).unwrap();
    }
    for (command, file, words) in [
        (
            "run",
            "s.toml",
            "s.toml is a sweep, not a scenario|bendwise sweep s.toml",
        ),
        (
            "view",
            "s.toml",
            "s.toml is a sweep, not a scenario|bendwise sweep s.toml",
        ),
        (
            "export",
            "s.toml",
            "s.toml is a sweep, not a scenario|bendwise sweep s.toml",
        ),
        ("assay", "s.toml", "s.toml is a sweep and holds no wires"),
        (
            "run",
            "w.toml",
            "w.toml holds wires and no vessel|bendwise assay",
        ),
        (
            "sweep",
            "a.toml",
            "a.toml is a scenario, not a sweep|bendwise run a.toml|[design]",
        ),
        (
            "sweep",
            "w.toml",
            "w.toml is a file of wires, not a sweep|bendwise assay w.toml",
        ),
        (
            "sweep",
            "t.toml",
            "t.toml is the tree of a vessel, not a sweep|tree in [vessel]",
        ),
        ("run", "t.toml", "this is a tree, not a scenario"),
        (
            "gather",
            "a.toml",
            "a.toml holds no share of a sweep|this is a file",
        ),
        ("gather", ".", "holds no share of a sweep"),
    ] {
        let (code, said) = said(&bounded(folder.path(), &[command, file, "--out", "o"]));
        assert_eq!(code, Some(2), "{command} {file}: {said}");
        for word in words.split('|') {
            assert!(
                said.contains(word),
                "{command} {file}: no {word:?} in {said}"
            );
        }
        assert!(!folder.path().join("o").exists());
    }
}

#[test]
fn an_output_that_cannot_be_written_is_a_failure() {
    let Ok(full) = File::options().write(true).open("/dev/full") else {
        crate::skipped::skipped("this system has no /dev/full");
        return;
    };
    let folder = folder_with("a.toml", scenario(&[]));
    fs::write(folder.path().join("s.toml"), SWEEP).unwrap();
    fs::write(folder.path().join("w.toml"), WIRES).unwrap();
    for args in [
        &["check", "a.toml"][..],
        &["check", "s.toml"],
        &["check", "w.toml"],
        &["assay", "--list"],
        &["--help"],
        &["--version"],
        &["run", "--help"],
        &["run", "a.toml", "--out", "run"],
        &["run", "a.toml", "--out", "part", "--at-most", "1"],
        &["sweep", "s.toml", "--out", "sweep"],
        &["export", "a.toml", "--out", "export"],
        &["assay", "w.toml", "--out", "assay", "--only", "tip-load"],
    ] {
        let output = Command::new(env!("CARGO_BIN_EXE_bendwise"))
            .args(args)
            .current_dir(folder.path())
            .stdout(Stdio::from(full.try_clone().unwrap()))
            .output()
            .unwrap();
        let (code, text) = said(&output);
        assert_eq!(code, Some(1), "{args:?}: {text}");
        assert!(text.contains("standard output cannot be written"), "{text}");
    }
    // What was computed is there all the same.
    for name in [
        "run/summary.json",
        "sweep/sweep.json",
        "export/branches.csv",
    ] {
        assert!(folder.path().join(name).exists(), "{name}");
    }
}

#[test]
fn a_reader_that_has_seen_enough_is_no_failure() {
    let folder = folder_with("a.toml", scenario(&[]));
    let mut child = Command::new(env!("CARGO_BIN_EXE_bendwise"))
        .args(["check", "a.toml"])
        .current_dir(folder.path())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    assert_eq!(child.wait().unwrap().code(), Some(0));
}

/// Stopping where --at-most says is what was asked for, for runs and for sweeps.
#[test]
fn a_stop_that_was_asked_for_is_no_failure() {
    let folder = folder_with("a.toml", scenario(&[]));
    fs::write(folder.path().join("s.toml"), SWEEP).unwrap();
    for (command, file) in [("run", "a.toml"), ("sweep", "s.toml")] {
        let args = [command, file, "--out", command, "--at-most", "1"];
        let program = |args: &[&str]| {
            Command::new(env!("CARGO_BIN_EXE_bendwise"))
                .args(args)
                .current_dir(folder.path())
                .output()
                .unwrap()
        };
        let output = program(&args);
        let text = String::from_utf8_lossy(&output.stdout);
        assert_eq!(output.status.code(), Some(0), "{text}");
        for word in [
            "stopped after 1 new trials, as --at-most asks",
            "run the same command again",
        ] {
            assert!(text.contains(word), "{text}");
        }
        assert!(!folder.path().join(command).exists());
        let (code, text) = said(&program(&args[..4]));
        assert_eq!(code, Some(0), "{text}");
        assert!(folder.path().join(command).exists());
    }
}

#[test]
fn a_bench_tube_narrower_than_a_wire_is_refused() {
    for table in ["paths", "straightening"] {
        let text = format!("{WIRES}[assay]\n{table} = {{ lumen_mm = 0.3 }}\n");
        let folder = folder_with("w.toml", text);
        for args in [&["check", "w.toml"][..], &["assay", "w.toml", "--out", "o"]] {
            let (code, said) = said(&bounded(folder.path(), args));
            assert_eq!(code, Some(2), "{said}");
            for word in [
                "lumen_mm",
                "0.3556 mm thick and does not go through",
                "w.toml:9:",
            ] {
                assert!(said.contains(word), "no {word:?} in {said}");
            }
        }
    }
}
