//! Does a sweep give the same bytes whole, in shares, interrupted, and on any number of threads, and
//! does it build only what it needs?
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, mpsc};
use std::time::Duration;

use crate::files_below::files_below;
use crate::sweep_common::{Seen, chance, listed, quietly, row, run, setup};
use bendwise::report::sweep::{SweepSummary, sinks};
use bendwise::scenario::sweep::model::{DesignKind, MapSpec, Values};
use bendwise::study::store::header::claim;
use bendwise::study::sweep::{Separation, ShareSink, Shares};
use bendwise::study::{
    Folders, Part, Shard, Sinks, StudyDone, StudyError, StudySetup, Task, UntilWidth,
};
use bendwise::trial::result::{Outcome, TrialRow};
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::RowAccessor;

fn grid() -> StudySetup {
    let lengths = listed("length_mm", &[1.0, 2.0, 3.0]);
    let angles = listed("angle_deg", &[30.0, 60.0]);
    let mut setup = setup(DesignKind::Grid, vec![lengths, angles], 5, 9);
    setup.map = Some(MapSpec {
        x: "length_mm".to_owned(),
        y: "angle_deg".to_owned(),
        panel: None,
    });
    setup
}

fn lucky(task: Task) -> TrialRow {
    let chance = chance(1, task.point as u64, u64::from(task.trial));
    row(task.trial, chance < 0.2 + 0.1 * task.point as f64)
}

/// Runs trials whose success depends on point and trial; point 4 cannot be built. Writes what a
/// sweep or a share of it leaves behind.
fn run_part(
    part: &Part,
    out: &Path,
    threads: usize,
    limit: Option<usize>,
) -> Result<StudyDone, StudyError> {
    let sinks: Sinks<'_> = match part.shard {
        Shard::WHOLE => sinks(&part.setup),
        _ => vec![Box::new(ShareSink::new(part))],
    };
    let refuse = |point| (point == 4).then_some("too narrow");
    run(part, &quietly(out, threads, limit), refuse, lucky, sinks)
}

/// Computes trials without mechanics and reads what a sweep leaves behind.
fn written(
    setup: &StudySetup,
    out: &Path,
    trial: impl Fn(usize, u32) -> TrialRow + Sync,
) -> SweepSummary {
    let part = Part::whole(setup.clone());
    let trial = |task: Task| trial(task.point, task.trial);
    run(&part, &quietly(out, 2, None), |_| None, trial, sinks(setup)).unwrap();
    let text = fs::read_to_string(out.join("sweep.json")).unwrap();
    serde_json::from_str(&text).unwrap()
}

fn assert_same(first: &Path, second: &Path) {
    let (first, second) = (files_below(first), files_below(second));
    let names = |files: &BTreeMap<String, Vec<u8>>| files.keys().cloned().collect::<Vec<_>>();
    assert_eq!(names(&first), names(&second));
    for (name, bytes) in &first {
        assert!(second[name] == *bytes, "{name} differs");
    }
    assert!(first.contains_key("figures/map.png"));
}

#[test]
fn threads_interruptions_and_shares_change_no_byte() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let whole = Part::whole(grid());
    run_part(&whole, &at("whole"), 1, None).unwrap();
    run_part(&whole, &at("threads"), 4, None).unwrap();
    assert_same(&at("whole"), &at("threads"));

    let mut parts = 0;
    while !run_part(&whole, &at("parts"), 1, Some(3)).unwrap().complete {
        parts += 1;
        assert!(parts < 20, "the run makes no progress");
    }
    assert!(parts > 5);
    assert_same(&at("whole"), &at("parts"));

    let folders: Vec<PathBuf> = [3, 1, 2]
        .map(|number| share(&grid(), &at(&format!("share-{number}")), number, 3))
        .into();
    let gathered = Shares::open(&folders).unwrap();
    let joined = Folders::prepare(&at("joined"), false).unwrap();
    claim(&joined, "gather").unwrap();
    let handed = gathered.hand_on(joined.partial(), sinks(gathered.setup()));
    assert_eq!(handed.unwrap().refused, 1);
    joined.complete().unwrap();
    assert_same(&at("whole"), &at("joined"));
}

/// Computes a share and returns its folder.
fn share(setup: &StudySetup, out: &Path, number: usize, of: usize) -> PathBuf {
    let part = Part {
        setup: setup.clone(),
        shard: Shard { number, of },
    };
    run_part(&part, out, 1, None).unwrap();
    out.to_owned()
}

