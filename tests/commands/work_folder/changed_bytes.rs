//! A byte in a work folder is changed, or a file is cut off, and the same command given again.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

use bendwise::scenario::sweep::model::DesignKind;
use bendwise::study::{Part, StudyError};
use predicates::prelude::*;
use predicates::str::contains;
use tempfile::TempDir;

use crate::sweep_common::{PointRows, Seen, chance, listed, quietly, row, run, setup};
use crate::work_folder::{COMMANDS, files, folder, with_out};

/// From one changed byte to the next in a file of a sweep.
const STRIDE: usize = 211;

const RUN: [&str; 6] = [
    "run",
    "short.toml",
    "--quiet",
    "--trials",
    "4",
    "--threads=1",
];

/// Writes these files into a folder that is made anew.
fn write(folder: &Path, files: &BTreeMap<String, Vec<u8>>) {
    let _ = fs::remove_dir_all(folder);
    for (name, bytes) in files {
        let path = folder.join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
}

/// What a run of four trials leaves when it is stopped after three, and what it leaves undisturbed.
fn three_of_four(folder: &TempDir) -> [BTreeMap<String, Vec<u8>>; 2] {
    with_out(folder, &RUN, &[]).assert().success();
    let whole = files(&folder.path().join("out"));
    fs::remove_dir_all(folder.path().join("out")).unwrap();
    with_out(folder, &RUN, &["--at-most", "3"])
        .assert()
        .success();
    [files(&folder.path().join("out.partial")), whole]
}

/// One byte of every kind of file, and every line of the journal.
#[test]
fn a_changed_byte_in_the_work_folder_of_a_run_changes_no_byte_of_its_result() {
    let folder = folder();
    let [kept, whole] = three_of_four(&folder);
    let partial = folder.path().join("out.partial");
    let mut places: Vec<(String, usize)> = Vec::new();
    for (name, bytes) in &kept {
        let is_shape = name.starts_with("shapes/");
        if name == "journal.jsonl" || name.starts_with("rows/") {
            let ends = bytes.iter().enumerate().filter(|(_, b)| **b == b'\n');
            places.extend(ends.map(|(at, _)| (name.clone(), at - 40)));
        } else if !is_shape || name.ends_with("wire-0003.vtp") || name.ends_with("pvd") {
            places.push((name.clone(), bytes.len() / 3));
        }
    }
    assert!(places.len() >= 8, "{places:?}");
    for (name, at) in places {
        let mut changed = kept.clone();
        changed.get_mut(&name).unwrap()[at] ^= 0x11;
        write(&partial, &changed);
        with_out(&folder, &RUN, &[]).assert().success();
        let out = folder.path().join("out");
        let mut found = files(&out);
        found.retain(|file, _| !file.contains(".found-"));
        assert_eq!(found.len(), whole.len(), "{name}");
        for (file, bytes) in &whole {
            assert!(found[file] == *bytes, "{file} differs, {name} at {at}");
        }
        fs::remove_dir_all(&out).unwrap();
    }
}

#[test]
fn a_trace_of_a_kept_trial_that_is_cut_off_or_gone_is_made_again() {
    let folder = folder();
    let [kept, whole] = three_of_four(&folder);
    for cut in [Some(0), Some(100), None] {
        let mut torn = kept.clone();
        for (name, bytes) in &kept {
            if !name.ends_with("jsonl") {
                match cut {
                    Some(length) => torn.get_mut(name).unwrap().truncate(length),
                    None => assert!(torn.remove(name).as_ref() == Some(bytes)),
                }
            }
        }
        write(&folder.path().join("out.partial"), &torn);
        with_out(&folder, &RUN, &[])
            .assert()
            .success()
            .stderr(contains("files of 1 finished trials").and(contains("made again")));
        let out = folder.path().join("out");
        assert!(files(&out) == whole, "cut to {cut:?}");
        fs::remove_dir_all(&out).unwrap();
    }
}

type Rows = Option<Vec<PointRows>>;

/// Rows of a sweep without mechanics, once all trials are done.
fn sweep(out: &Path, limit: Option<usize>) -> Result<Rows, StudyError> {
    counted(out, limit).map(|(rows, _)| rows)
}

/// The same, and how many trials were computed.
fn counted(out: &Path, limit: Option<usize>) -> Result<(Rows, usize), StudyError> {
    let lengths = listed("length_mm", &[1.0, 2.0, 3.0]);
    let setup = setup(DesignKind::Grid, vec![lengths], 4, 9);
    let computed = AtomicUsize::new(0);
    let seen = Seen::default();
    let done = run(
        &Part::whole(setup),
        &quietly(out, 1, limit),
        |point| (point == 2).then_some("too narrow"),
        |task| {
            computed.fetch_add(1, Ordering::Relaxed);
            let chance = chance(1, task.point as u64, u64::from(task.trial));
            row(task.trial, chance < 0.5)
        },
        seen.sinks(),
    )?;
    // What is in the target now is in the way of the next run.
    let _ = fs::remove_dir_all(out);
    let rows = done.complete.then(|| seen.points());
    Ok((rows, computed.into_inner()))
}

/// The journal is one line, which the rows vouch for.
#[test]
fn a_damaged_journal_of_a_sweep_costs_no_kept_trial() {
    let folder = folder();
    let whole = sweep(&folder.path().join("whole"), None).unwrap().unwrap();
    let out = folder.path().join("out");
    assert!(sweep(&out, Some(7)).unwrap().is_none());
    let partial = folder.path().join("out.partial");
    let kept = files(&partial);
    let journal = &kept["journal.jsonl"];
    let end = journal.len() - 1;
    assert!(journal.iter().position(|&b| b == b'\n') == Some(end));
    let with = |at: usize| {
        let mut changed = journal.clone();
        changed[at] ^= 0x11;
        changed
    };
    let damaged = [
        with(0),
        with(end / 2),
        with(end),
        journal[..end].to_vec(),
        journal[..end / 2].to_vec(),
        Vec::new(),
    ];
    for (case, changed) in damaged.into_iter().enumerate() {
        let mut all = kept.clone();
        all.insert("journal.jsonl".to_owned(), changed);
        write(&partial, &all);
        let rows = |files: BTreeMap<String, Vec<u8>>| files["rows/00000000.jsonl"].clone();
        for command in [RUN.as_slice(), COMMANDS[1], COMMANDS[2], COMMANDS[3]] {
            with_out(&folder, command, &[])
                .assert()
                .code(2)
                .stderr(contains("out.partial").and(contains("--overwrite")));
            assert!(rows(files(&partial)) == rows(kept.clone()), "{command:?}");
        }
        let (rows, computed) = counted(&out, None).unwrap();
        assert!(rows.as_ref() == Some(&whole), "case {case}");
        assert_eq!(computed, 1, "case {case}");
    }
}

#[test]
fn a_changed_byte_in_the_work_folder_of_a_sweep_is_mended_or_refused() {
    let folder = tempfile::tempdir().unwrap();
    let whole = sweep(&folder.path().join("whole"), None).unwrap().unwrap();
    assert_eq!(
        whole.iter().map(|(.., rows)| rows[0].len()).sum::<usize>(),
        8
    );
    let out = folder.path().join("out");
    assert!(sweep(&out, Some(7)).unwrap().is_none());
    let partial = folder.path().join("out.partial");
    let kept = files(&partial);
    assert_eq!(kept.len(), 3);
    let (mut mended, mut refused) = (0, 0);
    for (name, bytes) in &kept {
        for at in (0..bytes.len()).step_by(STRIDE) {
            let mut changed = kept.clone();
            changed.get_mut(name).unwrap()[at] ^= 0x04;
            write(&partial, &changed);
            match sweep(&out, None) {
                Ok(rows) => {
                    assert!(rows.as_ref() == Some(&whole), "{name} at {at}");
                    mended += 1;
                }
                Err(error) => {
                    let said = error.to_string();
                    let told = said.contains("out.partial") && said.contains("--out");
                    assert!(told, "{name} at {at}: {said}");
                    refused += 1;
                }
            }
        }
    }
    assert!(
        mended > 30 && refused < 3,
        "{mended} mended, {refused} refused"
    );
}
