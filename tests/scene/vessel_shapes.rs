//! The shapes of centrelines: take-off angles and planes, helix, continuity of curvature, and
//! invariance under rigid motion.

use crate::vessel_common::{Draw, arc, inlet, side, straight, through, vessel};
use bendwise::scenario::model::{PathSpec, PieceSpec};
use bendwise::vessel::{Centreline, Lumen, Tree};
use nalgebra::{Rotation3, Vector3};
use std::f64::consts::{FRAC_PI_2, TAU};

fn built(spec: &bendwise::scenario::model::VesselSpec) -> Tree {
    Tree::build(spec).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn a_branch_leaves_at_its_take_off_angle_in_its_plane() {
    let trunk = || {
        inlet(
            "a",
            vec![straight(20.0), arc(15.0, 80.0, 30.0), straight(9.0)],
            3.0,
        )
    };
    for degrees in [10.0_f64, 60.0, 90.0, 135.0, 165.0] {
        for plane in [0.0_f64, 90.0, 200.0] {
            let take_off = (degrees.to_radians(), plane.to_radians());
            let child = side("b", ("a", 31.0), take_off, vec![straight(25.0)], 2.0);
            let tree = built(&vessel(vec![trunk(), child], 0.5));
            let (a, b) = (&tree.branches()[0], &tree.branches()[1]);
            let (along, normal) = (a.centreline.tangent(31.0), a.centreline.normal(31.0));
            let leaves = b.centreline.tangent(0.0);
            assert!((along.angle(&leaves) - take_off.0).abs() < 1e-9);
            assert!((b.take_off_rad - take_off.0).abs() < 1e-12);
            let (x, y) = (leaves.dot(&normal), leaves.dot(&along.cross(&normal)));
            let off = (y.atan2(x) - take_off.1 + 1.0).rem_euclid(TAU) - 1.0;
            assert!(off.abs() < 1e-9, "{off} for {plane}");
        }
    }
}

/// In a straight trunk of radius r a straight branch at angle a leaves after r / sin(a).
#[test]
fn the_ostium_lies_where_the_axis_crosses_the_parents_wall() {
    for degrees in [30.0_f64, 90.0, 150.0] {
        let angle = degrees.to_radians();
        let child = side("b", ("a", 20.0), (angle, 1.0), vec![straight(25.0)], 2.0);
        let tree = built(&vessel(
            vec![inlet("a", vec![straight(50.0)], 3.0), child],
            0.5,
        ));
        assert!((tree.branches()[1].ostium_mm - 1.5 / angle.sin()).abs() < 1e-9);
        assert!((tree.branches()[1].root_offset_mm - 20.0).abs() < 1e-12);
        let wide = tree.with_diameter_factor(1.2);
        assert!((wide.branches()[1].ostium_mm - 1.8 / angle.sin()).abs() < 1e-9);
    }
}

#[test]
fn plane_0_goes_on_turning_the_way_the_take_off_turned() {
    let take_off = (0.8, 2.0);
    let child = side("b", ("a", 20.0), take_off, vec![arc(10.0, 40.0, 0.0)], 2.0);
    let tree = built(&vessel(
        vec![inlet("a", vec![straight(50.0)], 3.0), child],
        0.5,
    ));
    let (trunk, branch) = (
        &tree.branches()[0].centreline,
        &tree.branches()[1].centreline,
    );
    let turned = trunk
        .tangent(20.0)
        .angle(&branch.tangent(branch.length_mm()));
    assert!((turned - (0.8 + 40.0_f64.to_radians())).abs() < 1e-9);
}

/// A helix of cylinder radius a and pitch p: distance a from an axis, rise p in a turn, and a
/// right-handed screw for a positive pitch.
#[test]
fn a_helix_winds_round_its_cylinder() {
    let (a, pitch) = (6.0, 9.0);
    let helix = PieceSpec::Helix {
        radius_mm: a,
        pitch_mm: pitch,
        turns: 2.0,
        plane_rad: 0.4,
    };
    let tree = built(&vessel(vec![inlet("h", vec![helix], 2.0)], 0.5));
    let line = &tree.branches()[0].centreline;
    let turn = (TAU * a).hypot(pitch);
    assert!((line.length_mm() - 2.0 * turn).abs() < 1e-9);
    let axis = (line.position(turn) - line.position(0.0)) / pitch;
    assert!((axis.norm() - 1.0).abs() < 1e-5);
    let centre = line.position(0.0) + line.curvature(0.0).normalize() * a;
    for i in 0..=100 {
        let s = line.length_mm() * f64::from(i) / 100.0;
        let from = line.position(s) - centre;
        let across = from - axis * from.dot(&axis);
        assert!((across.norm() - a).abs() < 1e-4, "{} at {s}", across.norm());
        assert!((from.dot(&axis) - pitch * s / turn).abs() < 1e-4);
        assert!(axis.dot(&across.cross(&line.tangent(s))) > 0.0);
    }
}

#[test]
fn an_s_bend_ends_parallel_to_its_start() {
    let bend = PieceSpec::SBend {
        radius_mm: 12.0,
        angle_rad: 1.0,
        plane_rad: FRAC_PI_2,
    };
    let tree = built(&vessel(
        vec![inlet("s", vec![straight(5.0), bend, straight(5.0)], 3.0)],
        0.5,
    ));
    let line = &tree.branches()[0].centreline;
    assert!(line.tangent(0.0).angle(&line.tangent(line.length_mm())) < 1e-6);
    let aside = 2.0 * 12.0 * (1.0 - 1.0_f64.cos());
    assert!((line.position(line.length_mm()).z - aside).abs() < 2e-3);
}

/// Largest change of curvature over a step, in `steps` steps along the line.
fn jump(line: &Centreline, steps: u32) -> f64 {
    let at = |i: u32| line.curvature(line.length_mm() * f64::from(i) / f64::from(steps));
    (0..steps)
        .map(|i| (at(i + 1) - at(i)).norm())
        .fold(0.0, f64::max)
}

#[test]
fn curvature_is_continuous_along_pieces_and_through_points() {
    let pieces = vec![straight(3.0), arc(6.0, 60.0, 0.0), arc(9.0, 60.0, 120.0)];
    let points = [
        [0.0, 0.0, 0.0],
        [7.0, 1.0, 0.0],
        [12.0, 5.0, 2.0],
        [14.0, 9.0, 7.0],
        [13.0, 12.0, 14.0],
    ];
    let tree = built(&vessel(
        vec![
            inlet("pieces", pieces, 3.0),
            through("points", None, &points, &[2.0]),
        ],
        0.5,
    ));
    for branch in tree.branches() {
        let coarse = jump(&branch.centreline, 5_000);
        let fine = jump(&branch.centreline, 20_000);
        assert!(coarse > 0.0);
        assert!(
            fine < 0.3 * coarse,
            "{}: a change of {fine} over a quarter of the step that gave {coarse}",
            branch.name
        );
    }
}

#[test]
fn a_spline_through_points_of_a_circle_is_that_circle() {
    let points: Vec<[f64; 3]> = (0..=12)
        .map(|i| {
            let a = f64::from(i) * 0.2;
            [10.0 * a.cos(), 10.0 * a.sin(), 0.0]
        })
        .collect();
    let tree = built(&vessel(vec![through("c", None, &points, &[3.0])], 0.5));
    let line = &tree.branches()[0].centreline;
    for i in 0..=100 {
        let p = line.position(line.length_mm() * f64::from(i) / 100.0);
        assert!((p.norm() - 10.0).abs() < 2e-3, "{}", p.norm());
    }
    assert!((line.length_mm() - 24.0).abs() < 5e-3);
}

#[test]
fn a_rigid_motion_of_the_points_moves_the_lumen() {
    let mut draw = Draw::new(7);
    let spec = draw.tree(5, 0.5);
    let turn = Rotation3::from_euler_angles(0.7, -1.1, 2.3);
    let push = Vector3::new(31.7, -12.3, 55.1);
    let mut moved = spec.clone();
    for branch in &mut moved.branches {
        if let PathSpec::Points(points) = &mut branch.path {
            points.iter_mut().for_each(|p| *p = turn * *p + push);
        }
    }
    let (tree, other) = (built(&spec), built(&moved));
    for _ in 0..3000 {
        let p = draw.near(&tree, 1.3);
        let q = turn * p + push;
        assert!((tree.distance(&p) - other.distance(&q)).abs() < 1e-9);
    }
}

/// The first point lies 1 mm off the trunk's axis; the branch starts on the axis and keeps its
/// direction.
#[test]
fn a_branch_given_as_points_starts_on_the_axis_of_its_parent() {
    let trunk = through("a", None, &[[0.0, 0.0, 0.0], [40.0, 0.0, 0.0]], &[3.0]);
    let points = [
        [20.0, 1.0, 0.0],
        [25.0, 6.0, 0.0],
        [30.0, 11.0, 0.0],
        [45.0, 26.0, 0.0],
    ];
    let tree = built(&vessel(
        vec![trunk, through("b", Some("a"), &points, &[2.0])],
        0.5,
    ));
    let branch = &tree.branches()[1];
    assert!((branch.shift_mm - 1.0).abs() < 1e-12);
    assert!((branch.parent.unwrap().1 - 20.0).abs() < 1e-9);
    assert!((branch.centreline.position(0.0) - Vector3::new(20.0, 0.0, 0.0)).norm() < 1e-12);
    let end = branch.centreline.position(branch.centreline.length_mm());
    assert!((end - Vector3::new(45.0, 26.0, 0.0)).norm() < 1e-9);
    // atan(26/25): the shift of 1 mm spread over the branch.
    assert!((branch.take_off_rad.to_degrees() - 46.12).abs() < 0.1);
}