#[test]
fn shares_that_do_not_belong_together_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let setup = grid();
    share(&setup, &at("1of2"), 1, 2);
    share(&setup, &at("2of3"), 2, 3);
    let other_seed = StudySetup {
        seed: 77,
        ..setup.clone()
    };
    share(&other_seed, &at("seed"), 2, 2);
    let other_version = StudySetup {
        version: "older".to_owned(),
        ..setup.clone()
    };
    share(&other_version, &at("version"), 2, 2);
    let mut other_design = setup.clone();
    other_design.design.parameters[0] = listed("length_mm", &[1.0, 2.0, 4.0]);
    share(&other_design, &at("design"), 2, 2);
    let refused = |names: &[&str]| {
        let folders: Vec<_> = names.iter().map(|name| at(name)).collect();
        Shares::open(&folders).unwrap_err().to_string()
    };
    assert!(refused(&[]).contains("nothing to gather"));
    assert!(refused(&["1of2"]).contains("missing: 2"));
    assert!(refused(&["1of2", "1of2"]).contains("stands in both"));
    assert!(refused(&["1of2", "2of3"]).contains("number of shares: 2 and 3"));
    assert!(refused(&["1of2", "seed"]).contains("seed: 9 and 77"));
    assert!(refused(&["1of2", "version"]).contains("version"));
    assert!(refused(&["1of2", "design"]).contains("design"));
    assert!(refused(&["1of2", "nowhere"]).contains("holds no share"));
}

#[test]
fn a_share_with_lost_rows_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let folders: Vec<PathBuf> = [1, 2]
        .map(|number| share(&grid(), &folder.path().join(number.to_string()), number, 2))
        .into();
    let rows = folders[1].join("rows.jsonl");
    let text = fs::read_to_string(&rows).unwrap();
    let kept: Vec<&str> = text.lines().skip(1).collect();
    fs::write(&rows, kept.join("\n") + "\n").unwrap();
    let shares = Shares::open(&folders).unwrap();
    let bad = shares.in_order().unwrap().find_map(Result::err).unwrap();
    assert!(bad.to_string().contains("4 of 5 trials"), "{bad}");
}

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

#[test]
fn the_parquet_file_holds_what_the_csv_file_holds() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    run_part(&Part::whole(grid()), &out, 1, None).unwrap();
    let mut csv = csv::Reader::from_path(out.join("trials.csv")).unwrap();
    let head = csv.headers().unwrap().clone();
    let rows: Vec<csv::StringRecord> = csv.records().map(Result::unwrap).collect();
    let file = fs::File::open(out.join("trials.parquet")).unwrap();
    let reader = SerializedFileReader::new(file).unwrap();
    let fields = reader.metadata().file_metadata().schema_descr();
    let name = |column| fields.column(column).name().to_owned();
    let names: Vec<String> = (0..fields.num_columns()).map(name).collect();
    assert_eq!(head.iter().collect::<Vec<_>>(), names);
    let mut count = 0;
    for (record, row) in rows.iter().zip(reader.get_row_iter(None).unwrap()) {
        let row = row.unwrap();
        let column = |name: &str| head.iter().position(|n| n == name).unwrap();
        let fed = column("fed_mm");
        let parsed: f64 = record[fed].parse().unwrap();
        assert_eq!(row.get_double(fed).unwrap().to_bits(), parsed.to_bits());
        let branch = column("tip_branch");
        assert_eq!(row.get_string(branch).unwrap(), &record[branch]);
        let reached = column("reached");
        assert_eq!(row.get_long(reached).unwrap().to_string(), record[reached]);
        count += 1;
    }
    assert_eq!(count, 25);
}

/// Each point has trials with forces 1 to 5 mN; of two the force is not a number or not finite.
#[test]
fn missing_numbers_are_empty_and_enter_no_median() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let setup = setup(
        DesignKind::Grid,
        vec![listed("length_mm", &[1.0, 2.0])],
        7,
        3,
    );
    let summary = written(&setup, &out, |_, trial| {
        let mut row = row(trial, trial < 3);
        row.peak_wall_force_mn = match trial {
            5 => f64::NAN,
            6 => f64::INFINITY,
            _ => f64::from(trial) + 1.0,
        };
        row
    });
    let mut points = csv::Reader::from_path(out.join("points.csv")).unwrap();
    let head = points.headers().unwrap().clone();
    let column = |name: &str| head.iter().position(|n| n == name).unwrap();
    for point in points.records() {
        let point = point.unwrap();
        // The middle of 1 to 5, and 1 + 0.95 · 4; zeros in place of the two would make it 2.
        assert_eq!(&point[column("peak_wall_force_median_mN")], "3");
        assert_eq!(&point[column("peak_wall_force_p95_mN")], "4.8");
        assert_eq!(&point[column("outcome_unresolved")], "2");
    }
    let mut trials = csv::Reader::from_path(out.join("trials.csv")).unwrap();
    let head = trials.headers().unwrap().clone();
    let force = head.iter().position(|n| n == "peak_wall_force_mN").unwrap();
    let forces: Vec<String> = (trials.records())
        .map(|record| record.unwrap()[force].to_owned())
        .collect();
    assert_eq!(forces, [["1", "2", "3", "4", "5", "", ""]; 2].concat());
    let file = fs::File::open(out.join("trials.parquet")).unwrap();
    let reader = SerializedFileReader::new(file).unwrap();
    let nulls = reader.get_row_iter(None).unwrap();
    let nulls = nulls.filter(|row| row.as_ref().unwrap().get_double(force).is_err());
    assert_eq!(nulls.count(), 4);
    assert_eq!(summary.unresolved_in_all, 4);
}

