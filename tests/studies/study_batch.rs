//! Does a batch keep what is finished, go on from it, and never spoil an older result?
#![allow(
    clippy::unwrap_used,
    reason = "a failed test may panic; numbers here are small"
)]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use bendwise::report::write_trials;
use bendwise::study::store::write_file;
use bendwise::study::{
    KeepError, Making, Plan, Sink, Sinks, StrategyLabel, Study, StudyDone, StudyError,
    StudyErrorClass, StudyOptions, Trial, run_batch, summarise,
};
use bendwise::trial::result::{Outcome, Pressed, TraceRow, TrialRecord, TrialRow};

const TRIALS: u32 = 12;
const STRATEGIES: usize = 3;

fn plan(seed: u64) -> Plan {
    let label = |i: usize| StrategyLabel {
        name: format!("strategy {i}"),
        slug: format!("strategy-{i}"),
        technique: "push".to_owned(),
        wire: format!("wire {i}"),
    };
    Plan {
        scenario: "made-up".to_owned(),
        origin: "invented".to_owned(),
        content_hash: "0123".to_owned(),
        seed,
        trials: TRIALS,
        recorded: 2,
        strategies: (0..STRATEGIES).map(label).collect(),
    }
}

/// A trial whose numbers need all digits of a double to survive the journal.
fn trial(strategy: usize, trial: u32) -> TrialRecord {
    let x = (f64::from(trial) + 0.1) * (strategy as f64 + 0.3);
    let row = TrialRow {
        strategy: format!("strategy {strategy}"),
        trial,
        outcome: Outcome::ALL[(strategy + trial as usize) % Outcome::ALL.len()],
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
            branch: strategy,
            stretch: trial,
            force_mn: x.exp(),
        }],
        ..TrialRecord::default()
    }
}

fn unrecorded(strategy: usize, number: u32, _recorded: bool) -> TrialRecord {
    trial(strategy, number)
}

/// Writes a file for each trial and one for all rows.
struct Files;

fn files() -> Sinks<'static> {
    vec![Box::new(Files)]
}

impl Sink for Files {
    fn write(&self, folder: &Path, trial: Trial<'_>) -> Result<(), KeepError> {
        let row = &trial.record.row;
        let path = folder.join(format!("{}-{}.txt", trial.label.slug, row.trial));
        write_file(&path, format!("{row:?}"))
    }

    fn finish(&mut self, study: &Study<'_>) -> Result<Vec<Making>, KeepError> {
        let (rows, pressed) = (study.rows, study.pressed);
        let path = study.folder.join("all.txt");
        write_file(&path, format!("{} {rows:#?}", study.plan.seed))?;
        let expected = |s: usize, t: u32| trial(s, t).pressed;
        let all = (0..STRATEGIES).map(|s| (0..TRIALS).map(|t| expected(s, t)).collect());
        assert_eq!(pressed, all.collect::<Vec<Vec<_>>>());
        let path = study.folder.join("pressed.txt");
        write_file(&path, format!("{pressed:?}"))?;
        Ok(Vec::new())
    }
}

fn options(out: PathBuf, threads: usize) -> StudyOptions {
    StudyOptions {
        out,
        threads: Some(threads),
        quiet: true,
        ..StudyOptions::default()
    }
}

fn run(options: &StudyOptions, seed: u64) -> Result<StudyDone, StudyError> {
    run_batch(
        &plan(seed),
        options,
        &AtomicBool::new(false),
        unrecorded,
        files(),
    )
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
    out.with_file_name(format!(
        "{}.partial",
        out.file_name().unwrap().to_string_lossy()
    ))
}

#[test]
fn the_result_is_the_same_on_one_thread_on_two_and_in_pieces() {
    let folder = tempfile::tempdir().unwrap();
    let whole = folder.path().join("whole");
    let done = run(&options(whole.clone(), 1), 7).unwrap();
    assert!(done.complete && done.resumed == 0 && done.computed == 36);
    assert_eq!(
        contents(&whole).len(),
        39,
        "a file a trial, two for all and the manifest"
    );

    let two = folder.path().join("two");
    run(&options(two.clone(), 2), 7).unwrap();
    assert_eq!(contents(&two), contents(&whole));

    for threads in [1, 2] {
        let pieces = folder.path().join(format!("pieces-{threads}"));
        let mut in_pieces = options(pieces.clone(), threads);
        in_pieces.limit = Some(15);
        let first = run(&in_pieces, 7).unwrap();
        assert!(!first.complete && first.computed == 15 && !pieces.exists());
        let second = run(&in_pieces, 7).unwrap();
        assert!(!second.complete && second.resumed == 15 && second.computed == 15);
        let third = run(&in_pieces, 7).unwrap();
        assert!(third.complete && third.resumed == 30 && third.computed == 6);
        assert_eq!(third.rows, done.rows);
        assert_eq!(contents(&pieces), contents(&whole));
        assert!(!partial(&pieces).exists());
    }
}

