//! What a trial of each technique costs on the same draws, in the phantom with all of them.
//!
//! Beside the time of four trials stands the number of hand steps in a second, so that trials of one
//! length can be compared. A wire that is folded is twice as long as one that is redirected, and a
//! step of a long wire costs more: `redirect-far` redirects a wire of that length, at a branch that
//! lies further down the same vessel.

#![allow(
    clippy::print_stdout,
    reason = "the number of steps belongs to the times"
)]

use std::path::Path;
use std::time::Duration;

use bendwise::scenario::{Loaded, load_text};
use bendwise::trial::{Prepared, Strategy, run_trial, strategies};
use criterion::measurement::WallTime;
use criterion::{BenchmarkGroup, Criterion, Throughput, criterion_group, criterion_main};

/// Trials that one measurement runs through.
const TRIALS: u32 = 4;

/// The branch's place and the vessel's length in the phantom, and both 48 mm more.
const NEAR: [&str; 2] = ["at_mm = 40", "length_mm = 110"];
const FAR: [&str; 2] = ["at_mm = 88", "length_mm = 158"];

/// The phantom with its branch at one of these places.
fn phantom(place: [&str; 2]) -> Loaded {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/angle-phantom.toml");
    let mut text = std::fs::read_to_string(&file).unwrap_or_else(|error| panic!("{error}"));
    for (near, here) in NEAR.iter().zip(place) {
        assert!(text.contains(near), "the phantom has no {near} any more");
        text = text.replace(near, here);
    }
    load_text(&file, text).unwrap_or_else(|error| panic!("{error}"))
}

fn steps(prepared: &Prepared, strategy: &Strategy) -> u32 {
    let one = |trial| run_trial(prepared, strategy, trial, false).row.steps;
    (0..TRIALS).map(one).sum()
}

fn measure(
    group: &mut BenchmarkGroup<'_, WallTime>,
    name: &str,
    (prepared, strategy): (&Prepared, &Strategy),
) {
    let taken = u64::from(steps(prepared, strategy));
    println!("{name}: {taken} hand steps");
    group.throughput(Throughput::Elements(taken));
    group.bench_function(name, |b| b.iter(|| steps(prepared, strategy)));
}

fn techniques(c: &mut Criterion) {
    let prepare = |place| {
        let scenario = phantom(place).scenario;
        Prepared::new(&scenario).unwrap_or_else(|error| panic!("{error}"))
    };
    let mut group = c.benchmark_group("four trials");
    group
        .sample_size(10)
        .warm_up_time(Duration::from_millis(500))
        .measurement_time(Duration::from_secs(3));
    let near = prepare(NEAR);
    let all = strategies(near.scenario());
    for strategy in all.iter().filter(|strategy| strategy.wire == 0) {
        measure(&mut group, &strategy.slug, (&near, strategy));
    }
    let far = prepare(FAR);
    let redirect = all
        .iter()
        .find(|strategy| strategy.slug.starts_with("redirect"))
        .unwrap_or_else(|| panic!("the phantom has no redirect"));
    measure(&mut group, "redirect-far", (&far, redirect));
    group.finish();
}

criterion_group! {
    name = benches;
    config = Criterion::default().without_plots();
    targets = techniques
}
criterion_main!(benches);
