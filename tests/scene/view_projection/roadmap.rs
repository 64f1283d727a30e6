//! What an operator has who sees one projection: no depth.

use approx::assert_relative_eq;
use bendwise::projection::{Beam, Roadmap, believed};
use bendwise::scenario::model::Place;
use bendwise::scenario::view::{BeliefSpec, ViewAngles};
use bendwise::vessel::Tree;
use nalgebra::{Matrix3, Vector2, Vector3};

use crate::vessel_common::{inlet, side, straight, through, vessel};

/// The trunk runs to the patient's left; plane 0 is towards the head, 90 to the front.
fn scene(plane_deg: f64) -> Tree {
    Tree::build(&spec(plane_deg)).unwrap()
}

fn spec(plane_deg: f64) -> bendwise::scenario::model::VesselSpec {
    vessel(
        vec![
            inlet("trunk", vec![straight(50.0)], 3.0),
            side(
                "side",
                ("trunk", 25.0),
                (1.0, plane_deg.to_radians()),
                vec![straight(25.0)],
                2.0,
            ),
        ],
        0.3,
    )
}

fn from_the_front() -> Beam {
    Beam::in_scene(&ViewAngles::from_degrees(0.0, 0.0), &Matrix3::identity())
}

#[test]
fn the_side_is_the_one_on_which_the_branch_is_seen() {
    for (plane_deg, up) in [(0.0, 1.0), (50.0, 1.0), (180.0, -1.0), (210.0, -1.0)] {
        let tree = scene(plane_deg);
        let side = Roadmap::new(&tree, from_the_front())
            .side(&tree, 1)
            .unwrap();
        assert_relative_eq!(side, Vector2::new(0.0, up), epsilon = 1e-6);
    }
}

#[test]
fn a_branch_in_front_of_its_parent_or_behind_shows_no_side() {
    for plane_deg in [90.0, 270.0, 88.0] {
        let tree = scene(plane_deg);
        assert_eq!(Roadmap::new(&tree, from_the_front()).side(&tree, 1), None);
    }
    // From above the same branch lies to the side.
    let tree = scene(90.0);
    let above = Beam::in_scene(&ViewAngles::from_degrees(0.0, 90.0), &Matrix3::identity());
    assert!(Roadmap::new(&tree, above).side(&tree, 1).is_some());
}

#[test]
fn depth_leaves_no_trace_on_the_roadmap() {
    let running = |depth: f64| {
        let branch = through("one", None, &[[0.0, 0.0, 0.0], [40.0, 12.0, depth]], &[3.0]);
        Tree::build(&vessel(vec![branch], 0.3)).unwrap()
    };
    let places = |tree: &Tree, p: Vector2<f64>| {
        let mut out = Vec::new();
        Roadmap::new(tree, from_the_front()).places(&p, 0.5, &mut out);
        out
    };
    let (flat, deep) = (running(0.0), running(-70.0));
    let share = |tree: &Tree, station: f64| station / tree.branches()[0].centreline.length_mm();
    for p in [Vector2::new(12.0, 4.0), Vector2::new(30.0, 8.0)] {
        let (a, b) = (places(&flat, p), places(&deep, p));
        assert_eq!((a.len(), b.len()), (1, 1));
        assert_relative_eq!(a[0].outside_mm, b[0].outside_mm, epsilon = 1e-9);
        let (a, b) = (share(&flat, a[0].station_mm), share(&deep, b[0].station_mm));
        assert_relative_eq!(a, b, epsilon = 1e-9);
    }
}

#[test]
fn a_crossing_leaves_two_places_and_a_point_far_off_the_nearest() {
    let tree = Tree::build(&vessel(
        vec![
            through("one", None, &[[0.0, 0.0, 0.0], [40.0, 0.0, 0.0]], &[3.0]),
            through(
                "two",
                None,
                &[[20.0, -20.0, 30.0], [20.0, 20.0, 30.0]],
                &[2.0],
            ),
        ],
        0.3,
    ))
    .unwrap();
    let roadmap = Roadmap::new(&tree, from_the_front());
    let mut out = Vec::new();
    roadmap.places(&roadmap.flat(&Vector3::new(20.2, 0.3, 0.0)), 0.5, &mut out);
    let mut found: Vec<(usize, f64)> = out.iter().map(|s| (s.branch, s.station_mm)).collect();
    found.sort_by_key(|f| f.0);
    assert_eq!(found.len(), 2);
    assert_relative_eq!(found[0].1, 20.2, epsilon = 1e-6);
    assert_relative_eq!(found[1].1, 20.3, epsilon = 1e-6);
    roadmap.places(&Vector2::new(5.0, 9.0), 0.5, &mut out);
    assert_eq!(out.len(), 1);
    assert_relative_eq!(out[0].outside_mm, 7.5, epsilon = 1e-6);
}

/// A branch believed elsewhere is the true one turned about its parent: built from pieces or
/// given as points, it comes to lie where a vessel described so lies.
#[test]
fn a_belief_turns_and_moves_a_branch_about_its_parent() {
    let belief = BeliefSpec {
        branch: "side".to_owned(),
        turned_rad: 70.0_f64.to_radians(),
        further_mm: 3.0,
        place: Place::default(),
    };
    let tree = scene(20.0);
    let moved = believed(&spec(20.0), &tree, std::slice::from_ref(&belief)).unwrap();
    let expected = scene(90.0);
    let as_points: Vec<[f64; 3]> = (0..=5)
        .map(|k| {
            tree.branches()[1]
                .centreline
                .position(5.0 * f64::from(k))
                .into()
        })
        .collect();
    let given = vessel(
        vec![
            inlet("trunk", vec![straight(50.0)], 3.0),
            through("side", Some("trunk"), &as_points, &[2.0]),
        ],
        0.3,
    );
    let points = Tree::build(&given).unwrap();
    let moved_points = believed(&given, &points, &[belief]).unwrap();
    for station in [0.0, 10.0, 25.0] {
        let there = expected.branches()[1].centreline.position(station) + Vector3::x() * 3.0;
        for tree in [&moved, &moved_points] {
            let here = tree.branches()[1].centreline.position(station);
            assert_relative_eq!(here, there, epsilon = 1e-6);
        }
    }
}
