//! Cost of two bench tests: torque response and track, each with one wire in one tube.

use bendwise::assay::path::{Path, TubeShape};
use bendwise::assay::{PreparedBench, torque, track};
use bendwise::scenario::load_bench;
use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use std::time::Duration;

/// The shipped wires on the bench.
fn bench() -> PreparedBench {
    let file = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/wires.toml");
    let loaded = load_bench(&file).unwrap_or_else(|error| panic!("{error}"));
    PreparedBench::new(&loaded.bench).unwrap_or_else(|error| panic!("{error}"))
}

fn assays(c: &mut Criterion) {
    let prepared = bench();
    let assay = &prepared.bench.assay;
    let wire = &prepared.wires[1];
    let mut group = c.benchmark_group("assay");
    group
        .sample_size(10)
        .warm_up_time(Duration::from_secs(1))
        .measurement_time(Duration::from_secs(8));
    for course in [TubeShape::Bend, TubeShape::Tortuous] {
        let path = Path::build(course, &assay.paths).unwrap_or_else(|fault| panic!("{fault}"));
        let there = torque::respond(wire, &path, &assay.torque, false)
            .unwrap_or_else(|fault| panic!("{fault}"));
        group.bench_function(format!("torque response, {}", course.key()), |b| {
            b.iter(|| torque::turn(&mut black_box(&there.insertion).clone(), &assay.torque));
        });
        group.bench_function(format!("track, {}", course.key()), |b| {
            b.iter(|| track::track(black_box(wire), &path));
        });
    }
    group.finish();
}

criterion_group! {
    name = benches;
    config = Criterion::default().without_plots();
    targets = assays
}
criterion_main!(benches);
