//! A wire turned at its hand inside curved tubes: what arrives at the tip, and the torque.

#![allow(clippy::print_stdout, reason = "the table of checks")]

use crate::common::lumens::BendTube;
use crate::common::{guide_tip, list_wire, print_effort, report, single_tube, wire_spec};
use bendwise::contact::WalledLumen;
use bendwise::device::Wire;
use bendwise::scenario::model::*;
use bendwise::solve::{Assembly, Start, StepSettings};
use bendwise::vessel::{Lumen, Tree};
use std::f64::consts::{FRAC_PI_2, PI};

fn insert<'a>(
    wire: &Wire,
    lumen: &'a dyn Lumen,
    wall: f64,
    settings: StepSettings,
    length: f64,
) -> Assembly<'a> {
    let start = Start {
        outside_mm: 1.0,
        longest_mm: 60.0,
        roll_rad: 0.0,
    };
    let mut insertion = Assembly::straight(
        wire,
        WalledLumen::new(lumen, wall),
        guide_tip(),
        settings,
        start,
    )
    .expect("equilibrium");
    let more = length - insertion.outside_mm();
    insertion.feed(more).expect("equilibrium");
    insertion
}

fn straight(length_mm: f64) -> PieceSpec {
    PieceSpec::Straight { length_mm }
}

fn arc(radius_mm: f64, degrees: f64, plane: f64) -> PieceSpec {
    PieceSpec::Arc {
        radius_mm,
        angle_rad: degrees.to_radians(),
        plane_rad: plane.to_radians(),
    }
}

/// Tubes of several shapes, each longer than 45 mm.
fn shapes() -> Vec<(&'static str, Vec<PieceSpec>, f64)> {
    vec![
        (
            "quarter bend",
            vec![straight(5.0), arc(10.0, 90.0, 0.0), straight(40.0)],
            3.0,
        ),
        (
            "S-bend",
            vec![
                straight(5.0),
                arc(10.0, 60.0, 0.0),
                arc(10.0, 60.0, 180.0),
                straight(40.0),
            ],
            2.5,
        ),
        (
            "two planes",
            vec![
                straight(3.0),
                arc(8.0, 80.0, 0.0),
                straight(2.0),
                arc(12.0, 70.0, 90.0),
                straight(40.0),
            ],
            2.0,
        ),
        (
            "helix",
            vec![
                straight(3.0),
                PieceSpec::Helix {
                    radius_mm: 6.0,
                    pitch_mm: 15.0,
                    turns: 1.5,
                    plane_rad: 0.0,
                },
            ],
            2.0,
        ),
    ]
}

#[test]
fn the_tip_of_a_straight_wire_follows_the_hand_without_friction() {
    for (name, pieces, diameter) in shapes() {
        let tree = Tree::build(&single_tube(pieces, diameter)).expect("a tube");
        let wire = list_wire(50.0, 0.36, 0.0);
        let mut insertion = insert(&wire, &tree, 300.0, StepSettings::default(), 45.0);
        let mut worst: f64 = 0.0;
        for turn in [1.0f64; 18].iter().chain(&[-1.0; 36]) {
            insertion
                .turn(turn * 20f64.to_radians())
                .expect("equilibrium");
            worst = worst.max(
                (insertion.tip_rad() - insertion.hand_rad())
                    .abs()
                    .to_degrees(),
            );
        }
        print_effort(name, insertion.balance());
        report(
            &format!("straight wire turned without friction, {name}: tip off the hand, degrees"),
            worst,
            0.5,
        );
    }
}

#[test]
fn friction_resists_turning_by_the_wires_radius_times_all_normal_forces() {
    for (name, pieces, diameter) in shapes() {
        let tree = Tree::build(&single_tube(pieces, diameter)).expect("a tube");
        let friction = 0.05;
        let wire = list_wire(50.0, 0.36, friction);
        for sign in [1.0, -1.0] {
            let mut insertion = insert(&wire, &tree, 300.0, StepSettings::default(), 45.0);
            insertion.turn(sign * 3.0 * PI).expect("equilibrium");
            let normal = insertion.contact().total_force;
            let expected = friction * wire.radius_mm() * normal;
            let lag = sign * (insertion.hand_rad() - insertion.tip_rad());
            print_effort(name, insertion.balance());
            println!(
                "  torque {:.5} mN mm, mu r sum N {expected:.5}, sum N {normal:.4} mN, tip lags {:.3} degrees",
                insertion.torque(),
                lag.to_degrees()
            );
            report(
                &format!(
                    "turning with friction, {name}, direction {sign}: torque off mu r sum N, %"
                ),
                100.0 * (sign * insertion.torque() / expected - 1.0).abs(),
                5.0,
            );
            assert!(lag > 0.0, "the tip lags behind the hand");
        }
    }
}

/// Length of the wire in the tube in mm, and curvature of the tube in 1/mm.
const LENGTH: f64 = 20.0;
const TUBE_CURVATURE: f64 = 0.05;
const BENDING: f64 = 50.0;
/// Play of the wire in the tube: small, so that next to no length at the tip lies free.
const CLEARANCE_MM: f64 = 0.0005;

