//! The published mean tree (Dodge JT Jr et al., Circulation 1988;78:1167 and 1992;86:232).

use bendwise::projection::{Beam, CUSTOMARY, Measurer, Site, Subject, foreshortening};
use bendwise::scenario::load;
use bendwise::scenario::model::{PathSpec, Scenario};
use bendwise::scenario::view::ViewAngles;
use bendwise::vessel::Tree;
use nalgebra::Vector3;
use std::path::Path;

use crate::view_projection::c_arm;

fn scenario() -> Scenario {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/published-tree-m1.toml");
    load(&path).unwrap().scenario
}

/// Foreshortening in per cent of the chords LO-LMd, LMd-L1d, L1d-L2d, L2d-L3d and LMd-C1d,
/// computed from the published polar coordinates by an independent program and rounded to whole
/// per cent.
const TABLE: [(f64, f64, [f64; 5]); 8] = [
    (45.0, -30.0, [30.0, 61.0, 64.0, 39.0, 10.0]),
    (0.0, -30.0, [1.0, 23.0, 65.0, 45.0, 0.0]),
    (-30.0, -30.0, [4.0, 3.0, 28.0, 32.0, 1.0]),
    (0.0, 40.0, [1.0, 9.0, 7.0, 2.0, 40.0]),
    (40.0, 30.0, [26.0, 38.0, 16.0, 0.0, 7.0]),
    (-30.0, 0.0, [5.0, 2.0, 17.0, 6.0, 20.0]),
    (45.0, 0.0, [44.0, 86.0, 45.0, 8.0, 0.0]),
    (90.0, 0.0, [81.0, 33.0, 6.0, 1.0, 14.0]),
];

#[test]
fn foreshortening_of_the_mean_tree_is_that_of_the_table_within_a_point() {
    let scenario = scenario();
    let point = |branch: &str, index: usize| -> Vector3<f64> {
        let branches = &scenario.vessel.branches;
        match &branches.iter().find(|b| b.name == branch).unwrap().path {
            PathSpec::Points(points) => points[index],
            PathSpec::Pieces { .. } => panic!("{branch} has no points"),
        }
    };
    // LM: LO, LMp, LMm, LMd. LAD: LMd, L1p, L1m, L1d, L2p, L2m, L2d, L3p, L3m, L3d.
    let chords = [
        (point("LM", 0), point("LM", 3)),
        (point("LAD", 0), point("LAD", 3)),
        (point("LAD", 3), point("LAD", 6)),
        (point("LAD", 6), point("LAD", 9)),
        (point("LCx", 0), point("LCx", 3)),
    ];
    let mut largest = 0.0_f64;
    for (primary, secondary, expected) in TABLE {
        let beam = Beam::in_patient(&ViewAngles::from_degrees(primary, secondary)).along;
        for ((from, to), expected) in chords.iter().zip(expected) {
            let ours = 100.0 * foreshortening(&(to - from).normalize(), &beam);
            largest = largest.max((ours - expected).abs());
        }
    }
    println!("largest difference {largest:.2} points");
    assert!(largest <= 1.0, "{largest}");
}

/// General teaching (common practice, no source): the circumflex lies clear in caudal views, the
/// LAD in cranial ones.
#[test]
fn caudal_views_clear_the_circumflex_and_cranial_views_the_lad() {
    let tree = Tree::build(&scenario().vessel).unwrap();
    let arm = c_arm(Some(750.0));
    let measure = |branch: &str, from_mm: f64, to_mm: f64, primary: f64, secondary: f64| {
        let subject = Subject::Segment {
            branch: branch.to_owned(),
            from_mm,
            to_mm,
        };
        let site = Site::new(&tree, &subject, 10.0).unwrap();
        let view = ViewAngles::from_degrees(primary, secondary);
        Measurer::new(&site).measure(&arm.at(&site, &view))
    };
    for primary in [0.0, -30.0] {
        let caudal = measure("LCx", 2.0, 16.0, primary, -30.0);
        let cranial = measure("LCx", 2.0, 16.0, primary, 40.0);
        assert!(caudal.foreshortening < 0.1, "{caudal:?}");
        assert!(cranial.foreshortening > 0.3, "{cranial:?}");
    }
    let cranial = measure("LAD", 20.0, 60.0, 0.0, 40.0);
    let caudal = measure("LAD", 20.0, 60.0, 0.0, -30.0);
    assert!(cranial.foreshortening < 0.12, "{cranial:?}");
    assert!(caudal.foreshortening > 0.5, "{caudal:?}");
}

/// Ranges of the customary views: Di Mario C, Sutaria N, Heart 2005;91:968, table 2, as angles
/// (primary from, to, secondary from, to), positive LAO and cranial; the plain frontal view is
/// not among them.
#[test]
fn customary_views_lie_in_the_published_ranges() {
    const RANGES: [[f64; 4]; 8] = [
        [40.0, 50.0, -40.0, -25.0],
        [-15.0, 0.0, -30.0, -30.0],
        [-45.0, -30.0, -40.0, -30.0],
        [-10.0, 0.0, 35.0, 45.0],
        [30.0, 45.0, 25.0, 35.0],
        [90.0, 90.0, -30.0, 30.0],
        [45.0, 60.0, 0.0, 0.0],
        [-45.0, -30.0, 0.0, 0.0],
    ];
    for view in CUSTOMARY.iter().filter(|v| v.name != "plain frontal") {
        let (p, s) = (view.primary_deg, view.secondary_deg);
        let inside = |r: &[f64; 4]| p >= r[0] && p <= r[1] && s >= r[2] && s <= r[3];
        assert!(RANGES.iter().any(inside), "{}", view.name);
    }
}