#[test]
fn a_line_torn_by_a_kill_is_dropped_and_its_trial_computed_again() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("torn");
    let mut some = options(out.clone(), 1);
    some.limit = Some(10);
    run(&some, 7).unwrap();
    let journal = partial(&out).join("journal.jsonl");
    let bytes = fs::read(&journal).unwrap();
    fs::write(&journal, &bytes[..bytes.len() - 20]).unwrap();

    let computed = AtomicUsize::new(0);
    let counted = |s: usize, t: u32, _| {
        computed.fetch_add(1, Ordering::SeqCst);
        trial(s, t)
    };
    let stop = AtomicBool::new(false);
    let done = run_batch(&plan(7), &options(out.clone(), 1), &stop, counted, files()).unwrap();
    assert_eq!(done.resumed, 9);
    assert_eq!(computed.into_inner(), 27);

    let whole = folder.path().join("whole");
    run(&options(whole.clone(), 1), 7).unwrap();
    assert_eq!(contents(&out), contents(&whole));
}

#[test]
fn a_kill_during_the_first_line_leaves_a_batch_that_starts_afresh() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("young");
    fs::create_dir_all(partial(&out)).unwrap();
    fs::write(
        partial(&out).join("journal.jsonl"),
        "{\"crc32\":\"0123abcd\",\"record\":{\"work\":",
    )
    .unwrap();
    let done = run(&options(out, 1), 7).unwrap();
    assert!(done.complete && done.resumed == 0);
}

#[test]
fn a_trial_in_a_damaged_line_is_computed_again() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("damaged");
    let mut some = options(out.clone(), 1);
    some.limit = Some(5);
    run(&some, 7).unwrap();
    let journal = partial(&out).join("journal.jsonl");
    let text = fs::read_to_string(&journal).unwrap();
    let mut lines: Vec<&str> = text.lines().collect();
    lines[2] = "{}";
    fs::write(&journal, lines.join("\n") + "\n").unwrap();
    let done = run(&options(out.clone(), 1), 7).unwrap();
    assert!(done.complete && done.resumed == 4, "{}", done.resumed);
    let whole = folder.path().join("whole");
    run(&options(whole.clone(), 1), 7).unwrap();
    assert_eq!(contents(&out), contents(&whole));
}

#[test]
fn a_journal_that_says_nothing_of_its_run_is_refused_with_its_place() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("damaged");
    let mut some = options(out.clone(), 1);
    some.limit = Some(5);
    run(&some, 7).unwrap();
    let journal = partial(&out).join("journal.jsonl");
    let text = fs::read_to_string(&journal).unwrap();
    fs::write(&journal, text.replacen("made-up", "made-op", 1)).unwrap();
    // The trials are known as those of this run, whose first line is written anew.
    let mut none = options(out.clone(), 1);
    none.limit = Some(1);
    assert_eq!(run(&none, 7).unwrap().resumed, 5);
    fs::write(&journal, text.replacen("made-up", "made-op", 1)).unwrap();
    let error = run(&options(out.clone(), 1), 8).unwrap_err();
    assert!(matches!(error, StudyError::DamagedJournal { line: 1, .. }));
    let said = error.to_string();
    assert!(
        said.contains("journal.jsonl, line 1") && said.contains("--overwrite"),
        "{said}"
    );
    let mut over = options(out, 1);
    over.overwrite = true;
    assert_eq!(run(&over, 8).unwrap().resumed, 0);
}

#[test]
fn an_unfinished_run_of_something_else_is_refused_with_what_differs() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("other");
    let mut some = options(out.clone(), 1);
    some.limit = Some(5);
    run(&some, 7).unwrap();
    let error = run(&options(out.clone(), 1), 8).unwrap_err();
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

    let mut over = options(out, 1);
    over.overwrite = true;
    let done = run(&over, 8).unwrap();
    assert!(done.complete && done.resumed == 0);
}

