//! Cost of the lumen query that contact makes for every contact point of a wire: in contact with
//! one tube, deep inside, in a blend; and in a small tree against a large one.

use bendwise::scenario::model::{AttachmentSpec, BranchSpec, PathSpec, Place, VesselSpec};
use bendwise::vessel::{Lumen, Tree};
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use nalgebra::Vector3;
use std::hint::black_box;

/// Contact points of a wire of 150 nodes, with one on every edge.
const POINTS: usize = 300;

fn branch(name: String, parent: Option<(String, f64)>, points: Vec<Vector3<f64>>) -> BranchSpec {
    BranchSpec {
        name,
        attached: parent.map(|(parent, station)| AttachmentSpec {
            parent,
            station_mm: Some(station),
            place: Place::default(),
        }),
        path: PathSpec::Points(points),
        diameters: vec![(0.0, 3.0)],
        place: Place::default(),
    }
}

/// Trunks of ten segments of 6 mm, each winding, side by side 40 mm apart, with one side branch
/// on each: `segments` in all but for the side branches.
fn tree(segments: usize) -> Tree {
    let mut branches = Vec::new();
    for trunk in 0..segments.div_ceil(10) {
        let corner = Vector3::new(0.0, (trunk % 10) as f64 * 40.0, (trunk / 10) as f64 * 40.0);
        let at = |i: usize| {
            let x = 6.0 * i as f64;
            corner + Vector3::new(x, 4.0 * (0.15 * x).sin(), 3.0 * (0.1 * x).cos())
        };
        let name = format!("trunk{trunk}");
        branches.push(branch(name.clone(), None, (0..=10).map(at).collect()));
        let side = (0..4).map(|i| at(5) + Vector3::new(3.0, 5.0, 2.0) * i as f64);
        let station: f64 = (0..5).map(|i| (at(i + 1) - at(i)).norm()).sum();
        branches.push(branch(
            format!("side{trunk}"),
            Some((name, station)),
            side.collect(),
        ));
    }
    let spec = VesselSpec {
        wall: 100.0.into(),
        ..VesselSpec::new(branches)
    };
    match Tree::build(&spec) {
        Ok(tree) => tree,
        Err(error) => panic!("{error}"),
    }
}

/// Points along the stated part of one branch, off its axis by a share of its radius, spiralling.
fn along(tree: &Tree, branch: usize, part: (f64, f64), share: f64) -> Vec<Vector3<f64>> {
    let line = &tree.branches()[branch].centreline;
    (0..POINTS)
        .map(|i| {
            let x = i as f64 / POINTS as f64;
            let s = line.length_mm() * (part.0 + (part.1 - part.0) * x);
            let (tangent, normal) = (line.tangent(s), line.normal(s));
            let aside = normal * (9.0 * x).cos() + tangent.cross(&normal) * (9.0 * x).sin();
            line.position(s) + aside * (share * line.radius(s))
        })
        .collect()
}

/// The points among `points` at which two tubes blend, as many as there are contact points.
fn in_blend(tree: &Tree, points: &[Vector3<f64>]) -> Vec<Vector3<f64>> {
    let mut near = Vec::new();
    let blends = points.iter().filter(|p| {
        tree.tubes_near(p, &mut near);
        near.len() == 2 && (near[0].1.distance_mm - near[1].1.distance_mm).abs() < 0.4
    });
    let found: Vec<_> = blends.copied().collect();
    found.into_iter().cycle().take(POINTS).collect()
}

fn query(tree: &Tree, points: &[Vector3<f64>], margin: f64) -> f64 {
    points
        .iter()
        .filter_map(|p| tree.near_wall(black_box(p), 0.0, margin))
        .map(|w| w.distance_mm + w.hessian[(0, 1)])
        .sum()
}

fn lumen(c: &mut Criterion) {
    let mut group = c.benchmark_group("lumen");
    group.throughput(Throughput::Elements(POINTS as u64));
    let small = tree(10);
    for (name, branch, part, share) in [
        ("in contact", 0, (0.1, 0.35), 0.97),
        ("deep inside", 0, (0.1, 0.35), 0.2),
        ("in a blend", 1, (0.0, 0.3), 0.9),
    ] {
        let mut points = along(&small, branch, part, share);
        if name == "in a blend" {
            points = in_blend(&small, &points);
        }
        group.bench_function(name, |b| b.iter(|| query(&small, &points, 0.3)));
    }
    for segments in [10, 1000] {
        let tree = tree(segments);
        let points = along(&tree, 0, (0.1, 0.9), 0.97);
        let id = BenchmarkId::new("wire in a tree of segments", segments);
        group.bench_function(id, |b| b.iter(|| query(&tree, &points, 0.3)));
    }
    group.finish();
    c.bench_function("lumen/other diameters", |b| {
        b.iter(|| small.with_diameter_factor(black_box(1.1)));
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default().without_plots();
    targets = lumen
}
criterion_main!(benches);
