//! A wire that rubs in a catheter's bore against closed forms: the forces at the ends of a bend, the capstan,
//! the torque of turning, the wind-up, and that sliding sets turning free.
#![allow(clippy::print_stdout, reason = "the table of checks")]

use crate::common::{catheter_spec, guide_tip, list_wire, print_effort, report};
use bendwise::contact::WalledLumen;
use bendwise::device::Catheter;
use bendwise::scenario::model::{PieceSpec, VesselSpec};
use bendwise::solve::{Assembly, Hands, Load, PairStart, StepSettings};
use bendwise::vessel::Tree;

/// Bend of the catheter's tip, which is so stiff that it keeps it, and length of the straight part behind.
const BEND_MM: f64 = 25.0;
const ANGLE_RAD: f64 = 0.75;
const BEHIND_MM: f64 = 20.0;
/// The bend is eased in over a tenth of its length, so that half of that is missing in its curvature.
const EASED_MM: f64 = 0.1 * BEND_MM;
const CURVATURE: f64 = ANGLE_RAD / (BEND_MM - 0.5 * EASED_MM);
/// Radius of the wire and play of the bore in mm, and their friction.
const RADIUS_MM: f64 = 0.18;
const PLAY_MM: f64 = 0.1;
const FRICTION: f64 = 0.1;
/// GJ/EI of the wire.
const TORSION: f64 = 1.0 / 1.3;

/// A vessel so wide that nothing touches it.
fn open_space() -> Tree {
    let pieces = vec![PieceSpec::Straight { length_mm: 60.0 }];
    Tree::build(&VesselSpec::single_tube(pieces, 40.0)).expect("a tube")
}

/// A wire of that bending stiffness, 5 mm of which stand out of the bent catheter, with a pull on its tip
/// in mN, and that friction.
fn rubbing(tree: &Tree, (stiffness, pull): (f64, f64), friction: f64) -> Assembly<'_> {
    let mut spec = catheter_spec(3e5, 0.8, 0.0, (BEND_MM, ANGLE_RAD));
    spec.inner_diameter_mm = 2.0 * (RADIUS_MM + PLAY_MM);
    spec.friction_inside = friction;
    let catheter = Catheter::from_spec(&spec).expect("a catheter");
    let wire = list_wire(stiffness, 2.0 * RADIUS_MM, 0.0);
    let settings = StepSettings {
        edge_mm: 0.25,
        feed_mm: 0.1,
        drag: 0.0,
        tolerance: 1e-5,
        ..StepSettings::default()
    };
    let start = PairStart {
        wire_mm: BEND_MM + BEHIND_MM + 5.0,
        catheter_mm: BEND_MM + BEHIND_MM,
        longest_mm: BEND_MM + BEHIND_MM + 10.0,
        wire_roll_rad: 0.0,
        catheter_roll_rad: 0.0,
    };
    let devices = (&wire, &catheter);
    let mut pair = Assembly::pair(
        devices,
        WalledLumen::new(tree, 300.0),
        guide_tip(),
        settings,
        start,
    )
    .expect("rest");
    if pull > 0.0 {
        let body = pair.pair_body_mut().expect("a pair");
        let direction = -body.rod.tangent(0) * pull;
        let load = |c: usize| Load {
            unknown: c,
            force: direction[c],
        };
        body.loads.extend((0..3).map(load));
    }
    pair
}

fn pair(tree: &Tree, stiffness: f64, pull: f64) -> Assembly<'_> {
    rubbing(tree, (stiffness, pull), FRICTION)
}

/// Force of friction in mN that the hand on the wire feels after `hands`: what it feels more than without
/// friction. The hand's force without it is that of the mesh at the mouth, some hundredths of the energy of
/// bending over its length.
fn rubs(tree: &Tree, stiffness: f64, hands: Hands) -> f64 {
    let [with, without] = [FRICTION, 0.0].map(|friction| {
        let mut pair = rubbing(tree, (stiffness, 0.0), friction);
        pair.move_hands(hands).expect("rest");
        pair.push_force()
    });
    with - without
}

/// Sum of the forces of the pair that turns the wire's moment on at the mouth, where it is free in front,
/// and of the one that turns it off where the bend begins.
///
/// At the mouth the moment grows evenly over `l` from nothing to `B κ` while the wire goes from one side of
/// the bore to the other, `κ l²/6 = 2c`. Where the bend begins half of `l` lies on the straight side, and
/// `κ l²/24 - κ e²/40 = 2c` with `e` the length over which the bend is eased in by a cubic. Source: own, by
/// two integrations.
fn pairs(stiffness: f64) -> [f64; 2] {
    let across = 2.0 * PLAY_MM / CURVATURE;
    [6.0 * across, 24.0 * (across + EASED_MM.powi(2) / 40.0)]
        .map(|square: f64| 2.0 * stiffness * CURVATURE / square.sqrt())
}

