//! Cost of looking at one branching from everywhere: the whole map at one degree, for trees of
//! 100 and of 1,000 segments of a millimetre.

use bendwise::projection::{CArm, Distances, Site, Subject, ViewMap};
use bendwise::scenario::model::{
    AttachmentSpec, BranchSpec, PathSpec, PieceSpec, Place, VesselSpec,
};
use bendwise::scenario::view::ReachSpec;
use bendwise::vessel::Tree;
use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use nalgebra::{Matrix3, Vector3};
use std::hint::black_box;

const TRUNK_MM: f64 = 50.0;
const SIDE_MM: f64 = 25.0;

/// A winding trunk with side branches of 25 mm until the tree is `length_mm` long.
fn tree(length_mm: f64) -> Tree {
    let scale = (length_mm / 100.0).sqrt();
    let trunk_mm = TRUNK_MM * scale;
    let branch =
        |name: String, attached, take_off_rad, take_off_plane_rad, pieces, diameter| BranchSpec {
            name,
            attached,
            path: PathSpec::Pieces {
                start_mm: Vector3::zeros(),
                direction: Vector3::x(),
                take_off_rad,
                take_off_plane_rad,
                pieces,
            },
            diameters: vec![(0.0, diameter)],
            place: Place::default(),
        };
    let winding = PieceSpec::Helix {
        radius_mm: 20.0,
        pitch_mm: 40.0,
        turns: trunk_mm / (40.0_f64.powi(2) + (40.0 * std::f64::consts::PI).powi(2)).sqrt(),
        plane_rad: 0.0,
    };
    let mut branches = vec![branch(
        "trunk".to_owned(),
        None,
        0.0,
        0.0,
        vec![winding],
        3.5,
    )];
    let mut left_mm = length_mm - trunk_mm;
    let sides = (left_mm / SIDE_MM).ceil();
    let mut index = 0.0;
    while left_mm > 0.0 {
        let at = AttachmentSpec {
            parent: "trunk".to_owned(),
            station_mm: Some(trunk_mm * (index + 0.7) / (sides + 1.0)),
            place: Place::default(),
        };
        let straight = PieceSpec::Straight { length_mm: SIDE_MM };
        let name = format!("side{index}");
        let plane = 2.4 * index;
        branches.push(branch(name, Some(at), 1.0, plane, vec![straight], 2.0));
        left_mm -= SIDE_MM;
        index += 1.0;
    }
    let spec = VesselSpec {
        carina_blend_mm: 0.3,
        ..VesselSpec::new(branches)
    };
    match Tree::build(&spec) {
        Ok(tree) => tree,
        Err(error) => panic!("{error}"),
    }
}

fn whole_map(c: &mut Criterion) {
    let quarter = std::f64::consts::FRAC_PI_2;
    let arm = CArm {
        to_patient: Matrix3::identity(),
        distances: Some(Distances {
            source_object_mm: 750.0,
            source_detector_mm: 1050.0,
        }),
        reach: ReachSpec {
            primary_rad: [-quarter, quarter],
            secondary_rad: [-quarter, quarter],
            combined_rad: 2.0 * quarter,
        },
    };
    let mut group = c.benchmark_group("views/whole-map-at-1-degree");
    group.sample_size(10);
    for length_mm in [100.0, 1000.0] {
        let tree = tree(length_mm);
        let subject = Subject::Branching {
            branch: "side1".to_owned(),
        };
        let site = match Site::new(&tree, &subject, 10.0) {
            Ok(site) => site,
            Err(error) => panic!("{error}"),
        };
        let segments = site.others.len();
        group.bench_function(BenchmarkId::from_parameter(segments), |b| {
            b.iter(|| black_box(ViewMap::new(black_box(&site), &arm, 1)));
        });
    }
    group.finish();
}

criterion_group!(benches, whole_map);
criterion_main!(benches);
