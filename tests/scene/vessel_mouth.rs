//! Where the whole mouth of a branch ends, against the closed form of two cylinders and against
//! slow twins that sample the walls.
#![allow(clippy::print_stdout, reason = "the table of checks")]
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use std::f64::consts::TAU;

use crate::vessel_common::{arc, inlet, side, straight, vessel};
use bendwise::scenario::model::VesselSpec;
use bendwise::vessel::{Lumen, Tree};
use nalgebra::Vector3;

fn built(spec: &VesselSpec) -> Tree {
    Tree::build(spec).unwrap()
}

/// The mouth is known to 2e-6 mm along the branch, and where the rays that are looked at miss the
/// nearest one by an angle e, to e² times a radius: 1e-9 mm.
const CLOSED_FORM_MM: f64 = 1e-5;

fn two_cylinders(radii: [f64; 2], degrees: f64, blend_mm: f64) -> Tree {
    let take_off = (degrees.to_radians(), 0.7);
    let child = side(
        "b",
        ("a", 60.0),
        take_off,
        vec![straight(40.0)],
        2.0 * radii[1],
    );
    let parent = inlet("a", vec![straight(120.0)], 2.0 * radii[0]);
    built(&vessel(vec![parent, child], blend_mm))
}

/// (R + r |cos a|) / sin a; derived at the head of `vessel::mouth`.
fn closed_form(radii: [f64; 2], degrees: f64) -> f64 {
    let (sin, cos) = degrees.to_radians().sin_cos();
    (radii[0] + radii[1] * cos.abs()) / sin
}

#[test]
fn the_mouth_of_one_cylinder_in_another_ends_where_geometry_says() {
    let mut worst = 0.0_f64;
    for degrees in [20.0, 60.0, 90.0, 120.0, 150.0, 160.0, 165.0, 170.0] {
        for radii in [[1.5, 1.0], [1.5, 1.5], [2.0, 0.6], [1.0, 1.2]] {
            let tree = two_cylinders(radii, degrees, 0.0);
            let expected = closed_form(radii, degrees);
            let whole = tree.whole_mouth_mm(&tree, 1);
            worst = worst.max((whole - expected).abs());
            assert!(
                (whole - expected).abs() < CLOSED_FORM_MM,
                "{radii:?} at {degrees}: {whole} against {expected}"
            );
        }
    }
    println!(
        "CHECK | end of the mouth, two cylinders | off by {worst:.1e} mm | {CLOSED_FORM_MM} mm"
    );
}

#[test]
fn wider_lumens_have_a_longer_mouth() {
    let radii = [1.5, 1.0];
    let tree = two_cylinders(radii, 160.0, 0.0).with_diameter_factor(1.1);
    let expected = 1.1 * closed_form(radii, 160.0);
    assert!((tree.whole_mouth_mm(&tree, 1) - expected).abs() < CLOSED_FORM_MM);
}

#[test]
fn the_curve_of_the_mouth_lies_on_both_cylinders() {
    let tree = two_cylinders([1.5, 1.0], 150.0, 0.0);
    let mouth = tree.mouth(&tree, 1, 48).unwrap();
    let mut furthest = 0.0_f64;
    for p in &mouth.curve {
        let (on_a, on_b) = (tree.tube(0, p), tree.tube(1, p));
        assert!(on_a.distance_mm.abs() < 1e-4, "{}", on_a.distance_mm);
        assert!(on_b.distance_mm.abs() < 1e-4, "{}", on_b.distance_mm);
        furthest = furthest.max(on_b.station_mm);
    }
    // 48 directions miss the farthest one by 3.75 degrees at most.
    assert!(furthest <= mouth.whole_mm + 1e-4 && furthest > mouth.whole_mm - 0.05);
}

/// Station of the farthest point of the branch's wall that lies in the parent's tube, over a fine
/// net of points on the wall.
fn sampled(tree: &Tree, step_mm: f64) -> f64 {
    let line = &tree.branches()[1].centreline;
    let mut whole = 0.0_f64;
    let mut at = 0.0;
    while at < line.length_mm() {
        let (normal, tangent) = (line.normal(at), line.tangent(at));
        for k in 0..720 {
            let angle = TAU * f64::from(k) / 720.0;
            let out = normal * angle.cos() + tangent.cross(&normal) * angle.sin();
            let p = line.position(at) + out * line.radius(at);
            if tree.tube(0, &p).distance_mm < 0.0 {
                whole = whole.max(at);
            }
        }
        at += step_mm;
    }
    whole
}

/// A curved parent with taper, a curved branch with taper.
fn tapered() -> VesselSpec {
    let mut parent = inlet("a", vec![straight(20.0), arc(20.0, 120.0, 0.0)], 3.6);
    parent.diameters = vec![(0.0, 3.6), (60.0, 2.4)];
    let mut child = side(
        "b",
        ("a", 35.0),
        (150.0_f64.to_radians(), 2.2),
        vec![straight(3.0), arc(25.0, 50.0, 180.0)],
        2.2,
    );
    child.diameters = vec![(0.0, 2.2), (20.0, 1.2)];
    vessel(vec![parent, child], 0.0)
}

#[test]
fn tapered_and_curved_tubes_have_the_mouth_that_sampling_finds() {
    const STEP_MM: f64 = 0.005;
    let tree = built(&tapered());
    let (whole, twin) = (tree.whole_mouth_mm(&tree, 1), sampled(&tree, STEP_MM));
    println!("CHECK | end of the mouth, tapered and curved | {whole:.4} against {twin:.4} mm");
    // The twin's last point is at most a step before the end, and half a degree aside.
    assert!(
        whole - twin > -1e-5 && whole - twin < 2.0 * STEP_MM,
        "{whole} {twin}"
    );
}

/// With a blunt carina the two lumens meet a little further on: rays followed by small parts, in
/// many directions, until they leave the lumen or come nearer to the parent's wall than to the own.
#[test]
fn a_blunt_carina_lengthens_the_mouth_as_sampling_says() {
    const PART_MM: f64 = 0.002;
    const STEP_MM: f64 = 0.02;
    let tree = two_cylinders([1.5, 1.0], 160.0, 0.5);
    let line = &tree.branches()[1].centreline;
    let is_open = |at: f64| {
        let (normal, tangent) = (line.normal(at), line.tangent(at));
        (0..180).any(|k| {
            let angle = TAU * f64::from(k) / 180.0;
            let out = normal * angle.cos() + tangent.cross(&normal) * angle.sin();
            let mut p: Vector3<f64> = line.position(at);
            while tree.distance(&p) < 0.0 {
                if tree.tube(0, &p).distance_mm < tree.tube(1, &p).distance_mm {
                    return true;
                }
                p += out * PART_MM;
            }
            false
        })
    };
    let sharp = closed_form([1.5, 1.0], 160.0);
    let mut twin = sharp - 0.5;
    while is_open(twin + STEP_MM) {
        twin += STEP_MM;
    }
    let whole = tree.whole_mouth_mm(&tree, 1);
    println!(
        "CHECK | end of the mouth, blunt carina | {whole:.3} against {twin:.3} mm; sharp {sharp:.3}"
    );
    assert!(whole > sharp + 0.1, "{whole} {sharp}");
    assert!((whole - twin).abs() < 2.0 * STEP_MM, "{whole} {twin}");
}
