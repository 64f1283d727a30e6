//! What is refused, and that the message says branch, value and what is allowed.

use crate::vessel_common::{arc, here, inlet, narrowing, side, straight, through, vessel};
use bendwise::scenario::model::{BranchSpec, PathSpec, PieceSpec, Place, VesselSpec};
use bendwise::vessel::{Tree, VesselError};

fn refusal(spec: &VesselSpec) -> VesselError {
    match Tree::build(spec) {
        Ok(_) => panic!("built what should have been refused"),
        Err(e) => e,
    }
}

/// The spec is refused at the marked place, with all of these words in the message.
fn assert_refused(spec: &VesselSpec, words: &[&str]) {
    assert_refused_at(&here(), spec, words);
}

fn assert_refused_at(place: &Place, spec: &VesselSpec, words: &[&str]) {
    let error = refusal(spec);
    assert_eq!(error.place(), place, "{error}");
    for word in words {
        assert!(error.to_string().contains(word), "no `{word}` in: {error}");
    }
}

/// A sound trunk, described somewhere else.
fn trunk() -> BranchSpec {
    BranchSpec {
        place: Place::default(),
        ..inlet("trunk", vec![straight(40.0)], 3.0)
    }
}

fn beside(branch: BranchSpec) -> VesselSpec {
    vessel(vec![trunk(), branch], 0.5)
}

#[test]
fn a_bend_tighter_than_its_lumen() {
    let bad = inlet(
        "b",
        vec![straight(5.0), arc(1.4, 90.0, 0.0), straight(5.0)],
        3.0,
    );
    let arc_piece = here().field("pieces").entry(1);
    assert_refused_at(&arc_piece, &beside(bad), &["`b`", "1.400 mm", "1.500 mm"]);
    let good = inlet(
        "b",
        vec![straight(5.0), arc(1.6, 90.0, 0.0), straight(5.0)],
        3.0,
    );
    assert!(Tree::build(&beside(good)).is_ok());
}

#[test]
fn a_sharp_corner_in_points() {
    let points = [
        [0.0, 0.0, 0.0],
        [10.0, 0.0, 0.0],
        [10.0, 0.8, 0.0],
        [0.0, 0.8, 0.0],
    ];
    let error = refusal(&beside(through("b", None, &points, &[6.0])));
    assert!(matches!(error, VesselError::BendTooTight { .. }), "{error}");
}

#[test]
fn a_branch_with_a_gap_to_its_parent() {
    // 4 mm from the axis, radii of 1.5 and 1 mm: a gap of 1.5 mm.
    let points = [[20.0, 4.0, 0.0], [25.0, 14.0, 0.0]];
    assert_refused(
        &beside(through("b", Some("trunk"), &points, &[2.0])),
        &[
            "`b`",
            "not attached to `trunk`",
            "4.000 mm",
            "2.500 mm",
            "1.500 mm",
        ],
    );
}

#[test]
fn an_unknown_parent_and_one_that_comes_later() {
    let lost = side("b", ("trunc", 5.0), (1.0, 0.0), vec![straight(9.0)], 2.0);
    assert_refused(&beside(lost.clone()), &["`b`", "`trunc`", "trunk, b"]);
    let mut early = vessel(vec![lost, trunk()], 0.5);
    early.branches[1].name = "trunc".to_owned();
    assert_refused(&early, &["`b`", "before its parent `trunc`"]);
    let own = side("b", ("b", 5.0), (1.0, 0.0), vec![straight(9.0)], 2.0);
    assert_refused(&beside(own), &["`b`"]);
}

#[test]
fn a_station_off_the_parent_or_none() {
    let mut off = side("b", ("trunk", 40.5), (1.0, 0.0), vec![straight(9.0)], 2.0);
    assert_refused(&beside(off.clone()), &["`b`", "40.5 mm", "0 to 40.000 mm"]);
    let missing = off.attached.as_mut().unwrap();
    missing.station_mm = None;
    assert_refused(&beside(off), &["`b`", "needs the station", "40.000 mm"]);
}

#[test]
fn a_diameter_that_is_not_positive() {
    for diameter in [0.0, -1.0] {
        let mut bad = inlet("b", vec![straight(9.0)], 2.0);
        bad.diameters = vec![(0.0, 2.0), (5.0, diameter)];
        let value = format!("{diameter}");
        assert_refused(&beside(bad), &["`b`", "diameter", &value, "above 0"]);
    }
}

#[test]
fn too_few_points_pieces_or_diameters() {
    let one = through("b", None, &[[0.0, 9.0, 0.0]], &[2.0]);
    assert_refused(&beside(one), &["`b`", "1 points", "at least 2"]);
    assert_refused(&beside(inlet("b", Vec::new(), 2.0)), &["`b`", "0 pieces"]);
    let mut bare = inlet("b", vec![straight(9.0)], 2.0);
    bare.diameters.clear();
    assert_refused(&beside(bare), &["`b`", "0 diameters"]);
}

