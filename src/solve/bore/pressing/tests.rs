//! Forces that a bore presses a wire with, against closed forms.

use super::*;

const STIFFNESS: f64 = 100.0;
const EDGE_MM: f64 = 0.25;

/// A straight wire of that bending stiffness in a bore of `edges` edges that is bent by `curvature`
/// (1/mm) in cells `bent`.
fn bend(edges: usize, curvature: f64, bent: std::ops::Range<usize>, tension: f64) -> Pressing {
    let place = |i: usize| {
        let turned = if bent.contains(&i) { curvature } else { 0.0 };
        let turn = Vector2::new(0.6, 0.8) * (turned * EDGE_MM);
        Place {
            compliance: EDGE_MM / STIFFNESS,
            turn,
            beyond: turn,
            tension,
        }
    };
    Pressing {
        play_mm: 0.05,
        mouth: Mouth::default(),
        places: (0..=edges).map(place).collect(),
        lengths: vec![EDGE_MM; edges],
    }
}

fn sum(forces: &[Vector2<f64>]) -> f64 {
    forces.iter().map(Vector2::norm).sum()
}

/// Where a bend begins the wire crosses the bore over a length `l` in which its curvature grows evenly:
/// the odd difference from the bend's, `κ/2 - κ x/l` on one side, carries it over `κ l²/24 = 2c`. A
/// force at either end, `B κ / l`, turns the moment on. Source: own, by two integrations.
#[test]
fn the_ends_of_a_bend_press_by_pairs_of_forces_a_crossing_apart() {
    for curvature in [0.02, 0.05, 0.12] {
        let pressing = bend(400, curvature, 150..280, 0.0);
        let forces = pressing.forces(&mut WarmStart::default());
        let crossing = (48.0 * pressing.play_mm / curvature).sqrt();
        let expected = 4.0 * STIFFNESS * curvature / crossing;
        let error = sum(&forces) / expected - 1.0;
        println!("curvature {curvature}: error {error:.4}");
        // The wall yields by a few micrometres, some hundredths of the play.
        assert!(error.abs() < 0.01, "{error}");
    }
}

#[test]
fn a_wire_without_stiffness_presses_by_its_tension_times_the_turn() {
    let (curvature, tension) = (0.05, 20.0);
    let mut pressing = bend(400, curvature, 150..250, tension);
    for place in &mut pressing.places {
        place.compliance *= 1e6;
    }
    let forces = pressing.forces(&mut WarmStart::default());
    let expected = tension * curvature * 100.0 * EDGE_MM;
    approx::assert_relative_eq!(sum(&forces), expected, max_relative = 1e-3);
}

/// A wire that is as curved as its bore needs no force.
#[test]
fn natural_curvature_counts_off() {
    let mut pressing = bend(400, 0.05, 150..280, 0.0);
    let all = sum(&pressing.forces(&mut WarmStart::default()));
    for place in &mut pressing.places {
        place.beyond = Vector2::zeros();
    }
    assert!(sum(&pressing.forces(&mut WarmStart::default())) <= 1e-9 * all);
}

/// A cantilever: a force at the mouth of a long bore is held by two forces behind it, one at the mouth.
#[test]
fn a_force_across_the_mouth_is_held_at_the_mouth() {
    let mut pressing = bend(200, 0.0, 0..0, 0.0);
    pressing.mouth.force = Vector2::new(0.0, 3.0);
    let forces = pressing.forces(&mut WarmStart::default());
    assert!((forces[0].y + 3.0).abs() < 1e-2, "{}", forces[0]);
    let held: Vector2<f64> = forces.iter().sum();
    approx::assert_relative_eq!(held.y, -3.0, max_relative = 1e-4);
}

/// A moment at the mouth of a straight bore is held by a force at the mouth and one behind, each the
/// moment over the way between them: the wire runs from one side at the mouth to the other, with a slope
/// that ends where it lies along the wall: `M l² / (6 B) = 2c`. Source: own, by two integrations.
#[test]
fn a_moment_at_the_mouth_is_held_by_two_forces() {
    let moment = 4.0;
    let mut pressing = bend(400, 0.0, 0..0, 0.0);
    pressing.mouth.moment = Vector2::new(moment, 0.0);
    let forces = pressing.forces(&mut WarmStart::default());
    let arm = (12.0 * STIFFNESS * pressing.play_mm / moment).sqrt();
    let expected = 2.0 * moment / arm;
    let error = sum(&forces) / expected - 1.0;
    println!("moment at the mouth: error {error:.4}");
    assert!(error.abs() < 0.01, "{error}");
}

#[test]
fn a_search_that_begins_where_the_wire_lay_finds_the_same() {
    let mut warm = WarmStart::default();
    bend(200, 0.05, 60..120, 3.0).forces(&mut warm);
    let next = bend(200, 0.052, 61..121, 3.5);
    let again = next.forces(&mut warm);
    let alone = next.forces(&mut WarmStart::default());
    approx::assert_relative_eq!(sum(&again), sum(&alone), max_relative = GAP);
}