/// Tension of the wire at the hand while it is drawn back with `pull` (mN) on its tip: along the bend the
/// capstan's, and where the wire bends the tension falls by its bending energy.
fn drawn(stiffness: f64, pull: f64) -> f64 {
    let [mouth, begin] = pairs(stiffness).map(|force| FRICTION * force);
    let bending = 0.5 * stiffness * CURVATURE * CURVATURE;
    let along = (pull + mouth - bending) * (FRICTION * ANGLE_RAD).exp();
    along + bending + begin
}

#[test]
fn a_soft_wire_is_drawn_by_the_capstans_force() {
    let tree = open_space();
    let pull = 20.0;
    let mut pair = pair(&tree, 2.0, pull);
    pair.move_hands(Hands::feed(-0.5)).expect("rest");
    let error = -pair.push_force() / drawn(2.0, pull) - 1.0;
    report("capstan, drawn back: error", error, 0.01);
    pair.move_hands(Hands::feed(1.0)).expect("rest");
    let pushed = pull * (-FRICTION * ANGLE_RAD).exp();
    report(
        "capstan, fed: error",
        -pair.push_force() / pushed - 1.0,
        0.01,
    );
    print_effort("capstan", pair.balance());
}

#[test]
fn a_stiff_wire_is_held_by_the_forces_at_the_ends_of_the_bend() {
    let tree = open_space();
    for stiffness in [50.0, 100.0] {
        let felt = -rubs(&tree, stiffness, Hands::feed(-0.5));
        report(
            &format!("bend, {stiffness} mN mm²: error of the force to draw"),
            felt / drawn(stiffness, 0.0) - 1.0,
            0.01,
        );
    }
}

#[test]
fn a_wire_turns_by_the_friction_at_its_radius_and_is_wound_up_by_it() {
    let tree = open_space();
    let stiffness = 100.0;
    let mut pair = pair(&tree, stiffness, 0.0);
    pair.move_hands(Hands::turn(0.4)).expect("rest");
    // In the bend the wire is under thrust by its bending energy, which takes it off the inner side, on which
    // it lies.
    let thrust = 0.5 * stiffness * CURVATURE * CURVATURE * ANGLE_RAD;
    let [mouth, begin] = pairs(stiffness);
    let share = FRICTION * RADIUS_MM;
    let torque = share * (mouth + begin - thrust);
    report(
        "torque of turning: error",
        pair.torque() / torque - 1.0,
        0.01,
    );
    // Every force winds up all of the wire from the guide to where it acts.
    let all_mm = BEND_MM + BEHIND_MM;
    let at_mouth = mouth * (all_mm - 0.5 * (12.0 * PLAY_MM / CURVATURE).sqrt());
    let at_begin = begin * (BEHIND_MM + 0.5 * EASED_MM);
    let wound = share * (at_mouth + at_begin - thrust * (BEHIND_MM + 0.5 * BEND_MM));
    let lag = pair.hand_rad() - pair.tip_rad();
    let error = lag / (wound / (stiffness * TORSION)) - 1.0;
    report("angle by which the tip lags: error", error, 0.01);
    let catheter = pair.catheter().expect("a catheter");
    let other = catheter.torque / pair.torque() + 1.0;
    report(
        "torque on the catheter against that on the wire: error",
        other,
        1e-6,
    );
    // A wire that slides has little friction left against turning.
    let before = pair.torque();
    pair.move_hands(Hands::feed(1.0)).expect("rest");
    report(
        "torque left of it after a millimetre",
        pair.torque() / before,
        0.1,
    );
    print_effort("turned", pair.balance());
}

#[test]
fn a_wire_that_turns_and_slides_has_one_coulomb_force() {
    let tree = open_space();
    let stiffness = 100.0;
    let mut pair = pair(&tree, stiffness, 0.0);
    // As far along the bore as round it.
    let part = Hands {
        feed_wire: -0.5,
        turn_wire: 0.5 / RADIUS_MM,
        ..Hands::default()
    };
    pair.move_hands(part).expect("rest");
    let along = -rubs(&tree, stiffness, part);
    let round = pair.torque() / RADIUS_MM;
    report(
        "force round the bore against that along it: error",
        round / along - 1.0,
        0.02,
    );
    let [mouth, begin] = pairs(stiffness);
    // Behind the mouth's part of the friction along, less the bending energy, the tension turns.
    let bending = 0.5 * stiffness * CURVATURE * CURVATURE;
    let tension = FRICTION * mouth * 0.5f64.sqrt() - bending;
    let all = FRICTION * (mouth + begin + tension.abs() * ANGLE_RAD);
    report("both together: error", along.hypot(round) / all - 1.0, 0.01);
}
