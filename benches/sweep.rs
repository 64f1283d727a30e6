//! What a sweep costs beside its trials: choosing, keeping and building.

use std::hint::black_box;
use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use bendwise::scenario::sweep::load_sweep;
use bendwise::scenario::sweep::model::DesignKind;
use bendwise::study::sweep::{Base, Design};
use bendwise::study::{
    Part, RunTrial, StrategyLabel, StudyDone, StudyOf, StudyOptions, StudySetup, Task, run_study,
};
use bendwise::trial::result::{TrialRecord, TrialRow};
use bendwise::trial::{Prepared, run_trial, strategies};
use criterion::{Criterion, Throughput, criterion_group, criterion_main};

/// The shipped bend-shape sweep: its base and its design.
fn shipped() -> (Base, Design) {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/sweeps/bend-shape.toml");
    let sweep = load_sweep(&file).unwrap_or_else(|error| panic!("{error}"));
    let base = Base::read(&sweep).unwrap_or_else(|error| panic!("{error}"));
    let design = Design {
        kind: sweep.spec.design,
        seed: base.seed(),
        parameters: sweep.spec.parameters,
    };
    (base, design)
}

fn whole(design: &Design) -> Part {
    Part::whole(StudySetup {
        version: String::new(),
        build: String::new(),
        of: StudyOf::Sweep("bench".to_owned()),
        description: String::new(),
        scenario: "bench".to_owned(),
        origin: "invented".to_owned(),
        content_hash: String::new(),
        seed: design.seed,
        points: design.count().unwrap_or(1),
        trials: 8,
        recorded: 0,
        until_width: None,
        strategies: vec![StrategyLabel {
            name: "redirect, wire".to_owned(),
            slug: "redirect-wire".to_owned(),
            technique: "redirect".to_owned(),
            wire: "wire".to_owned(),
        }],
        design: design.clone(),
        map: None,
        search: None,
        files: Vec::new(),
    })
}

fn sweep(c: &mut Criterion) {
    let (base, design) = shipped();
    let prepared = |point: usize| {
        let scenario = base.scenario_at(&design.point(point), point);
        let scenario = scenario.unwrap_or_else(|error| panic!("{error}"));
        Prepared::new(&scenario).unwrap_or_else(|error| panic!("{error}"))
    };
    let mut group = c.benchmark_group("sweep");
    group
        .sample_size(10)
        .warm_up_time(Duration::from_millis(500))
        .measurement_time(Duration::from_secs(3));
    group.bench_function("a point made ready", |b| b.iter(|| prepared(black_box(40))));
    let ready = prepared(40);
    let all = strategies(ready.scenario());
    let row = run_trial(&ready, &all[0], 0, false).row;
    group.bench_function("one trial", |b| {
        b.iter(|| run_trial(&ready, &all[0], black_box(0), false));
    });
    let part = whole(&design);
    group.throughput(Throughput::Elements(2000));
    group.bench_function("choosing and keeping 2000 trials that cost nothing", |b| {
        b.iter(|| {
            let folder = tempfile::tempdir().unwrap_or_else(|error| panic!("{error}"));
            trials_for_nothing(&part, &row, &folder.path().join("out"), 2000).computed
        });
    });
    group.finish();
}

/// Goes on with a sweep for `limit` trials whose mechanics is left out: each has this row.
fn trials_for_nothing(part: &Part, row: &TrialRow, out: &Path, limit: usize) -> StudyDone {
    let options = StudyOptions {
        out: out.to_owned(),
        threads: Some(2),
        quiet: true,
        limit: Some(limit),
        ..StudyOptions::default()
    };
    let stop = AtomicBool::new(false);
    let compute = |task: Task, _| {
        let mut record = TrialRecord {
            row: row.clone(),
            ..TrialRecord::default()
        };
        record.row.trial = task.trial;
        record
    };
    let prepare = |_| -> Result<RunTrial<'_>, String> { Ok(Box::new(compute)) };
    let run = run_study(part, &options, &stop, &prepare, Vec::new());
    run.unwrap_or_else(|error| panic!("{error}"))
}

/// Points of a large sweep, with 8 trials each.
const MANY: usize = 10_000;

/// A large sweep begins, and goes on after half of its trials: until the first new trial is kept.
/// The mechanics is left out.
fn large(c: &mut Criterion) {
    let (base, mut design) = shipped();
    let prepared = base.scenario_at(&design.point(0), 0);
    let scenario = prepared.unwrap_or_else(|error| panic!("{error}"));
    let ready = Prepared::new(&scenario).unwrap_or_else(|error| panic!("{error}"));
    let all = strategies(ready.scenario());
    let row = run_trial(&ready, &all[0], 0, false).row;
    design.kind = DesignKind::LatinHypercube { points: MANY };
    let part = whole(&design);
    let go_on = |out: &Path, limit: usize| trials_for_nothing(&part, &row, out, limit).resumed;
    let mut group = c.benchmark_group("10,000 points x 8 trials");
    group
        .sample_size(10)
        .warm_up_time(Duration::from_millis(500))
        .measurement_time(Duration::from_secs(3));
    group.bench_function("start", |b| {
        b.iter(|| {
            let folder = tempfile::tempdir().unwrap_or_else(|error| panic!("{error}"));
            go_on(&folder.path().join("out"), 1)
        });
    });
    let folder = tempfile::tempdir().unwrap_or_else(|error| panic!("{error}"));
    let out = folder.path().join("out");
    go_on(&out, 4 * MANY);
    group.bench_function("resume after half", |b| {
        b.iter(|| assert!(go_on(&out, 1) >= 4 * MANY));
    });
    group.finish();
}

/// Real trials on one thread and on two: the shares of the time say what the second thread brings.
fn threads(c: &mut Criterion) {
    const TRIALS: u64 = 192;
    let (base, design) = shipped();
    let part = whole(&design);
    let prepare = |point: usize| {
        let scenario = base.scenario_at(&design.point(point), point)?;
        Prepared::new(&scenario).map_err(|error| error.to_string())
    };
    let first = prepare(0).unwrap_or_else(|error| panic!("{error}"));
    let all = &strategies(first.scenario());
    let ready = |point: usize| -> Result<RunTrial<'_>, String> {
        let prepared = prepare(point)?;
        Ok(Box::new(move |task, recorded| {
            run_trial(&prepared, &all[task.strategy], task.trial, recorded)
        }))
    };
    let mut group = c.benchmark_group("192 trials of the bend-shape sweep");
    group
        .sample_size(10)
        .warm_up_time(Duration::from_millis(500))
        .measurement_time(Duration::from_secs(20))
        .throughput(Throughput::Elements(TRIALS));
    for threads in [1, 2] {
        group.bench_function(format!("{threads} threads"), |b| {
            b.iter(|| {
                let folder = tempfile::tempdir().unwrap_or_else(|error| panic!("{error}"));
                let options = StudyOptions {
                    out: folder.path().join("out"),
                    threads: Some(threads),
                    quiet: true,
                    limit: usize::try_from(TRIALS).ok(),
                    ..StudyOptions::default()
                };
                let stop = AtomicBool::new(false);
                let run = run_study(&part, &options, &stop, &ready, Vec::new());
                run.map_or(0, |run| run.computed)
            });
        });
    }
    group.finish();
}

criterion_group! {
    name = benches;
    config = Criterion::default().without_plots();
    targets = sweep, large, threads
}
criterion_main!(benches);
