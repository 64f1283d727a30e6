//! Which points are built, when, and how many trials each gets.

use std::fs;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, mpsc};
use std::time::Duration;

use bendwise::report::sweep::SweepSummary;
use bendwise::scenario::sweep::model::DesignKind;
use bendwise::study::{Part, Task, UntilWidth};

use super::{grid, run_part};
use crate::sweep_common::{Seen, listed, quietly, row, run, setup};

#[test]
fn a_point_that_cannot_be_built_is_told_and_has_no_trials() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let done = run_part(&Part::whole(grid()), &out, 1, None).unwrap();
    assert_eq!(done.handed.refused, 1);
    let text = fs::read_to_string(out.join("sweep.json")).unwrap();
    let summary: SweepSummary = serde_json::from_str(&text).unwrap();
    assert_eq!(summary.not_built.points, 1);
    assert_eq!(summary.not_built.first, Some((4, "too narrow".to_owned())));
    assert_eq!(summary.trials_in_all, 25);
    let page = fs::read_to_string(folder.path().join("out/report.md")).unwrap();
    assert!(page.contains("1 of 6 points could not be built"));
    assert!(page.contains("not for clinical decisions"));
}

/// Point 0 is ready only once another thread has done a trial of point 1.
#[test]
fn no_thread_waits_for_a_point_that_another_makes_ready() {
    let folder = tempfile::tempdir().unwrap();
    let (done, wait) = mpsc::sync_channel(64);
    let wait = Mutex::new(wait);
    let refuse = |point| {
        let late = || {
            let waited = wait.lock().unwrap().recv_timeout(Duration::from_secs(20));
            waited.is_err()
        };
        (point == 0 && late()).then_some("too late")
    };
    let trial = |task: Task| {
        if task.point == 1 {
            done.send(()).unwrap();
        }
        row(task.trial, true)
    };
    let options = quietly(&folder.path().join("out"), 2, None);
    let run = run(&Part::whole(grid()), &options, refuse, trial, Vec::new()).unwrap();
    assert_eq!((run.complete, run.computed), (true, 30));
}

/// Ten thousand points with eight trials each: one trial needs one point.
#[test]
fn only_the_points_in_work_are_built() {
    let folder = tempfile::tempdir().unwrap();
    let kind = DesignKind::Sobol { points: 10_000 };
    let part = Part::whole(setup(kind, vec![listed("x", &[1.0])], 8, 1));
    let options = quietly(&folder.path().join("out"), 1, Some(17));
    for _ in 0..2 {
        let built = AtomicUsize::new(0);
        let refuse = |_| {
            built.fetch_add(1, Ordering::SeqCst);
            None
        };
        let trial = |task: Task| row(task.trial, true);
        let run = run(&part, &options, refuse, trial, Vec::new()).unwrap();
        assert!(!run.complete);
        assert_eq!(run.computed, 17);
        // 17 trials of 8 a point: three points.
        assert_eq!(built.load(Ordering::SeqCst), 3);
    }
}

#[test]
fn trials_go_on_until_the_interval_is_narrow() {
    let folder = tempfile::tempdir().unwrap();
    let mut setup = setup(DesignKind::Grid, vec![listed("rate", &[0.0, 0.5])], 10, 1);
    setup.until_width = Some(UntilWidth {
        width: 0.2,
        most_trials: 100_000,
    });
    let seen = Seen::default();
    run(
        &Part::whole(setup),
        &quietly(&folder.path().join("out"), 2, None),
        |_| None,
        |task| row(task.trial, task.point == 1 && task.trial % 2 == 0),
        seen.sinks(),
    )
    .unwrap();
    let points = seen.points();
    let trials: Vec<usize> = points.iter().map(|(.., rows)| rows[0].len()).collect();
    // The exact interval of no success is 1 - 0.025^(1/n) wide: n of 16.5; that of one half 0.2034 wide
    // after 100 trials and 0.1937 after 110 (SciPy's beta distribution). Batches are of ten.
    assert_eq!(trials, [20, 110]);
}

/// A point with more trials than a file of the journal takes stands in several.
#[test]
fn a_point_with_many_trials_goes_on_and_comes_out_whole() {
    const TRIALS: u32 = 9000;
    let folder = tempfile::tempdir().unwrap();
    let rates = vec![listed("rate", &[0.2, 0.5])];
    let part = Part::whole(setup(DesignKind::Grid, rates, TRIALS, 1));
    let out = folder.path().join("out");
    let trial = |task: Task| row(task.trial, task.point == 1);
    let some = quietly(&out, 2, Some(13_000));
    run(&part, &some, |_| None, trial, Vec::new()).unwrap();
    let files = fs::read_dir(folder.path().join("out.partial/rows")).unwrap();
    assert!(files.count() > 3);
    let seen = Seen::default();
    let rest = quietly(&out, 2, None);
    let done = run(&part, &rest, |_| None, trial, seen.sinks()).unwrap();
    assert_eq!((done.resumed, done.computed), (13_000, 5_000));
    for (point, refused, rows) in seen.points() {
        assert!(refused.is_none() && rows[0].len() == TRIALS as usize);
        for (number, found) in (0..).zip(&rows[0]) {
            assert_eq!(*found, row(number, point == 1));
        }
    }
}
