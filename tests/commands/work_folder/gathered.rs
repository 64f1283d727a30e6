//! Shares of a sweep that were changed are refused, never joined.

use std::fs;
use std::path::{Path, PathBuf};

use bendwise::scenario::sweep::model::DesignKind;
use bendwise::study::sweep::{ShareSink, Shares};
use bendwise::study::{KeptPoint, Part, Shard};
use predicates::prelude::*;
use predicates::str::contains;

use crate::sweep_common::{listed, quietly, row, run, setup};
use crate::work_folder::{bendwise, folder, make_share};

fn share(number: usize, out: &Path) {
    let lengths = listed("length_mm", &[1.0, 2.0, 3.0, 4.0]);
    let part = Part {
        setup: setup(DesignKind::Grid, vec![lengths], 3, 9),
        shard: Shard { number, of: 2 },
        deal: None,
    };
    run(
        &part,
        &quietly(out, 1, None),
        |_| None,
        |task| {
            let sum = task.point + task.trial as usize;
            row(task.trial, sum.is_multiple_of(2))
        },
        vec![Box::new(ShareSink::new(&part))],
    )
    .unwrap();
}

/// All rows, or what is said instead.
fn joined(folders: &[PathBuf]) -> Result<Vec<(usize, KeptPoint)>, String> {
    let shares = Shares::open(folders).map_err(|error| error.to_string())?;
    let rows = shares.in_order().map_err(|error| error.to_string())?;
    rows.collect::<Result<_, _>>()
        .map_err(|error| error.to_string())
}

#[test]
fn a_changed_byte_anywhere_in_a_share_is_refused_or_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let folders: Vec<PathBuf> = ["one", "two"].map(|name| folder.path().join(name)).into();
    share(1, &folders[0]);
    share(2, &folders[1]);
    let whole = joined(&folders).unwrap();
    assert_eq!(whole.len(), 4);
    let mut harmless = 0;
    for (name, step) in [("share.json", 1), ("rows.jsonl", 3)] {
        let path = folders[1].join(name);
        let bytes = fs::read(&path).unwrap();
        for at in (0..bytes.len()).step_by(step) {
            for change in [0x01, 0x20] {
                let mut changed = bytes.clone();
                changed[at] ^= change;
                fs::write(&path, &changed).unwrap();
                match joined(&folders) {
                    Ok(rows) => {
                        assert!(rows == whole, "{name} at {at}: other rows");
                        harmless += 1;
                    }
                    Err(said) => assert!(said.contains("two"), "{name} at {at}: {said}"),
                }
            }
        }
        fs::write(&path, &bytes).unwrap();
    }
    // White space between the fields of the description says nothing.
    assert!(harmless < 500, "{harmless}");
    let rows = folders[1].join("rows.jsonl");
    let text = fs::read_to_string(&rows).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    for (what, changed) in [
        ("twice", [&lines[..], &lines[lines.len() - 1..]].concat()),
        ("trials", lines[1..].to_vec()),
        ("out of turn", [&lines[..], &lines[..1]].concat()),
    ] {
        fs::write(&rows, changed.join("\n") + "\n").unwrap();
        let said = joined(&folders).unwrap_err();
        assert!(
            said.contains(what) && said.contains("rows.jsonl"),
            "{what}: {said}"
        );
    }
}

#[test]
fn a_strategy_that_does_not_exist_is_refused_with_its_line() {
    let folder = folder();
    make_share(&folder);
    let rows = folder.path().join("share/rows.jsonl");
    let text = fs::read_to_string(&rows).unwrap();
    let changed = text.replacen("\"strategy\":0", "\"strategy\":99999999", 1);
    assert!(changed != text);
    fs::write(&rows, changed).unwrap();
    bendwise(&folder, &["gather", "share", "--out", "joined"])
        .assert()
        .code(1)
        .stderr(
            contains("share/rows.jsonl, line 1")
                .and(contains("compute share 1/1 again"))
                .and(contains("untouched")),
        );
    assert!(!folder.path().join("joined").exists());
}

#[test]
fn a_result_takes_the_place_of_none_of_its_shares() {
    let folder = folder();
    make_share(&folder);
    bendwise(
        &folder,
        &["gather", "share", "--out", "share", "--overwrite"],
    )
    .assert()
    .code(2)
    .stderr(contains("share is one of the shares").and(contains("choose another --out")));
    assert!(folder.path().join("share/rows.jsonl").exists());
}

#[test]
fn a_share_is_read_from_files_on_a_disk_of_limited_size() {
    let folder = tempfile::tempdir().unwrap();
    let one = folder.path().join("one");
    let folders: Vec<PathBuf> = ["one", "two"].map(|name| folder.path().join(name)).into();
    share(1, &folders[0]);
    share(2, &folders[1]);
    let description = fs::read(one.join("share.json")).unwrap();
    let large = fs::File::create(one.join("share.json")).unwrap();
    large.set_len(1 << 30).unwrap();
    let said = joined(&folders).unwrap_err();
    assert!(said.contains("share.json") && said.contains("allowed are up to"));
    for name in ["share.json", "rows.jsonl"] {
        fs::write(one.join("share.json"), &description).unwrap();
        fs::remove_file(one.join(name)).unwrap();
        let made = std::process::Command::new("mkfifo")
            .arg(one.join(name))
            .status();
        if !made.is_ok_and(|status| status.success()) {
            crate::skipped::skipped(
                "this system makes no pipes; files that are missing were tried",
            );
            return;
        }
        let said = joined(&folders).unwrap_err();
        assert!(said.contains(name), "{name}: {said}");
        fs::remove_file(one.join(name)).unwrap();
    }
}
