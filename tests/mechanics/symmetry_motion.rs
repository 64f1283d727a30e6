//! Moved and mirrored scenes give moved and mirrored results; no contact hides below the bound.

#![allow(clippy::print_stdout, reason = "the table of checks")]

use crate::common::{bent_wire, print_effort, report};
use bendwise::contact::WalledLumen;
use bendwise::scenario::model::VesselSpec;
use bendwise::scenario::model::*;
use bendwise::solve::{Assembly, GuideTip, Start, StepSettings};
use bendwise::vessel::{Lumen, Tree};
use nalgebra::{Rotation3, Vector3};

/// A tube that bends in two planes; `mirror` is -1 for its mirror image in the x-y plane, `plane`
/// is added to the plane of its first bend.
fn spec(mirror: f64, plane: f64) -> VesselSpec {
    let arc = |radius_mm: f64, degrees: f64, plane_rad: f64| PieceSpec::Arc {
        radius_mm,
        angle_rad: degrees.to_radians(),
        plane_rad,
    };
    VesselSpec::single_tube(
        vec![
            PieceSpec::Straight { length_mm: 4.0 },
            arc(9.0, 70.0, plane),
            arc(12.0, 60.0, plane + mirror * 1.9),
            PieceSpec::Straight { length_mm: 30.0 },
        ],
        2.5,
    )
}

/// What a run leaves: push force, torque, wall forces, tip, every few mm of wire.
struct Trace {
    numbers: Vec<[f64; 5]>,
    tips: Vec<Vector3<f64>>,
}

