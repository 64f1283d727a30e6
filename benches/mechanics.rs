//! Cost of the mechanics on a wire in contact: one assembly, one factorisation with solution, one
//! whole Newton iteration, each against the number of nodes; and one accepted step of feeding.
//!
//! The wire lies in a winding tube, so that its nodes bring the same work however many there are.
//!
//! An assembly is energy, gradient and Hessian, with a look at the wall from every contact point.
//! An iteration is what the solver does from one iterate to the next: it assembles at a state from
//! which its last line search has looked at the wall already, factorises, solves, and evaluates
//! the potential at the new state.

#[path = "../tests/shared/common/mod.rs"]
mod common;
#[path = "shared/resting_wire.rs"]
mod resting_wire;

use bendwise::contact::WalledLumen;
use bendwise::device::Wire;
use bendwise::scenario::model::BendSpec;
use bendwise::solve::{Assembly, Banded, Factor, Newton, NewtonOptions, Start, StepSettings};
use bendwise::vessel::Tree;
use criterion::{BatchSize, BenchmarkId, Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use std::time::Duration;

use resting_wire::{WALL_MN_PER_MM2, resting, winding_tube};

/// A wire of 0.36 mm and 50 mN mm² with a bent tip.
fn wire() -> Wire {
    let mut spec = common::wire_spec(50.0, 0.36, 0.05);
    spec.tip.primary = Some(BendSpec {
        from_tip_mm: 0.0,
        length_mm: 2.0,
        angle_rad: 45f64.to_radians(),
        plane_rad: 0.0,
    });
    match Wire::from_spec(&spec) {
        Ok(wire) => wire,
        Err(error) => panic!("{error}"),
    }
}

/// The wire in the tube, fed until its rod has `nodes` nodes.
fn inserted(tube: &Tree, nodes: usize) -> Assembly<'_> {
    let guide_tip = common::guide_tip();
    let start = Start {
        outside_mm: 3.0,
        longest_mm: 200.0,
        roll_rad: 0.5,
    };
    let settings = StepSettings::default();
    let mut wire = Assembly::straight(
        &wire(),
        WalledLumen::new(tube, WALL_MN_PER_MM2),
        guide_tip,
        settings,
        start,
    )
    .unwrap_or_else(|error| panic!("{error}"));
    while wire.wire_body().expect("a wire alone").rod.nodes() < nodes {
        wire.feed(0.2).unwrap_or_else(|error| panic!("{error}"));
    }
    wire
}

fn kernel(c: &mut Criterion) {
    let tube = winding_tube();
    let mut group = c.benchmark_group("kernel");
    for nodes in [100, 150, 200, 400] {
        let mut body = resting(&tube, nodes);
        let (mut gradient, mut hessian) = (Vec::new(), Banded::default());
        let mut anew = body.clone();
        group.bench_function(BenchmarkId::new("assembly", nodes), |b| {
            b.iter(|| {
                // Beginning a step lets contact look at the wall anew.
                anew.begin();
                anew.assemble(&mut gradient, &mut hessian);
                black_box(anew.present())
            });
        });
        body.assemble(&mut gradient, &mut hessian);
        let scale = hessian.largest_diagonal();
        for &i in &body.fixed {
            hessian.fix(i, scale);
            gradient[i] = 0.0;
        }
        let mut factor = Factor::default();
        let mut step = gradient.clone();
        group.bench_function(BenchmarkId::new("factor and solve", nodes), |b| {
            b.iter(|| {
                assert!(black_box(&hessian).factorise(0.0, &mut factor));
                step.copy_from_slice(&gradient);
                factor.solve(&mut step);
                step[0]
            });
        });
        let options = NewtonOptions::with_tolerance(1e-9);
        let mut newton = Newton::default();
        assert!(hessian.factorise(0.0, &mut factor));
        step.copy_from_slice(&gradient);
        factor.solve(&mut step);
        let whole = step.iter().fold(0.0, |m: f64, s| m.max(s.abs()));
        let mut moved = body.clone();
        let _ = newton.assess(&mut moved, &options);
        let taken = newton.step(&mut moved, &options).map_or(0.0, |s| s.size);
        assert!(taken > 0.99 * whole, "the line search cuts the step");
        group.bench_function(BenchmarkId::new("iteration", nodes), |b| {
            b.iter_batched_ref(
                || body.clone(),
                |body| {
                    let residual = newton.assess(body, &options);
                    (residual, newton.step(body, &options))
                },
                BatchSize::SmallInput,
            );
        });
    }
    group.finish();
}

fn step(c: &mut Criterion) {
    let tube = winding_tube();
    let mut wire = inserted(&tube, 100);
    wire.feed(0.4).unwrap_or_else(|error| panic!("{error}"));
    c.bench_function("step/in contact, 100 nodes", |b| {
        b.iter_batched_ref(
            || wire.clone(),
            |wire| wire.feed(black_box(0.2)),
            BatchSize::SmallInput,
        );
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default()
        .without_plots()
        .warm_up_time(Duration::from_millis(500))
        .measurement_time(Duration::from_secs(2));
    targets = kernel, step
}
criterion_main!(benches);
