//! A vessel that moves by itself: a bend of 10 mm radius that opens and closes again, its arc as long as
//! before, with a frictionless wire in it. Independent values: contact by an interior point method and a
//! closed form that agree to 2e-7 (`reference/giving.json`, section F).
#![allow(clippy::print_stdout, reason = "the table of checks")]

use std::f64::consts::{FRAC_PI_2, TAU};
use std::sync::Arc;

use bendwise::vessel::{
    Bed, Cycle, GivingVessel, Motion, MovedTree, Tree, WallBeam, WallStiffness,
};
use nalgebra::Vector3;

use super::alone::bend;
use super::straightened::{CLEARANCE, Case, WIRE_RADIUS, rod_along};

const BENDING: f64 = 50.0;
const LEAD: f64 = 40.0;
const ARC: f64 = 10.0 * FRAC_PI_2;
const BEAT_S: f64 = 1.0;
/// Phases of a beat.
const PHASES: u32 = 40;

/// The axis of the bend with that radius over the same arc, at a station in mm; the first lead stays where
/// it is.
fn axis(radius: f64, station: f64) -> Vector3<f64> {
    let angle = ARC / radius;
    let from = station - LEAD;
    let along = Vector3::x() * LEAD;
    let on_arc = |a: f64| Vector3::new(radius * a.sin(), radius * (1.0 - a.cos()), 0.0);
    if from < 0.0 {
        along + Vector3::x() * from
    } else if from < ARC {
        along + on_arc(from / radius)
    } else {
        let out = Vector3::new(angle.cos(), angle.sin(), 0.0);
        along + on_arc(angle) + out * (from - ARC)
    }
}

/// The bend, that goes to another radius with each beat.
fn beating(tree: &Arc<Tree>, radius: f64) -> MovedTree {
    let bed = Bed {
        across: 1.0,
        along: 1.0,
        wall: WallStiffness::Beam(WallBeam {
            bending: 0.0,
            axial: 0.0,
        }),
        spacing_mm: 0.4,
    };
    let vessel = GivingVessel::new(tree, bed).without_give();
    let knots = vessel.knots()[0];
    let line = &tree.branches()[0].centreline;
    // Phases between which the arc keeps its length: the radius goes as a beat does.
    let phase = |k: u32| {
        let share = 0.5 - 0.5 * (TAU * f64::from(k) / f64::from(PHASES)).cos();
        let now = 10.0 + (radius - 10.0) * share;
        let ways: Vec<_> = knots
            .stations()
            .map(|s| axis(now, s) - line.position(s))
            .collect();
        knots.through(&ways)
    };
    let phases: Vec<_> = (0..PHASES).map(phase).collect();
    let motion = Motion {
        cycles: vec![Cycle::through(BEAT_S, &phases)],
    };
    MovedTree::new(Arc::clone(tree), Arc::new(vessel.with_motion(motion)))
}

fn case<'a>(lumen: &'a MovedTree, friction: f64) -> Case<'a> {
    let rod = rod_along(lumen.tree(), 6.0, 2.0 * LEAD + ARC - 12.0, 0.25, BENDING);
    let mut case = Case::new(rod, lumen, 3e3, friction);
    // Held along the first lead, free across it.
    case.body.fixed.insert(0, 0);
    case
}

/// Radius, energy of the wire for B = 50, force on the outer wall on each side, on the inner wall.
const TABLE: [[f64; 4]; 4] = [
    [10.5, 1.766884, 0.174734, 0.256178],
    [11.5, 1.400554, 0.143272, 0.222275],
    [12.5, 1.130658, 0.119293, 0.193020],
    [13.5, 0.927018, 0.100609, 0.168115],
];

#[test]
fn a_wire_in_a_bend_that_opens_has_the_energy_and_forces_of_the_open_bend() {
    let tree = Arc::new(bend(10.0, 90.0, 2.0 * (CLEARANCE + WIRE_RADIUS)));
    for [radius, energy, outer, inner] in TABLE {
        let lumen = beating(&tree, radius);
        let mut case = case(&lumen, 0.0);
        case.settle();
        for _ in 0..20 {
            case.after(0.5 * BEAT_S / 20.0);
        }
        let contact = case.body.contact.as_ref().expect("a lumen");
        let middle = axis(radius, LEAD + 0.5 * ARC);
        let (mut at_middle, mut all) = (0.0, 0.0);
        for c in contact.active_contacts() {
            all += c.normal_force;
            let at = contact.point_position(&case.body.rod, c.point);
            if (at - middle).norm() < 5.0 {
                at_middle += c.normal_force;
            }
        }
        let found = [
            case.body.rod.stored().bend,
            0.5 * (all - at_middle),
            at_middle,
        ];
        let off: Vec<f64> = found
            .iter()
            .zip([energy, outer, inner])
            .map(|(f, e)| 100.0 * (f / e - 1.0))
            .collect();
        println!("R {radius}: off by {off:.3?} %");
        assert!(off.iter().all(|o| o.abs() < 1.0), "{off:?}");
    }
}

#[test]
fn a_beat_without_friction_does_no_net_work_and_with_friction_loses_what_slides() {
    let tree = Arc::new(bend(10.0, 90.0, 2.0 * (CLEARANCE + WIRE_RADIUS)));
    let lumen = beating(&tree, 14.0);
    let steps = 60;
    let run = |friction: f64| {
        let mut case = case(&lumen, 0.0);
        case.settle();
        if let Some(contact) = &mut case.body.contact {
            contact.surface.friction = friction;
        }
        let before = case.body.rod.stored().total();
        let mut least = before;
        let mut lost = 0.0;
        for _ in 0..steps {
            lost += case.after(BEAT_S / f64::from(steps));
            least = least.min(case.body.rod.stored().total());
        }
        (before, least, case.body.rod.stored().total(), lost)
    };
    let (before, least, after, lost) = run(0.0);
    println!("energy {before:.6} -> {least:.6} -> {after:.6} mN mm, lost {lost:.2e}");
    assert!(
        (after - before).abs() < 1e-4 * (before - least),
        "{before} {after}"
    );
    // Coulomb forces at the middle contact and, with twice the slip, at the far one; both ways (section F).
    let expected: f64 = [
        (0.256178, 0.174734, 0.043918),
        (0.222275, 0.143272, 0.036657),
        (0.193020, 0.119293, 0.030981),
        (0.168115, 0.100609, 0.026482),
    ]
    .iter()
    .map(|(inner, outer, slip)| 2.0 * slip * (inner + 2.0 * outer))
    .sum();
    let friction = 0.05;
    let found = run(friction).3 / friction;
    println!(
        "lost to friction: {found:.5} mN mm for each unit of friction, expected {expected:.5}"
    );
    // To first order in friction, with a sum over four radii and a wall that gives before contacts slide.
    assert!((found / expected - 1.0).abs() < 0.05, "{found} {expected}");
}
