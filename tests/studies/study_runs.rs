//! Does a study, of one point or of many, keep what is finished, go on from it, and never spoil an
//! older result?
#![allow(
    clippy::unwrap_used,
    reason = "a failed test may panic; numbers here are small"
)]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use bendwise::report::write_trials;
use bendwise::scenario::sweep::model::DesignKind;
use bendwise::study::store::write_file;
use bendwise::study::{
    KeepError, Making, Part, Point, Sink, Sinks, StrategyLabel, StudyDone, StudyError,
    StudyErrorClass, StudyOf, StudyOptions, StudySetup, Task, Trial, run_study, summarise,
};
use bendwise::trial::result::{Outcome, Pressed, TraceRow, TrialRecord, TrialRow};

use crate::sweep_common::{self, Seen, listed, quietly};

const TRIALS: u32 = 12;
const STRATEGIES: usize = 3;
const TOTAL: usize = 36;

fn strategies(count: usize) -> Vec<StrategyLabel> {
    let label = |i: usize| StrategyLabel {
        name: format!("strategy {i}"),
        slug: format!("strategy-{i}"),
        technique: "push".to_owned(),
        wire: format!("wire {i}"),
    };
    (0..count).map(label).collect()
}

/// Three strategies at one point.
fn one_point(seed: u64) -> Part {
    Part::whole(StudySetup {
        of: StudyOf::Scenario,
        recorded: 2,
        strategies: strategies(STRATEGIES),
        ..sweep_common::setup(DesignKind::Grid, Vec::new(), TRIALS, seed)
    })
}

/// As many trials of one strategy at each of three points.
fn three_points(seed: u64) -> Part {
    let levels = listed("length_mm", &[1.0, 2.0, 3.0]);
    Part::whole(StudySetup {
        recorded: 2,
        strategies: strategies(1),
        ..sweep_common::setup(DesignKind::Grid, vec![levels], TRIALS, seed)
    })
}

/// A trial whose numbers need all digits of a double to survive the journal.
fn trial(kind: usize, trial: u32) -> TrialRecord {
    let x = (f64::from(trial) + 0.1) * (kind as f64 + 0.3);
    let row = TrialRow {
        strategy: format!("strategy {kind}"),
        trial,
        outcome: Outcome::ALL[(kind + trial as usize) % Outcome::ALL.len()],
        tip_branch: "main, \"quoted\"".to_owned(),
        attempts: 1 + trial % 4,
        fed_mm: x.sin(),
        travel_mm: x.exp(),
        turned_deg: x / 3.0,
        peak_wall_force_mn: 1.0 / x,
        peak_tip_force_mn: x.sqrt(),
        peak_push_force_mn: 1e-17 * x,
        peak_torque_mn_mm: 1e17 * x,
        peak_wall_deflection_mm: x.ln(),
        peak_strain_ratio: 0.1 * x,
        peak_axial_strain: 1e-5 * x,
        roll_deg: 360.0 * x.cos(),
        friction: 0.05 * x,
        diameter_factor: 1.0,
        bend_factor: 1.0,
        steps: 100,
        newton_iterations: 600 + trial,
        ..TrialRow::default()
    };
    TrialRecord {
        row,
        pressed: vec![Pressed {
            branch: kind,
            stretch: trial,
            force_mn: x.exp(),
        }],
        ..TrialRecord::default()
    }
}

fn made_up(_: &(), task: Task, _: bool) -> TrialRecord {
    trial(task.point + task.strategy, task.trial)
}

/// Writes a file for each trial and one for each point, with all that is known of it.
struct Files;

impl Sink for Files {
    fn write(&self, folder: &Path, trial: Trial<'_>) -> Result<(), KeepError> {
        let row = &trial.record.row;
        let path = folder.join(format!("{}-{}.txt", row.strategy, row.trial));
        write_file(&path, format!("{row:?}"))
    }

    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        let expected = |s: usize, t: u32| trial(point.number + s, t).pressed;
        let all = (0..point.rows.len()).map(|s| (0..TRIALS).map(|t| expected(s, t)).collect());
        assert_eq!(point.pressed, all.collect::<Vec<Vec<_>>>());
        let (seed, rows) = (point.setup.seed, point.rows);
        let path = point.folder.join(format!("point-{}.txt", point.number));
        write_file(&path, format!("{seed} {rows:#?} {:?}", point.pressed))?;
        Ok(Vec::new())
    }
}

/// Runs trials of one point or of many.
fn compute(
    part: &Part,
    options: &StudyOptions,
    trial: impl Fn(&(), Task, bool) -> TrialRecord + Sync,
    sinks: Sinks<'_>,
) -> Result<StudyDone, StudyError> {
    let stop = AtomicBool::new(false);
    run_study(part, options, &stop, |_| Ok(()), trial, sinks)
}

fn run(options: &StudyOptions, part: &Part) -> Result<StudyDone, StudyError> {
    compute(part, options, made_up, vec![Box::new(Files)])
}

