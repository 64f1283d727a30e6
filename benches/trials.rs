//! Cost of whole trials of the main job: one, and a batch of 64 on all cores.

use bendwise::scenario::load;
use bendwise::trial::{Prepared, run_trial, strategies};
use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use rayon::prelude::*;
use std::hint::black_box;
use std::path::Path;
use std::time::Duration;

/// The main job, ready to run.
fn main_job() -> Prepared {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/published-tree-m1.toml");
    let loaded = load(&file).unwrap_or_else(|error| panic!("{error}"));
    Prepared::new(&loaded.scenario).unwrap_or_else(|error| panic!("{error}"))
}

fn trials(c: &mut Criterion) {
    let prepared = main_job();
    let strategies = strategies(prepared.scenario());
    let redirect = strategies
        .iter()
        .find(|s| s.name == "redirect, workhorse 1 gf")
        .unwrap_or_else(|| panic!("the main job redirects a workhorse wire"));
    let mut group = c.benchmark_group("trial");
    group
        .sample_size(10)
        .warm_up_time(Duration::from_secs(1))
        .measurement_time(Duration::from_secs(5));
    group.bench_function("redirect, workhorse", |b| {
        b.iter(|| run_trial(&prepared, redirect, black_box(0), false));
    });
    group.throughput(Throughput::Elements(64));
    group.bench_function("batch of 64 on all cores", |b| {
        b.iter(|| {
            let trials = (0..64u32).into_par_iter().with_max_len(1);
            let steps = trials.map(|k| run_trial(&prepared, redirect, k, false).row.steps);
            steps.sum::<u32>()
        });
    });
    group.finish();
}

criterion_group! {
    name = benches;
    config = Criterion::default().without_plots();
    targets = trials
}
criterion_main!(benches);