#[test]
fn an_existing_result_is_refused_and_with_overwrite_stays_until_the_new_one_is_whole() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("kept");
    run(&options(out.clone(), 1), 7).unwrap();
    let old = contents(&out);

    let error = run(&options(out.clone(), 1), 8).unwrap_err();
    assert_eq!(error.class(), StudyErrorClass::Input);
    assert!(error.to_string().contains("--overwrite"));
    assert!(!partial(&out).exists(), "a refused run leaves nothing");

    let mut over = options(out.clone(), 1);
    over.overwrite = true;
    over.limit = Some(30);
    run(&over, 8).unwrap();
    assert_eq!(contents(&out), old);
    over.limit = None;
    run(&over, 8).unwrap();
    assert_ne!(contents(&out), old);
    let left: Vec<_> = fs::read_dir(folder.path()).unwrap().collect();
    assert_eq!(left.len(), 1, "neither a work folder nor the old result");
}

#[test]
fn an_empty_target_folder_is_used_and_a_file_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let empty = folder.path().join("empty");
    fs::create_dir(&empty).unwrap();
    assert!(run(&options(empty, 1), 7).unwrap().complete);
    let file = folder.path().join("file");
    fs::write(&file, "text").unwrap();
    let error = run(&options(file, 1), 7).unwrap_err();
    assert!(matches!(error, StudyError::TargetIsNoFolder { .. }));
}

#[test]
fn a_target_whose_folder_cannot_be_created_is_wrong_input() {
    let folder = tempfile::tempdir().unwrap();
    let name = "x".repeat(300);
    let error = run(&options(folder.path().join(name), 1), 7).unwrap_err();
    assert!(matches!(error, StudyError::NotWritable { .. }), "{error}");
    assert_eq!(error.class(), StudyErrorClass::Input);
}

#[test]
fn a_raised_stop_keeps_the_finished_trials_and_says_how_to_go_on() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("stopped");
    let stop = AtomicBool::new(false);
    let stopping = |s: usize, t: u32, _| {
        if (s, t) == (1, 3) {
            stop.store(true, Ordering::SeqCst);
        }
        trial(s, t)
    };
    let error =
        run_batch(&plan(7), &options(out.clone(), 1), &stop, stopping, files()).unwrap_err();
    assert_eq!(error.class(), StudyErrorClass::Incomplete);
    let text = error.to_string();
    assert!(text.contains("16 of 36 trials are kept"), "{text}");
    assert!(text.contains("same command again"), "{text}");
    assert_eq!(run(&options(out, 1), 7).unwrap().resumed, 16);
}

#[test]
fn a_full_disk_ends_the_batch_with_what_is_kept() {
    struct Full;
    impl Sink for Full {
        fn write(&self, folder: &Path, trial: Trial<'_>) -> Result<(), KeepError> {
            if trial.record.row.trial == 4 {
                let full = std::io::Error::from(std::io::ErrorKind::StorageFull);
                return Err(KeepError::at(&folder.join("trace"))(full));
            }
            Ok(())
        }
        fn finish(&mut self, _: &Study<'_>) -> Result<Vec<Making>, KeepError> {
            Ok(Vec::new())
        }
    }
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("full");
    let stop = AtomicBool::new(false);
    let sinks: Sinks<'_> = vec![Box::new(Full)];
    let error =
        run_batch(&plan(7), &options(out.clone(), 1), &stop, unrecorded, sinks).unwrap_err();
    assert_eq!(error.class(), StudyErrorClass::Incomplete);
    let text = error.to_string();
    assert!(
        text.contains("no space left") && text.contains("4 of 36"),
        "{text}"
    );
    assert_eq!(run(&options(out, 1), 7).unwrap().resumed, 4);
}