#[test]
fn unresolved_trials_are_counted_everywhere() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let mut setup = grid();
    setup.trials = 8;
    let summary = written(&setup, &out, |point, trial| {
        let mut row = row(trial, trial.is_multiple_of(2));
        if trial == 7 && point < 4 {
            row.outcome = Outcome::Unresolved;
        }
        row
    });
    assert_eq!(summary.unresolved_in_all, 4);
    assert_eq!(summary.totals[0].unresolved, 4);
    let of_effects: u64 = summary.effects[0]
        .bins
        .iter()
        .map(|bin| bin.unresolved)
        .sum();
    assert_eq!(of_effects, 4);
    let of_fields: u64 = summary
        .fields
        .iter()
        .map(|cell| cell.count.unresolved)
        .sum();
    assert_eq!(of_fields, 4);
    let report = fs::read_to_string(out.join("report.md")).unwrap();
    assert!(
        report.contains("**4 of 48 trials are unresolved**"),
        "{report}"
    );
    assert!(report.contains("They count as trials that did not reach"));
    assert!(report.contains("with 8, a kind that makes up 31 % of all draws is missing"));
    let json = fs::read_to_string(out.join("sweep.json")).unwrap();
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["unresolved_in_all"], 4);
}

#[test]
fn few_draws_are_said_to_carry_no_narrow_interval() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let mut setup = grid();
    setup.trials = 2;
    let summary = written(&setup, &out, |point, trial| {
        row(trial, (point + trial as usize).is_multiple_of(3))
    });
    assert!((summary.totals[0].effective_trials - 2.0).abs() < 1e-9);
    let report = fs::read_to_string(out.join("report.md")).unwrap();
    assert!(
        report.contains("**2 draws cannot carry a narrow interval.**"),
        "{report}"
    );
}

/// Tip numbers and texts are names: each level against the first, and no number in tables.
#[test]
fn tip_numbers_are_categories() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let mut tip = listed("tip", &[]);
    tip.targets[0].path = "target.tip".to_owned();
    tip.values = Values::Listed {
        levels: [12, 3, 7].map(toml::Value::Integer).to_vec(),
        weights: vec![1.0 / 3.0; 3],
    };
    let mut setup = setup(
        DesignKind::Grid,
        vec![tip, listed("length_mm", &[1.0, 2.0])],
        24,
        3,
    );
    setup.map = None;
    // Tip 3, the smallest number, is in the middle; as a number it would have no slope.
    let rates = [0.8, 0.5, 0.2];
    let summary = written(&setup, &out, |point, trial| {
        row(
            trial,
            chance(2, point as u64, u64::from(trial)) < rates[point / 2],
        )
    });
    let regression = &summary.regressions[0];
    let names: Vec<&str> = regression
        .over_range
        .iter()
        .map(|o| o.name.as_str())
        .collect();
    assert_eq!(names, ["tip = 3", "tip = 7", "length_mm"]);
    let first = regression.over_range[0].reference.as_deref();
    assert_eq!(first, Some("tip = 12"));
    assert!(regression.over_range[2].reference.is_none());
    // 0.5 against 0.8 and 0.2 against 0.8 are odds ratios of 1/4 and 1/16.
    assert!(regression.over_range[1].odds_ratio < regression.over_range[0].odds_ratio);
    let report = fs::read_to_string(out.join("report.md")).unwrap();
    assert!(report.contains("against tip = 12"), "{report}");
    let note = summary.columns.iter().find(|c| c.name == "tip").unwrap();
    assert_eq!(note.kind, "text");
    assert!(out.join("figures/success-tip.png").exists());
}

/// A level at which nothing was ever reached is said to separate, with a finite odds ratio.
#[test]
fn separation_is_said_in_the_report() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let setup = grid();
    let summary = written(&setup, &out, |point, trial| {
        row(trial, point.is_multiple_of(2) && trial < 3)
    });
    let fit = summary.regressions[0].fit.as_ref().unwrap();
    assert_eq!(fit.separation, Separation::QuasiComplete);
    assert!(fit.terms[1].unbounded && !fit.terms[0].unbounded);
    assert!(fit.terms.iter().all(|term| term.odds_ratio.is_finite()));
    let report = fs::read_to_string(out.join("report.md")).unwrap();
    assert!(
        report.contains("quasi-complete separation.** angle_deg tells"),
        "{report}"
    );
    assert!(report.contains("angle_deg (separates)"));
    let json = fs::read_to_string(out.join("sweep.json")).unwrap();
    assert!(json.contains("\"separation\": \"quasi_complete\""));
}