#[test]
fn points_that_coincide() {
    let points = [
        [0.0, 9.0, 0.0],
        [5.0, 9.0, 0.0],
        [5.0, 9.0, 0.0],
        [9.0, 9.0, 0.0],
    ];
    let bad = through("b", None, &points, &[2.0]);
    assert_refused(&beside(bad), &["`b`", "points 2 and 3 coincide"]);
}

#[test]
fn what_is_not_a_number() {
    for value in [f64::NAN, f64::INFINITY] {
        let points = [[0.0, 9.0, 0.0], [5.0, value, 0.0]];
        let mut bad = through("b", None, &points, &[2.0]);
        bad.diameters = vec![(0.0, 2.0)];
        assert_refused(&beside(bad), &["`b`", "coordinate", "not a finite number"]);
        let mut bad = inlet("b", vec![straight(9.0)], value);
        assert_refused(&beside(bad.clone()), &["`b`", "diameter", "finite"]);
        bad.diameters = vec![(value, 2.0)];
        assert_refused(&beside(bad), &["`b`", "station of a diameter", "finite"]);
        let bad = inlet("b", vec![arc(value, 30.0, 0.0)], 2.0);
        assert_refused(&beside(bad), &["`b`", "radius of an arc", "finite"]);
        let turned = (value, 0.0);
        let bad = side("b", ("trunk", 9.0), turned, vec![straight(9.0)], 2.0);
        assert_refused(&beside(bad), &["`b`", "take-off angle", "finite"]);
        let bad = side("b", ("trunk", value), (1.0, 0.0), vec![straight(9.0)], 2.0);
        assert_refused(
            &beside(bad),
            &["`b`", "station of the attachment", "finite"],
        );
    }
}

#[test]
fn pieces_out_of_their_range() {
    let helix = PieceSpec::Helix {
        radius_mm: 5.0,
        pitch_mm: 2.0,
        turns: 0.0,
        plane_rad: 0.0,
    };
    for (piece, what) in [
        (straight(0.0), "length of a straight piece"),
        (arc(-3.0, 90.0, 0.0), "radius of an arc"),
        (arc(3.0, 0.0, 0.0), "angle of an arc"),
        (helix, "turns of a helix"),
    ] {
        let bad = inlet("b", vec![straight(5.0), piece], 2.0);
        assert_refused(&beside(bad), &["`b`", what, "above 0"]);
    }
    let bad = inlet("b", vec![straight(20_000.0)], 2.0);
    assert_refused(&beside(bad), &["`b`", "20000", "up to 10000"]);
    let mut bad = inlet("b", vec![straight(5.0)], 2.0);
    if let PathSpec::Pieces { direction, .. } = &mut bad.path {
        *direction *= 0.0;
    }
    assert_refused(&beside(bad), &["`b`", "direction"]);
    let bad = side("b", ("trunk", 9.0), (3.5, 0.0), vec![straight(9.0)], 2.0);
    assert_refused(&beside(bad), &["`b`", "take-off", "3.5", "0 to pi"]);
}

#[test]
fn a_branch_that_stays_in_its_parent() {
    let bad = side("b", ("trunk", 9.0), (0.5, 0.0), vec![straight(2.0)], 2.0);
    // 2 mm at 0.5 rad: 0.959 mm off the axis, 0.541 mm inside the wall.
    assert_refused(
        &beside(bad),
        &["`b`", "never leaves", "`trunk`", "0.541 mm"],
    );
}

#[test]
fn two_branches_of_one_name() {
    let mut twice = beside(inlet("trunk", vec![straight(9.0)], 2.0));
    twice.branches[1].place = here();
    assert_refused(&twice, &["`trunk`", "twice"]);
}

#[test]
fn narrowings_that_do_not_fit() {
    let with = |n| {
        let mut spec = vessel(vec![trunk()], 0.5);
        spec.narrowings = vec![n];
        spec
    };
    assert_refused(&with(narrowing("x", 9.0, 4.0, 1.0)), &["`x`", "trunk"]);
    assert_refused(
        &with(narrowing("trunk", 41.0, 4.0, 1.0)),
        &["`trunk`", "41 mm", "0 to 40.000"],
    );
    assert_refused(
        &with(narrowing("trunk", 9.0, 4.0, 3.2)),
        &["`trunk`", "3.2 mm", "3.000 mm"],
    );
    assert_refused(
        &with(narrowing("trunk", 9.0, 4.0, 0.0)),
        &["`trunk`", "diameter of a narrowing", "above 0"],
    );
}

#[test]
fn a_tree_of_nothing_and_a_negative_blend() {
    let error = refusal(&vessel(Vec::new(), 0.5));
    assert!(matches!(error, VesselError::NoBranch));
    let error = refusal(&vessel(vec![trunk()], -0.1));
    assert!(error.to_string().contains("-0.1"), "{error}");
}

#[test]
fn several_inlets_are_a_forest() {
    let mut other = inlet("other", vec![straight(20.0)], 2.0);
    if let PathSpec::Pieces { start_mm, .. } = &mut other.path {
        start_mm.y = 30.0;
    }
    let tree = Tree::build(&beside(other)).unwrap();
    assert!(tree.branches().iter().all(|b| b.parent.is_none()));
}
