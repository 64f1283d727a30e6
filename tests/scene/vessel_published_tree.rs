//! The mean coronary tree of Dodge et al. builds, and its branches leave at the angles that
//! follow from the tables.
//!
//! Coordinates: Dodge JT, Brown BG, Bolson EL, Dodge HT, Intrathoracic spatial location of
//! specified coronary segments on the normal human heart, Circulation 1988;78:1167-1180, with the
//! thirds of Circulation 1992;86:232-246 (DOI 10.1161/01.cir.86.1.232); right-dominant men,
//! polar means turned into mm from the left ostium (x patient's left, y head, z anterior). Trunk
//! diameters: the 1992 table. Branch diameters: as transcribed, unverified. The points R3d and
//! R4p are left out: the mean of an angle is meaningless where they lie.

use crate::vessel_common::through;
use bendwise::scenario::model::{BranchSpec, VesselSpec};
use bendwise::vessel::{Branch, Tree};

const LM: [[f64; 3]; 4] = [
    [0.0, 0.0, 0.0],
    [3.0, 0.4, 0.4],
    [6.9, 0.5, 1.2],
    [10.8, 0.0, 2.1],
];
const LAD: [[f64; 3]; 13] = [
    [10.8, 0.0, 2.1],
    [15.0, -0.8, 5.5],
    [20.4, -2.0, 10.4],
    [25.6, -2.6, 15.4],
    [30.7, -6.3, 24.9],
    [36.0, -11.0, 37.3],
    [39.1, -19.0, 48.3],
    [40.1, -31.3, 61.8],
    [42.8, -53.5, 74.2],
    [46.6, -75.8, 77.5],
    [44.9, -87.8, 71.9],
    [42.2, -89.1, 64.9],
    [39.2, -89.8, 58.2],
];
const LCX: [[f64; 3]; 10] = [
    [10.8, 0.0, 2.1],
    [13.7, -2.9, 1.0],
    [16.4, -7.3, -1.1],
    [18.4, -11.3, -3.9],
    [20.9, -14.2, -6.4],
    [22.3, -18.7, -10.9],
    [23.5, -23.6, -13.6],
    [23.5, -29.0, -17.0],
    [20.9, -36.5, -20.9],
    [19.0, -44.8, -23.5],
];
const RCA: [[f64; 3]; 11] = [
    [-14.4, -14.5, 30.9],
    [-18.8, -16.3, 32.4],
    [-28.8, -21.4, 36.7],
    [-35.0, -27.5, 40.0],
    [-39.1, -35.9, 40.3],
    [-43.7, -48.6, 40.4],
    [-45.7, -60.3, 38.1],
    [-43.3, -69.2, 33.9],
    [-37.3, -74.2, 30.5],
    [-14.8, -71.1, 5.7],
    [-9.1, -66.5, -2.5],
];
const D1: [[f64; 3]; 3] = [[27.7, -4.5, 15.4], [35.8, -9.4, 19.8], [49.9, -24.2, 27.7]];
const D2: [[f64; 3]; 3] = [
    [35.1, -10.2, 32.7],
    [41.5, -16.3, 38.7],
    [53.1, -31.3, 46.1],
];
const M1: [[f64; 3]; 3] = [
    [18.4, -11.3, -3.9],
    [30.3, -16.4, -5.9],
    [44.1, -34.5, -0.8],
];
const M2: [[f64; 3]; 3] = [
    [22.7, -22.3, -12.0],
    [28.4, -30.0, -15.1],
    [35.7, -46.6, -12.3],
];

/// A branch with a diameter at each of its points.
fn branch(name: &str, parent: Option<&str>, points: &[[f64; 3]], diameters: &[f64]) -> BranchSpec {
    let mut spec = through(name, parent, points, &[1.0]);
    let mut station = 0.0;
    spec.diameters = Vec::new();
    for (i, &d) in diameters.iter().enumerate() {
        if i > 0 {
            let step = nalgebra::Vector3::from(points[i]) - nalgebra::Vector3::from(points[i - 1]);
            station += step.norm();
        }
        spec.diameters.push((station, d));
    }
    spec
}

