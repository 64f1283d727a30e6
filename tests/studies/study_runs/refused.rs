//! An older result, finished or not, is never spoilt: what would do so is refused.

use std::fs;

use bendwise::study::{StudyError, StudyErrorClass};

use super::{contents, one_point, partial, run, three_points};
use crate::sweep_common::quietly;

#[test]
fn a_journal_that_says_nothing_of_its_run_is_refused_with_its_place() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("damaged");
    run(&quietly(&out, 1, Some(5)), &one_point(7)).unwrap();
    let journal = partial(&out).join("journal.jsonl");
    let text = fs::read_to_string(&journal).unwrap();
    fs::write(&journal, text.replacen("made-up", "made-op", 1)).unwrap();
    // The trials are known as those of this run, whose first line is written anew.
    let resumed = run(&quietly(&out, 1, Some(1)), &one_point(7)).unwrap();
    assert_eq!(resumed.resumed, 5);
    fs::write(&journal, text.replacen("made-up", "made-op", 1)).unwrap();
    let error = run(&quietly(&out, 1, None), &one_point(8)).unwrap_err();
    assert!(matches!(error, StudyError::DamagedJournal { line: 1, .. }));
    let said = error.to_string();
    assert!(
        said.contains("journal.jsonl, line 1") && said.contains("--overwrite"),
        "{said}"
    );
    let mut over = quietly(&out, 1, None);
    over.overwrite = true;
    assert_eq!(run(&over, &one_point(8)).unwrap().resumed, 0);
}

#[test]
fn an_unfinished_run_of_something_else_is_refused_with_what_differs() {
    for (kept, asked) in [
        (one_point(7), one_point(8)),
        (three_points(7), three_points(8)),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("other");
        run(&quietly(&out, 1, Some(5)), &kept).unwrap();
        let error = run(&quietly(&out, 1, None), &asked).unwrap_err();
        assert_eq!(error.class(), StudyErrorClass::Input);
        let text = error.to_string();
        assert!(text.contains("seed: kept '7', asked for '8'"), "{text}");
        assert!(
            text.contains("--overwrite") && text.contains("other.partial"),
            "{text}"
        );
        assert!(
            !text.contains("scenario:"),
            "names only what differs: {text}"
        );
        let mut over = quietly(&out, 1, None);
        over.overwrite = true;
        let done = run(&over, &asked).unwrap();
        assert!(done.complete && done.resumed == 0);
    }
}

#[test]
fn an_existing_result_is_refused_and_with_overwrite_stays_until_the_new_one_is_whole() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("kept");
    run(&quietly(&out, 1, None), &one_point(7)).unwrap();
    let old = contents(&out);

    let error = run(&quietly(&out, 1, None), &one_point(8)).unwrap_err();
    assert_eq!(error.class(), StudyErrorClass::Input);
    assert!(error.to_string().contains("--overwrite"));
    assert!(!partial(&out).exists(), "a refused run leaves nothing");

    let mut over = quietly(&out, 1, Some(30));
    over.overwrite = true;
    run(&over, &one_point(8)).unwrap();
    assert_eq!(contents(&out), old);
    over.limit = None;
    run(&over, &one_point(8)).unwrap();
    assert_ne!(contents(&out), old);
    let left: Vec<_> = fs::read_dir(folder.path()).unwrap().collect();
    assert_eq!(left.len(), 1, "neither a work folder nor the old result");
}

#[test]
fn an_empty_target_is_used_and_one_that_cannot_be_a_folder_is_wrong_input() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| quietly(&folder.path().join(name), 1, None);
    fs::create_dir(folder.path().join("empty")).unwrap();
    assert!(run(&at("empty"), &one_point(7)).unwrap().complete);
    fs::write(folder.path().join("file"), "text").unwrap();
    let error = run(&at("file"), &one_point(7)).unwrap_err();
    assert!(matches!(error, StudyError::TargetIsNoFolder { .. }));
    let error = run(&at(&"x".repeat(300)), &one_point(7)).unwrap_err();
    assert!(matches!(error, StudyError::NotWritable { .. }), "{error}");
    assert_eq!(error.class(), StudyErrorClass::Input);
}