/// Every file under `folder` with its bytes.
fn contents(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(folder).unwrap();
    entries
        .map(|entry| {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            (name, fs::read(&path).unwrap())
        })
        .collect()
}

fn partial(out: &Path) -> PathBuf {
    out.with_extension("partial")
}

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
        let counted = |ready: &(), task, recorded| {
            computed.fetch_add(1, Ordering::SeqCst);
            made_up(ready, task, recorded)
        };
        let done = compute(
            &part,
            &quietly(&out, 1, None),
            counted,
            vec![Box::new(Files)],
        );
        assert_eq!(done.unwrap().resumed, 8);
        assert_eq!(computed.into_inner(), TOTAL - 8);
        run(&quietly(&whole, 1, None), &part).unwrap();
        assert_eq!(contents(&out), contents(&whole));
    }
}

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

#[test]
fn a_raised_stop_keeps_the_finished_trials_and_says_how_to_go_on() {
    for part in [one_point(7), three_points(7)] {
        let folder = tempfile::tempdir().unwrap();
        let options = quietly(&folder.path().join("stopped"), 1, None);
        let stop = AtomicBool::new(false);
        let stopping = |ready: &(), task: Task, recorded| {
            if (task.point + task.strategy, task.trial) == (1, 3) {
                stop.store(true, Ordering::SeqCst);
            }
            made_up(ready, task, recorded)
        };
        let sinks: Sinks<'_> = vec![Box::new(Files)];
        let stopped = run_study(&part, &options, &stop, |_| Ok(()), stopping, sinks);
        let error = stopped.unwrap_err();
        assert_eq!(error.class(), StudyErrorClass::Incomplete);
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
    let error = compute(&one_point(7), &options, made_up, vec![Box::new(Full)]).unwrap_err();
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
    let traced = |ready: &(), task: Task, recorded: bool| {
        let mut record = made_up(ready, task, recorded);
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
            traced,
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

/// In memory not-a-number, in the journal null, in the table an empty field, in summaries left out.
#[test]
fn a_missing_number_stays_missing_through_journal_table_and_summary() {
    let folder = tempfile::tempdir().unwrap();
    let broken = |ready: &(), task: Task, recorded| {
        let mut record = made_up(ready, task, recorded);
        let trial = task.trial;
        if task.strategy == 0 && trial.is_multiple_of(3) {
            record.row.peak_wall_force_mn = [f64::NAN, f64::INFINITY][trial as usize % 2];
            record.row.peak_strain_ratio = f64::NAN;
            record.pressed[0].force_mn = f64::NAN;
        }
        record
    };
    let (out, part) = (folder.path().join("gaps"), one_point(7));
    compute(&part, &quietly(&out, 1, Some(30)), broken, Vec::new()).unwrap();
    let seen = Seen::default();
    let done = compute(&part, &quietly(&out, 1, None), broken, seen.sinks()).unwrap();
    assert_eq!(done.resumed, 30);
    let rows = &seen.points()[0].2[0];
    let missing: Vec<u32> = (rows.iter())
        .filter(|row| row.peak_wall_force_mn.is_nan())
        .map(|row| row.trial)
        .collect();
    assert_eq!(missing, [0, 3, 6, 9]);
    assert_eq!(rows[3].outcome, Outcome::Unresolved);
    assert_eq!(
        rows[3].note,
        "peak_wall_force_mN was inf; peak_strain_ratio was NaN"
    );

    let summary = summarise(&part.setup.strategies[0], rows);
    let mut forces: Vec<f64> = (0..TRIALS)
        .filter(|t| !t.is_multiple_of(3))
        .map(|t| trial(0, t).row.peak_wall_force_mn)
        .collect();
    forces.sort_by(f64::total_cmp);
    let middle = f64::midpoint(forces[3], forces[4]);
    assert!((summary.peak_wall_force_mn.median - middle).abs() < 1e-15);
    let largest = trial(0, 11).row.peak_strain_ratio;
    assert!((summary.largest_strain_ratio - largest).abs() < 1e-15);
    let before = (0..TRIALS).filter(|&t| {
        let gap = t.is_multiple_of(3);
        gap || trial(0, t).row.outcome == Outcome::Unresolved
    });
    assert_eq!(summary.unresolved as usize, before.count());

    let table = folder.path().join("trials.csv");
    write_trials(&table, rows).unwrap();
    let mut reader = csv::Reader::from_path(&table).unwrap();
    let head = reader.headers().unwrap().clone();
    let column = |name: &str| head.iter().position(|n| n == name).unwrap();
    for (row, record) in rows.iter().zip(reader.records()) {
        let record = record.unwrap();
        let is_missing = row.trial.is_multiple_of(3);
        let field = &record[column("peak_wall_force_mN")];
        let expected = (!is_missing).then_some(row.peak_wall_force_mn);
        assert_eq!(field.parse::<f64>().ok(), expected, "{field}");
        assert_eq!(field.is_empty(), is_missing);
        assert_eq!(&record[column("tip_branch")], "main, \"quoted\"");
    }
}