/// A wire of natural curvature such that `a = L sqrt(B k_i k_o / C)`, in a tube of the same plane
/// that holds it on its axis but for
/// [`CLEARANCE_MM`], bends aligned.
fn held<'a>(a: f64, tube: &'a BendTube) -> Assembly<'a> {
    let mut spec = wire_spec(BENDING, 0.36, 0.0);
    let curvature = a * a * spec.torsion_ratio / (LENGTH * LENGTH * TUBE_CURVATURE);
    spec.tip.primary = Some(BendSpec {
        from_tip_mm: 0.0,
        length_mm: 30.0,
        // A bend falls off over the tenth of its length at its back, which stays in the guide.
        angle_rad: 0.95 * 30.0 * curvature,
        plane_rad: 0.0,
    });
    let wire = Wire::from_spec(&spec).expect("a curved wire");
    let settings = StepSettings {
        drag: 0.0,
        turn_rad: 2f64.to_radians(),
        edge_mm: 0.125,
        ..StepSettings::default()
    };
    let insertion = insert(&wire, tube, 1e5, settings, LENGTH);
    let expected = 0.5 * BENDING * (TUBE_CURVATURE - curvature).powi(2) * LENGTH;
    println!(
        "  a {a}: natural curvature {curvature:.5}/mm, bending energy {:.5}, on the axis {expected:.5} mN mm",
        insertion.elastic().bend
    );
    insertion
}

fn tight_tube() -> BendTube {
    BendTube {
        lead: 0.0,
        bend: 1.0 / TUBE_CURVATURE,
        angle: PI,
        radius: 0.5 * 0.36 + CLEARANCE_MM,
    }
}

/// Tip angle, base angle (degrees) and holding torque (times L/C) of a wire of natural curvature
/// on the axis of a tube: closed form (pendulum equation with Jacobi's elliptic functions),
/// computed independently of this project and agreeing with a numerical solution of the
/// differential equation to 4e-11 rad.
#[rustfmt::skip]
const HALF: [[f64; 3]; 14] = [
    [10.0, 11.26937, 0.04521], [20.0, 22.49771, 0.08888], [30.0, 33.64558, 0.12951],
    [45.0, 50.13796, 0.18189], [60.0, 66.26485, 0.22078], [80.0, 87.07513, 0.24761],
    [90.0, 97.15825, 0.24961], [100.0, 107.02416, 0.24406], [120.0, 126.13575, 0.21178],
    [135.0, 139.98884, 0.17148], [150.0, 153.51640, 0.12049], [160.0, 162.40182, 0.08218],
    [170.0, 171.21834, 0.04165], [180.0, 180.0, 0.0],
];
#[rustfmt::skip]
const ONE: [[f64; 3]; 14] = [
    [10.0, 15.39503, 0.20342], [20.0, 30.57839, 0.39688], [30.0, 45.35272, 0.57146],
    [45.0, 66.38291, 0.78292], [60.0, 85.69152, 0.92182], [80.0, 108.39024, 0.98908],
    [90.0, 118.41210, 0.97551], [100.0, 127.58896, 0.93418], [120.0, 143.65376, 0.78160],
    [135.0, 154.01816, 0.61940], [150.0, 163.29447, 0.42841], [160.0, 169.04658, 0.29014],
    [170.0, 174.57854, 0.14642], [180.0, 180.0, 0.0],
];

#[test]
fn a_precurved_wire_turns_in_a_curved_tube_as_the_pendulum_equation_says() {
    let tube = tight_tube();
    for (a, table) in [(0.5, HALF), (1.0, ONE)] {
        let mut insertion = held(a, &tube);
        let mut states = vec![[0.0, 0.0, 0.0]];
        let scale = LENGTH * 1.3 / BENDING;
        while insertion.tip_rad() < 182f64.to_radians() {
            insertion.turn(2f64.to_radians()).expect("equilibrium");
            states.push([
                insertion.tip_rad().to_degrees(),
                insertion.hand_rad().to_degrees(),
                insertion.torque() * scale,
            ]);
        }
        print_effort("turned", insertion.balance());
        let (mut base_off, mut torque_off): (f64, f64) = (0.0, 0.0);
        for [tip, base, torque] in table {
            let k = states.partition_point(|s| s[0] < tip);
            let (before, after) = (states[k - 1], states[k]);
            let f = (tip - before[0]) / (after[0] - before[0]);
            let at = |c: usize| before[c] + f * (after[c] - before[c]);
            println!(
                "  tip {tip:5.1}: base {:.3} ({base:.3}), torque {:.5} ({torque:.5})",
                at(1),
                at(2)
            );
            base_off = base_off.max((at(1) - base).abs());
            torque_off = torque_off.max((at(2) - torque).abs());
        }
        let peak = table.iter().map(|r| r[2]).fold(0.0, f64::max);
        report(
            &format!("precurved wire, a {a}: base angle off, degrees"),
            base_off,
            1.0,
        );
        report(
            &format!("precurved wire, a {a}: torque off, % of its peak"),
            100.0 * torque_off / peak,
            2.0,
        );
    }
}

/// Tip angle in degrees with the hand at half a turn, coming from below and from above.
fn at_half_a_turn(a: f64, tube: &BendTube) -> [f64; 2] {
    let mut insertion = held(a, tube);
    insertion.turn(PI).expect("equilibrium");
    let below = insertion.tip_rad().to_degrees();
    insertion.turn(PI).expect("equilibrium");
    insertion.turn(-PI).expect("equilibrium");
    print_effort("turned", insertion.balance());
    [below, insertion.tip_rad().to_degrees()]
}

#[test]
fn a_precurved_wire_snaps_beyond_a_quarter_of_two_pi() {
    let tube = tight_tube();
    // With the hand at half a turn the tip stands there too, or, beyond the threshold, at either
    // side of it, depending on where it came from.
    for (share, snaps) in [(0.97, false), (1.03, true)] {
        let [below, above] = at_half_a_turn(share * FRAC_PI_2, &tube);
        println!(
            "CHECK | a = {share} pi/2, hand at 180 degrees: tip from below, from above | {below:.3}, {above:.3} | {}",
            if snaps {
                "more than 40 degrees apart"
            } else {
                "less than 5 degrees apart"
            }
        );
        let apart = above - below;
        assert!(if snaps {
            apart > 40.0
        } else {
            apart.abs() < 5.0
        });
    }
}
