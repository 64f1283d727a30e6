//! What is finished is kept, and a run goes on from it.

use std::fs;
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use bendwise::study::store::write_file;
use bendwise::study::{
    KeepError, Sink, Sinks, StudyErrorClass, StudySetup, Task, Trial, run_study,
};
use bendwise::trial::result::{TraceRow, TrialRow};

use super::{Files, TOTAL, compute, contents, made_up, one_point, partial, run, three_points};
use crate::sweep_common::quietly;

#[test]
fn the_result_is_the_same_on_one_thread_on_two_and_in_pieces() {
    for (part, points) in [(one_point(7), 1), (three_points(7), 3)] {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let whole = at("whole");
        let done = run(&quietly(&whole, 1, None), &part).unwrap();
        assert!(done.complete && done.resumed == 0 && done.computed == TOTAL);
        // A file a trial, one a point, and the manifest.
        assert_eq!(contents(&whole).len(), TOTAL + points + 1);

        run(&quietly(&at("two"), 2, None), &part).unwrap();
        assert_eq!(contents(&at("two")), contents(&whole));

        for threads in [1, 2] {
            let pieces = at(&format!("pieces-{threads}"));
            let in_pieces = quietly(&pieces, threads, Some(15));
            let first = run(&in_pieces, &part).unwrap();
            assert!(!first.complete && first.computed == 15 && !pieces.exists());
            let second = run(&in_pieces, &part).unwrap();
            assert!(!second.complete && second.resumed == 15 && second.computed == 15);
            let third = run(&in_pieces, &part).unwrap();
            assert!(third.complete && third.resumed == 30 && third.computed == 6);
            assert_eq!(contents(&pieces), contents(&whole));
            assert!(!partial(&pieces).exists());
        }
    }
}

/// A line without its end, as a kill leaves it, and one that somebody changed.
#[test]
fn a_line_that_is_torn_or_damaged_costs_its_trial_alone() {
    for part in [one_point(7), three_points(7)] {
        let folder = tempfile::tempdir().unwrap();
        let [out, whole] = ["out", "whole"].map(|name| folder.path().join(name));
        run(&quietly(&out, 1, Some(10)), &part).unwrap();
        let rows = partial(&out).join("rows/00000000.jsonl");
        let text = fs::read_to_string(&rows).unwrap();
        let mut lines: Vec<&str> = text.lines().collect();
        lines[2] = "{}";
        let text = lines.join("\n");
        fs::write(&rows, &text[..text.len() - 20]).unwrap();

        let computed = AtomicUsize::new(0);
        let counted = |task, recorded| {
            computed.fetch_add(1, Ordering::SeqCst);
            made_up(task, recorded)
        };
        let done = compute(
            &part,
            &quietly(&out, 1, None),
            &counted,
            vec![Box::new(Files)],
        );
        assert_eq!(done.unwrap().resumed, 8);
        assert_eq!(computed.into_inner(), TOTAL - 8);
        run(&quietly(&whole, 1, None), &part).unwrap();
        assert_eq!(contents(&out), contents(&whole));
    }
}

#[test]
fn a_raised_stop_keeps_the_finished_trials_and_says_how_to_go_on() {
    for part in [one_point(7), three_points(7)] {
        let folder = tempfile::tempdir().unwrap();
        let options = quietly(&folder.path().join("stopped"), 1, None);
        let stop = AtomicBool::new(false);
        let stopping = |task: Task, recorded| {
            if (task.point + task.strategy, task.trial) == (1, 3) {
                stop.store(true, Ordering::SeqCst);
            }
            made_up(task, recorded)
        };
        let sinks: Sinks<'_> = vec![Box::new(Files)];
        let stopped = run_study(&part, &options, &stop, &|_| Ok(Box::new(&stopping)), sinks);
        let error = stopped.unwrap_err();
        assert_eq!(error.class(), StudyErrorClass::Stopped);
        let text = error.to_string();
        assert!(text.contains("16 of 36 trials are kept"), "{text}");
        assert!(text.contains("same command again"), "{text}");
        assert_eq!(run(&options, &part).unwrap().resumed, 16);
    }
}

#[test]
fn a_full_disk_ends_the_run_with_what_is_kept() {
    struct Full;
    impl Sink for Full {
        fn write(&self, folder: &Path, trial: Trial<'_>) -> Result<(), KeepError> {
            if trial.record.row.trial == 4 {
                let full = std::io::Error::from(std::io::ErrorKind::StorageFull);
                return Err(KeepError::at(&folder.join("trace"))(full));
            }
            Ok(())
        }
    }
    let folder = tempfile::tempdir().unwrap();
    let options = quietly(&folder.path().join("full"), 1, None);
    let error = compute(&one_point(7), &options, &made_up, vec![Box::new(Full)]).unwrap_err();
    assert_eq!(error.class(), StudyErrorClass::Incomplete);
    let text = error.to_string();
    assert!(
        text.contains("no space left") && text.contains("4 of 36"),
        "{text}"
    );
    assert_eq!(run(&options, &one_point(7)).unwrap().resumed, 4);
}

#[test]
fn a_trial_wanted_when_all_rows_are_known_is_computed_again_with_its_record() {
    struct Wanting;
    impl Sink for Wanting {
        fn write(&self, folder: &Path, trial: Trial<'_>) -> Result<(), KeepError> {
            let row = &trial.record.row;
            if trial.record.trace.is_empty() {
                return Ok(());
            }
            let name = format!("recorded-{}-{}.txt", row.strategy, row.trial);
            write_file(&folder.join(name), "")
        }
        fn wanted(&self, setup: &StudySetup, rows: &[Vec<TrialRow>]) -> Vec<(usize, u32)> {
            assert!(rows.iter().all(|of_strategy| of_strategy.len() == 12));
            vec![(setup.strategies.len() - 1, 11), (0, 7)]
        }
    }
    let traced = |task: Task, recorded: bool| {
        let mut record = made_up(task, recorded);
        if recorded && task.trial > 2 {
            record.trace.push(TraceRow::default());
        }
        record
    };
    let of_points = [(0, 11), (0, 7), (1, 11), (1, 7), (2, 11), (2, 7)];
    for (part, expected) in [
        (one_point(7), &[(2, 11), (0, 7)][..]),
        (three_points(7), &of_points),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("wanted");
        compute(
            &part,
            &quietly(&out, 2, None),
            &traced,
            vec![Box::new(Wanting)],
        )
        .unwrap();
        assert_eq!(contents(&out).len(), expected.len() + 1);
        for (kind, trial) in expected {
            let name = format!("recorded-strategy {kind}-{trial}.txt");
            assert!(out.join(&name).exists(), "{name}");
        }
    }
}
