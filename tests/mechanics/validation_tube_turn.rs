//! A wire turned at its hand inside curved tubes: what arrives at the tip, and the torque.

#![allow(clippy::print_stdout, reason = "the table of checks")]

use crate::common::{guide_tip, list_wire, print_effort, report};
use bendwise::contact::WalledLumen;
use bendwise::device::Wire;
use bendwise::scenario::model::VesselSpec;
use bendwise::scenario::model::*;
use bendwise::solve::{Assembly, Start, StepSettings};
use bendwise::vessel::{Lumen, Tree};
use std::f64::consts::PI;

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
        let tree = Tree::build(&VesselSpec::single_tube(pieces, diameter)).expect("a tube");
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
        let tree = Tree::build(&VesselSpec::single_tube(pieces, diameter)).expect("a tube");
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
