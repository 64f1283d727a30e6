//! Names and links that lead out of the folders of the program, on a real file system.

use std::fs;
use std::path::Path;
use std::sync::Arc;

use serde_json::{Value, json};
use tempfile::TempDir;

use super::work::{Job, What, carry_out, result};
use crate::study::error::StudyError;
use crate::study::store::disk::{Fingerprint, RealDisk};
use crate::study::store::record;
use crate::study::store::written::is_inside;

fn base() -> TempDir {
    let base = tempfile::tempdir().expect("a temporary folder");
    fs::create_dir(base.path().join("mine")).expect("the base is there");
    put(base.path(), "mine/notes.txt", "notes");
    put(base.path(), "user.txt", "user");
    base
}

fn put(base: &Path, name: &str, text: &str) {
    fs::write(base.join(name), text).expect("the folder is there");
}

fn has(base: &Path, name: &str, text: &str) -> bool {
    fs::read_to_string(base.join(name)).is_ok_and(|found| found == text)
}

fn work(base: &Path, job: Job) -> Result<bool, StudyError> {
    carry_out(Arc::new(RealDisk), &base.join("out"), job, &mut |_| {})
}

fn kept(base: &Path) {
    let some = Job {
        limit: 3,
        ..Job::run(1, false)
    };
    assert!(!work(base, some).expect("nothing is in the way"));
}

fn add_line(base: &Path, name: &str, value: &Value) {
    let path = base.join(name);
    let mut bytes = fs::read(&path).unwrap_or_default();
    bytes.extend(record::line(0, value).expect("it is JSON"));
    fs::write(path, bytes).expect("the folder is there");
}

/// Names of the user's file as they may stand in a list in `out` or `out.partial`.
fn names(base: &Path) -> [String; 4] {
    let plain = base.join("user.txt").to_string_lossy().into_owned();
    [
        plain,
        "../user.txt".to_owned(),
        "traces/../../user.txt".to_owned(),
        "./../user.txt".to_owned(),
    ]
}

#[test]
fn only_names_inside_a_folder_are_names() {
    for name in ["a", "a/b.csv", "rows/00000000.jsonl", "a..b", ".hidden"] {
        assert!(is_inside(name), "{name}");
    }
    for name in [
        "", "/", "/a", "..", "../a", "a/../b", "a/..", "./a", "a//b", "a/",
    ] {
        assert!(!is_inside(name), "{name}");
    }
}

#[test]
fn a_list_removes_nothing_outside_its_folder() {
    let base = base();
    let base = base.path();
    kept(base);
    for name in names(base) {
        add_line(base, "out.partial/written.jsonl", &json!(name));
    }
    // The kept trials give way to other work, and so does everything in the list.
    assert!(work(base, Job::run(2, true)).expect("nothing is in the way"));
    assert!(has(base, "user.txt", "user"));
}

#[test]
fn a_manifest_removes_nothing_outside_its_folder() {
    let base = base();
    let base = base.path();
    assert!(work(base, Job::run(1, false)).expect("nothing is in the way"));
    let found = Fingerprint::of(b"user");
    for path in names(base) {
        let mark = json!({"path": path, "bytes": found.bytes, "sha256": found.sha256});
        add_line(base, "out/manifest.jsonl", &mark);
    }
    assert!(work(base, Job::run(2, true)).expect("nothing is in the way"));
    assert!(has(base, "user.txt", "user"));
}

#[test]
fn a_marker_moves_no_folder_but_those_of_the_swap() {
    for folder in ["out", "out.partial"] {
        let base = base();
        let base = base.path();
        kept(base);
        if folder == "out" {
            fs::create_dir(base.join("out")).expect("the base is there");
        }
        let mine = base.join("mine").to_string_lossy().into_owned();
        let previous = [
            mine,
            "mine".to_owned(),
            "../mine".to_owned(),
            "out.previous-1/../mine".to_owned(),
            "out.partial/../mine".to_owned(),
        ];
        let marker = json!({"target": "out", "previous": previous});
        add_line(base, &format!("{folder}/swap.jsonl"), &marker);
        assert!(work(base, Job::run(1, false)).expect("nothing is in the way"));
        assert!(has(base, "mine/notes.txt", "notes"), "{folder}");
        assert!(!base.join("out/notes.txt").exists(), "{folder}");
    }
}

#[test]
fn a_lock_file_is_removed_only_with_the_words_of_the_program() {
    for (text, stays) in [("", true), ("my own", true), ("bendwise\n", false)] {
        let base = base();
        let base = base.path();
        put(base, "out.lock", text);
        assert!(work(base, Job::run(1, false)).expect("nothing is in the way"));
        let there = has(base, "out.lock", text);
        assert_eq!(there, stays || cfg!(not(unix)), "{text:?}");
    }
    let base = base();
    assert!(work(base.path(), Job::run(1, false)).expect("nothing is in the way"));
    assert!(cfg!(not(unix)) || !base.path().join("out.lock").exists());
}

#[cfg(unix)]
mod links {
    use std::os::unix::fs::symlink;

    use super::*;
    use crate::study::store::written::write_file;

    fn link(base: &Path, name: &str) {
        let path = base.join(name);
        let _ = fs::remove_file(&path);
        symlink(base.join("user.txt"), path).expect("the folder is there");
    }

    #[test]
    fn a_link_under_the_name_of_a_result_gives_way() {
        let base = base();
        let base = base.path();
        kept(base);
        for name in ["trials.csv", "manifest.jsonl.new", "traces/push-0.csv"] {
            link(base, &format!("out.partial/{name}"));
        }
        let direct = base.join("out.partial/direct.csv");
        link(base, "out.partial/direct.csv");
        write_file(&direct, "direct").expect("the folder is there");
        assert!(has(base, "out.partial/direct.csv", "direct"));
        assert!(work(base, Job::run(1, false)).expect("nothing is in the way"));
        assert!(has(base, "user.txt", "user"));
        for (name, bytes) in result(What::Run(1)) {
            let path = base.join("out").join(&name);
            assert!(!path.is_symlink(), "{name}");
            assert_eq!(fs::read(path).ok(), Some(bytes), "{name}");
        }
        assert!(base.join("out/trials.csv.found-1").is_symlink());
    }

    #[test]
    fn a_journal_that_is_a_link_is_refused_where_trials_are_kept() {
        let base = base();
        let base = base.path();
        kept(base);
        link(base, "out.partial/journal.jsonl");
        for job in [Job::run(1, false), Job::run(2, false)] {
            let done = work(base, job);
            let is_refused = matches!(done, Err(StudyError::DamagedJournal { .. }));
            assert!(is_refused, "{done:?}");
            assert!(base.join("out.partial/traces/push-0.csv").exists());
        }
        assert!(work(base, Job::run(1, true)).expect("nothing is in the way"));
        assert!(has(base, "user.txt", "user"));
    }

    #[test]
    fn a_journal_that_is_a_link_gives_way_where_nothing_is_kept() {
        let base = base();
        let base = base.path();
        fs::create_dir(base.join("out.partial")).expect("the base is there");
        link(base, "out.partial/journal.jsonl");
        assert!(work(base, Job::run(1, false)).expect("nothing is in the way"));
        assert!(has(base, "user.txt", "user"));
        assert!(base.join("out/journal.jsonl.found-1").is_symlink());
    }
}
