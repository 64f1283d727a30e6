//! What a trial of each technique costs on the same draws, in the phantom with all of them.

use std::path::Path;
use std::time::Duration;

use bendwise::scenario::load;
use bendwise::trial::{Prepared, run_trial, strategies};
use criterion::{Criterion, criterion_group, criterion_main};

/// Trials that one measurement runs through.
const TRIALS: u32 = 4;

fn techniques(c: &mut Criterion) {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/angle-phantom.toml");
    let scenario = load(&file).unwrap_or_else(|error| panic!("{error}"));
    let prepared = Prepared::new(&scenario.scenario).unwrap_or_else(|error| panic!("{error}"));
    let mut group = c.benchmark_group("four trials");
    group
        .sample_size(10)
        .warm_up_time(Duration::from_millis(500))
        .measurement_time(Duration::from_secs(3));
    let all = strategies(prepared.scenario());
    for strategy in all.iter().filter(|strategy| strategy.wire == 0) {
        group.bench_function(&strategy.slug, |b| {
            b.iter(|| {
                let one = |trial| run_trial(&prepared, strategy, trial, false).row.steps;
                (0..TRIALS).map(one).sum::<u32>()
            });
        });
    }
    group.finish();
}

criterion_group! {
    name = benches;
    config = Criterion::default().without_plots();
    targets = techniques
}
criterion_main!(benches);
