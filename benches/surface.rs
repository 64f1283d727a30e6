//! Cost of a lumen surface of 100,000 triangles: how long until it is ready, what a query costs
//! against one of an analytic tube, and how much memory it takes.

#[path = "../tests/shared/anatomy_common/mod.rs"]
mod anatomy_common;

use anatomy_common::{obj, scenario, swept};
use bendwise::anatomy::surface::Mesh;
use bendwise::scenario::model::{AttachmentSpec, BranchSpec, PathSpec, Place, VesselSpec};
use bendwise::trial::Prepared;
use bendwise::vessel::{Lumen, SurfaceLumen, Tree};
use bendwise::vessel::{Spacing, net};
use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use nalgebra::Vector3;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Contact points of a wire of 150 nodes, with one on every edge.
const POINTS: usize = 300;
const LENGTH: f64 = 220.0;
const RADIUS: f64 = 1.5;
/// Edge in mm of the cells of the net that becomes the file.
const CELL: f64 = 0.26;

/// A winding tube as long as a coronary artery.
fn at(s: f64) -> (Vector3<f64>, Vector3<f64>) {
    let p = Vector3::new(s, 8.0 * (0.05 * s).sin(), 6.0 * (0.035 * s).cos());
    let t = Vector3::new(1.0, 0.4 * (0.05 * s).cos(), -0.21 * (0.035 * s).sin());
    (p, t.normalize())
}

fn mesh() -> Mesh {
    let (rings, around) = (1250, 40);
    swept(rings, around, false, |x| {
        let (p, t) = at(LENGTH * x);
        let u = t.cross(&Vector3::z()).normalize();
        (p, u, t.cross(&u), RADIUS)
    })
}

fn spec(surface: Option<Arc<Mesh>>) -> VesselSpec {
    let points = (0..=110).map(|i| at(LENGTH * f64::from(i) / 110.0).0);
    VesselSpec {
        surface,
        ..VesselSpec::new(vec![BranchSpec {
            name: "tube".into(),
            attached: None,
            path: PathSpec::Points(points.collect()),
            diameters: vec![(0.0, 2.0 * RADIUS)],
            place: Place::default(),
        }])
    }
}

/// The tube with a side branch as a surface of about 100,000 triangles in a file, and a scenario
/// around it: path of the scenario and number of triangles.
fn scene(folder: &Path) -> (PathBuf, usize) {
    let mut spec = spec(None);
    let from = at(90.0).0;
    let side = (0..=10).map(|i| from + Vector3::new(1.2, 1.8, 1.0) * f64::from(i));
    spec.branches.push(BranchSpec {
        name: "side".into(),
        attached: Some(AttachmentSpec {
            parent: "tube".into(),
            station_mm: None,
            place: Place::default(),
        }),
        path: PathSpec::Points(side.collect()),
        diameters: vec![(0.0, 2.0)],
        place: Place::default(),
    });
    let tree = Tree::build(&spec).unwrap_or_else(|e| panic!("{e}"));
    let net = net(&tree, None, &Spacing { cell_mm: CELL }).unwrap_or_default();
    let mesh = Mesh {
        points: net.points,
        triangles: net.triangles,
    };
    let vessel = "file = \"wall.obj\"\nunits = \"mm\"\nframe = \"scene\"";
    let text = scenario(vessel, "branch = \"branch-1\"", "tip = 2", 150.0);
    let path = folder.join("scene.toml");
    std::fs::create_dir_all(folder)
        .and_then(|()| std::fs::write(folder.join("wall.obj"), obj(&mesh)))
        .and_then(|()| std::fs::write(&path, text))
        .unwrap_or_else(|e| panic!("{e}"));
    (path, mesh.triangles.len())
}

fn query(lumen: &dyn Lumen, points: &[Vector3<f64>]) -> f64 {
    points
        .iter()
        .filter_map(|p| lumen.near_wall(black_box(p), 0.0, 0.2))
        .map(|w| w.distance_mm + w.hessian[(0, 1)])
        .sum()
}

/// Largest resident memory of this process so far, in MB, where the system says it.
fn peak_memory() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes / 1024.0)
}

fn surface(c: &mut Criterion) {
    let mesh = mesh();
    let folder = std::env::temp_dir().join(format!("bendwise-bench-{}", std::process::id()));
    let (path, triangles) = scene(&folder);
    let before = peak_memory();
    let shared = Arc::new(mesh.clone());
    let made = || SurfaceLumen::new(&mesh, &spec(None)).unwrap_or_else(|e| panic!("{e}"));
    let lumen = made();
    if let (Some(before), Some(after)) = (before, peak_memory()) {
        eprintln!(
            "{} triangles: {:.0} MB more at the peak, of which the grid of {:.3} mm {:.0} MB",
            shared.triangles.len(),
            after - before,
            lumen.spacing_mm(),
            lumen.grid_bytes() as f64 / 1048576.0
        );
    }
    let mut group = c.benchmark_group("surface");
    group.sample_size(10);
    group.bench_function("100,000 triangles, lumen made", |b| b.iter(made));
    group.bench_function(
        format!("{triangles} triangles, from the file to a scene in which a wire can run"),
        |b| {
            b.iter(|| {
                let loaded = bendwise::scenario::load(&path).unwrap_or_else(|e| panic!("{e}"));
                Prepared::new(&loaded.scenario).unwrap_or_else(|e| panic!("{e}"))
            });
        },
    );
    group.finish();

    let tree = Tree::build(&spec(None)).unwrap_or_else(|e| panic!("{e}"));
    let mut group = c.benchmark_group("surface query");
    group.throughput(Throughput::Elements(POINTS as u64));
    for (name, share) in [("in contact", 0.97), ("deep inside", 0.2)] {
        let points: Vec<Vector3<f64>> = (0..POINTS)
            .map(|i| {
                let x = i as f64 / POINTS as f64;
                let (p, t) = at(30.0 + 100.0 * x);
                let u = t.cross(&Vector3::z()).normalize();
                let v = t.cross(&u);
                p + (u * (9.0 * x).cos() + v * (9.0 * x).sin()) * (share * RADIUS)
            })
            .collect();
        let wider = lumen.with_diameter_factor(1.05);
        group.bench_function(format!("{name}, surface"), |b| {
            b.iter(|| query(&lumen, &points));
        });
        group.bench_function(format!("{name}, surface, wider"), |b| {
            b.iter(|| query(&wider, &points));
        });
        group.bench_function(format!("{name}, tube"), |b| {
            b.iter(|| query(&tree, &points));
        });
    }
    group.finish();
    let _ = std::fs::remove_dir_all(&folder);
}

criterion_group! {
    name = benches;
    config = Criterion::default().without_plots();
    targets = surface
}
criterion_main!(benches);