/// Feeds, turns and withdraws a wire with a bent tip and friction. The tolerance is tight, so
/// that two runs differ by rounding alone.
fn run(
    spec: &VesselSpec,
    guide_tip: GuideTip,
    roll: f64,
    turn: f64,
    each: impl Fn(&Assembly<'_>, &Tree),
) -> Trace {
    let tree = Tree::build(spec).expect("a tube");
    let wire = bent_wire(0.1);
    let settings = StepSettings {
        tolerance: 1e-8,
        ..StepSettings::default()
    };
    let start = Start {
        outside_mm: 2.0,
        longest_mm: 40.0,
        roll_rad: roll,
    };
    let mut insertion = Assembly::straight(
        &wire,
        WalledLumen::new(&tree, 300.0),
        guide_tip,
        settings,
        start,
    )
    .expect("equilibrium");
    let mut trace = Trace {
        numbers: Vec::new(),
        tips: Vec::new(),
    };
    for k in 0..60 {
        match k {
            0..30 => insertion.feed(0.8),
            30..40 => insertion.turn(0.1 * turn),
            _ => insertion.feed(-0.5),
        }
        .expect("equilibrium");
        each(&insertion, &tree);
        let contact = insertion.contact();
        trace.numbers.push([
            insertion.push_force(),
            insertion.torque(),
            contact.total_force,
            contact.largest_force,
            insertion.tip_rad(),
        ]);
        trace.tips.push(insertion.tip());
    }
    print_effort("feed, turn, withdraw", insertion.balance());
    trace
}

fn home() -> GuideTip {
    GuideTip {
        exit: Vector3::zeros(),
        axis: Vector3::x(),
        backup: None,
    }
}

/// Direction from which planes and rolls are counted at an inlet: +y made square to the axis, or
/// +z near the y axis.
fn reference(axis: &Vector3<f64>) -> Vector3<f64> {
    let from = if axis.y.abs() < 20f64.to_radians().cos() {
        Vector3::y()
    } else {
        Vector3::z()
    };
    (from - axis * from.dot(axis)).normalize()
}

/// Largest differences: of forces (in mN and mN mm) and angles, and of the tip's place in mm.
fn difference(
    a: &Trace,
    b: &Trace,
    sign: [f64; 5],
    carry: impl Fn(&Vector3<f64>) -> Vector3<f64>,
) -> (f64, f64) {
    let mut numbers: f64 = 0.0;
    let mut tips: f64 = 0.0;
    for (x, y) in a.numbers.iter().zip(&b.numbers) {
        for k in 0..5 {
            numbers = numbers.max((x[k] - sign[k] * y[k]).abs());
        }
    }
    for (x, y) in a.tips.iter().zip(&b.tips) {
        tips = tips.max((carry(x) - y).norm());
    }
    (numbers, tips)
}

/// Forces are equal to a hundred times the solver's tolerance of 1e-8 of the tip's buckling load
/// (10 mN): a residual of that size, at the end of a lever of many edges and over a hundred
/// steps of path-dependent friction, may change a force that much. Places follow from forces by
/// the wire's compliance, below 10 mm/mN.
const FORCE_TOLERANCE: f64 = 1e-5;
const PLACE_TOLERANCE: f64 = 1e-4;

fn print_and_assert(what: &str, (numbers, tips): (f64, f64)) {
    println!("CHECK | {what}: forces and angles differ by | {numbers:.1e} | {FORCE_TOLERANCE:.0e}");
    println!(
        "CHECK | {what}: places of the tip differ by, mm | {tips:.1e} | {PLACE_TOLERANCE:.0e}"
    );
    assert!(numbers < FORCE_TOLERANCE && tips < PLACE_TOLERANCE);
}

#[test]
fn a_rigid_motion_of_scene_and_wire_changes_nothing() {
    let here = run(&spec(1.0, 0.0), home(), 0.6, 1.0, |_, _| ());
    let shift = Vector3::new(31.0, -17.0, 8.0);
    for (roll, pitch, yaw) in [(0.4, -0.7, 1.1), (2.0, 0.5, -2.2), (-1.0, 0.1, 1.5)] {
        let turn = Rotation3::from_euler_angles(roll, pitch, yaw);
        let axis = turn * Vector3::x();
        // Planes are counted from a direction fixed in space: correct them.
        let (from, to) = (reference(&axis), turn * Vector3::y());
        let offset = from.cross(&to).dot(&axis).atan2(from.dot(&to));
        let mut moved = spec(1.0, 0.0);
        if let PathSpec::Pieces {
            start_mm,
            direction,
            pieces,
            ..
        } = &mut moved.branches[0].path
        {
            *start_mm = shift;
            *direction = axis;
            for piece in pieces {
                if let PieceSpec::Arc { plane_rad, .. } = piece {
                    *plane_rad += offset;
                }
            }
        }
        let guide_tip = GuideTip {
            exit: shift,
            axis,
            backup: None,
        };
        let there = run(&moved, guide_tip, 0.6 + offset, 1.0, |_, _| ());
        let off = difference(&here, &there, [1.0; 5], |tip| turn * tip + shift);
        print_and_assert("moved scene", off);
    }
}

#[test]
fn the_mirrored_scene_gives_the_mirrored_result() {
    let here = run(&spec(1.0, 0.0), home(), 0.6, 1.0, |_, _| ());
    let there = run(&spec(-1.0, 0.0), home(), -0.6, -1.0, |_, _| ());
    let mirror = |tip: &Vector3<f64>| Vector3::new(tip.x, tip.y, -tip.z);
    let off = difference(&here, &there, [1.0, -1.0, 1.0, 1.0, -1.0], mirror);
    print_and_assert("mirrored scene", off);
}

#[test]
fn no_contact_point_lies_deeper_in_the_wall_than_reported() {
    let deepest = std::cell::Cell::new(0.0f64);
    run(&spec(1.0, 0.0), home(), 0.6, 1.0, |insertion, tree| {
        let body = insertion.wire_body().expect("a wire alone");
        let contact = body.contact.as_ref().expect("in a tube");
        let reported = insertion.contact().deepest;
        for point in 0..contact.points.len() {
            let at = contact.point_position(&body.rod, point);
            let depth = tree.distance(&at) + contact.surface.radius;
            // Rounding of positions of some 50 mm.
            assert!(
                depth <= reported + 1e-9,
                "{depth} mm, reported {reported} mm"
            );
        }
        deepest.set(deepest.get().max(reported));
    });
    report(
        "deepest contact while feeding, turning, withdrawing, mm",
        deepest.get(),
        0.1,
    );
}