#[test]
fn a_trial_wanted_when_all_rows_are_known_is_computed_again_with_its_record() {
    struct Wanting;
    impl Sink for Wanting {
        fn write(&self, folder: &Path, trial: Trial<'_>) -> Result<(), KeepError> {
            let (label, record) = (trial.label, trial.record);
            if record.trace.is_empty() {
                return Ok(());
            }
            let path = folder.join(format!("recorded-{}-{}.txt", label.slug, record.row.trial));
            write_file(&path, "")
        }
        fn wanted(&self, _: &Plan, rows: &[Vec<TrialRow>]) -> Vec<(usize, u32)> {
            assert!(rows.iter().all(|of_strategy| of_strategy.len() == 12));
            vec![(2, 11), (0, 7)]
        }
        fn finish(&mut self, _: &Study<'_>) -> Result<Vec<Making>, KeepError> {
            Ok(Vec::new())
        }
    }
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("wanted");
    let traced = |s: usize, t: u32, recorded: bool| {
        let mut record = trial(s, t);
        if recorded && t > 2 {
            record.trace.push(TraceRow::default());
        }
        record
    };
    let stop = AtomicBool::new(false);
    let sinks: Sinks<'_> = vec![Box::new(Wanting)];
    run_batch(&plan(7), &options(out.clone(), 2), &stop, traced, sinks).unwrap();
    let found = fs::read_dir(&out).unwrap().count();
    let slug = |s: usize| plan(7).strategies[s].slug.clone();
    for (s, t) in [(2, 11), (0, 7)] {
        let name = format!("recorded-{}-{t}.txt", slug(s));
        assert!(out.join(&name).exists(), "{name} of {found} files");
    }
}

#[test]
fn two_runs_never_share_a_work_folder() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("shared");
    let inner = options(out.clone(), 1);
    let outer = |s: usize, t: u32, _| {
        if (s, t) == (0, 0) {
            let error = run(&inner, 7).unwrap_err();
            assert!(matches!(error, StudyError::Busy { .. }));
        }
        trial(s, t)
    };
    let stop = AtomicBool::new(false);
    assert!(run_batch(&plan(7), &inner, &stop, outer, files()).is_ok());
}

#[test]
fn a_value_that_is_no_number_makes_an_unresolved_trial_with_a_note() {
    let folder = tempfile::tempdir().unwrap();
    let broken = |s: usize, t: u32, _| {
        let mut record = trial(s, t);
        if (s, t) == (2, 5) {
            record.row.peak_torque_mn_mm = f64::NAN;
        }
        record
    };
    let stop = AtomicBool::new(false);
    let options = options(folder.path().join("nan"), 2);
    let done = run_batch(&plan(7), &options, &stop, broken, files()).unwrap();
    let row = &done.rows[2][5];
    assert_eq!(row.outcome, Outcome::Unresolved);
    assert_eq!(row.note, "peak_torque_mN_mm was NaN");
}

/// In memory not-a-number, in the journal null, in the table an empty field, in summaries left out.
#[test]
fn a_missing_number_stays_missing_through_journal_table_and_summary() {
    let folder = tempfile::tempdir().unwrap();
    let broken = |s: usize, t: u32, _| {
        let mut record = trial(s, t);
        if s == 0 && t.is_multiple_of(3) {
            record.row.peak_wall_force_mn = [f64::NAN, f64::INFINITY][t as usize % 2];
            record.row.peak_strain_ratio = f64::NAN;
        }
        record
    };
    let out = folder.path().join("gaps");
    let some = StudyOptions {
        limit: Some(30),
        ..options(out.clone(), 1)
    };
    let stop = AtomicBool::new(false);
    run_batch(&plan(7), &some, &stop, broken, files()).unwrap();
    let done = run_batch(&plan(7), &options(out, 1), &stop, broken, files()).unwrap();
    assert_eq!(done.resumed, 30);
    let rows = &done.rows[0];
    let missing: Vec<u32> = (rows.iter())
        .filter(|row| row.peak_wall_force_mn.is_nan())
        .map(|row| row.trial)
        .collect();
    assert_eq!(missing, [0, 3, 6, 9]);

    let summary = summarise(&plan(7).strategies[0], rows);
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
        let expected = if row.trial.is_multiple_of(3) {
            String::new()
        } else {
            row.peak_wall_force_mn.to_string()
        };
        let field = &record[column("peak_wall_force_mN")];
        assert_eq!(field.parse::<f64>().ok(), expected.parse().ok(), "{field}");
        assert_eq!(field.is_empty(), row.trial.is_multiple_of(3));
        assert_eq!(&record[column("tip_branch")], "main, \"quoted\"");
    }
}