fn published() -> VesselSpec {
    crate::vessel_common::vessel(
        vec![
            branch("LM", None, &LM, &[4.5, 4.5, 4.5, 4.5]),
            branch(
                "LAD",
                Some("LM"),
                &LAD,
                &[
                    3.7, 3.7, 3.6, 3.5, 2.9, 2.5, 2.3, 2.0, 1.7, 1.4, 1.4, 1.1, 0.9,
                ],
            ),
            branch("D1", Some("LAD"), &D1, &[2.1, 1.8, 1.5]),
            branch("D2", Some("LAD"), &D2, &[1.9, 1.65, 1.4]),
            branch(
                "LCx",
                Some("LM"),
                &LCX,
                &[3.4, 3.4, 3.4, 3.3, 2.8, 2.8, 2.7, 1.7, 1.6, 1.3],
            ),
            branch("M1", Some("LCx"), &M1, &[2.1, 1.8, 1.5]),
            branch("M2", Some("LCx"), &M2, &[2.0, 1.7, 1.4]),
            branch(
                "RCA",
                None,
                &RCA,
                &[4.0, 4.0, 3.9, 3.8, 3.5, 3.4, 3.2, 3.2, 3.1, 2.2, 1.9],
            ),
        ],
        0.5,
    )
}

fn built() -> Tree {
    Tree::build(&published()).unwrap_or_else(|e| panic!("{e}"))
}

fn named<'a>(tree: &'a Tree, name: &str) -> &'a Branch {
    let found = tree.branches().iter().find(|b| b.name == name);
    found.unwrap_or_else(|| panic!("no branch {name}"))
}

/// Angles by which the limbs turn, from the table's points by chords between neighbouring
/// points. A range spans the chords that can stand for the limb (the mean origin of a branch lies
/// beside the mean trunk). Ours differ by the spline and by chords of 5 mm: 8 degrees of leeway.
#[test]
fn take_off_turns_agree_with_those_of_the_tables() {
    let tree = built();
    let leeway = 8.0;
    for (name, low, high) in [
        ("LAD", 29.0, 29.0),
        ("LCx", 59.0, 59.0),
        ("D1", 14.0, 27.0),
        ("D2", 28.0, 34.0),
        ("M1", 37.0, 44.0),
        ("M2", 27.0, 37.0),
    ] {
        let turn = named(&tree, name).take_off_rad.to_degrees();
        assert!(
            (low - leeway..=high + leeway).contains(&turn),
            "{name} turns by {turn}, table {low} to {high}"
        );
    }
}

/// Path lengths along the mean points: left main 11 mm, LAD to the apex (L4p) about 140 mm, LCx
/// to C3d 56 mm, from the same tables by chords; a curve is a little longer than its chords.
#[test]
fn path_lengths_agree_with_those_of_the_tables() {
    let tree = built();
    let apex = nalgebra::Vector3::from(LAD[10]);
    let lad = tree.branch_index("LAD").unwrap();
    for (name, length, chords) in [
        ("LM", named(&tree, "LM").centreline.length_mm(), 11.0),
        ("LAD", tree.tube(lad, &apex).station_mm, 140.0),
        ("LCx", named(&tree, "LCx").centreline.length_mm(), 56.0),
    ] {
        assert!(
            (chords - 0.5..1.03 * chords).contains(&length),
            "{name} is {length} mm long, table {chords}"
        );
    }
}

#[test]
fn trunks_pass_through_the_points_with_the_diameters_of_the_tables() {
    let tree = built();
    for (name, points, at, diameter) in [
        ("LAD", &LAD[..], 3, 3.5),
        ("LCx", &LCX[..], 6, 2.7),
        ("RCA", &RCA[..], 4, 3.5),
    ] {
        let i = tree.branch_index(name).unwrap();
        let seen = tree.tube(i, &points[at].into());
        let from_axis = seen.distance_mm + tree.branches()[i].centreline.radius(seen.station_mm);
        assert!(from_axis.abs() < 1e-5, "{name}: {from_axis}");
        let built = 2.0 * tree.branches()[i].centreline.radius(seen.station_mm);
        assert!((built - diameter).abs() < 0.15, "{name}: {built}");
    }
}

#[test]
fn branches_start_inside_their_parents_and_get_out() {
    let tree = built();
    for (i, b) in tree.branches().iter().enumerate() {
        let Some((parent, station)) = b.parent else {
            continue;
        };
        let start = b.centreline.position(0.0);
        assert!((start - tree.branches()[parent].centreline.position(station)).norm() < 1e-9);
        let at_ostium = tree.tube(parent, &b.centreline.position(b.ostium_mm));
        assert!(at_ostium.distance_mm.abs() < 1e-9);
        let end = b.centreline.position(b.centreline.length_mm() - 1.0);
        assert!(tree.tube(parent, &end).distance_mm > 1.0);
        assert!(tree.tube(i, &end).distance_mm < 0.0);
        let before = tree.progress_mm(parent, station);
        assert!((tree.progress_mm(i, 0.0) - before).abs() < 1e-12);
    }
}
