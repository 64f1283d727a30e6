//! Coulomb friction of a wire on a plane: sticking, direction, the arm of a standing tip. The capstan law and
//! pull tests are checks of the catalogue (`src/evidence/checks`).

#![allow(clippy::print_stdout, reason = "the table of checks")]

use std::f64::consts::PI;

use bendwise::contact::{Contact, Surface};
use bendwise::evidence::scenes::{Cord, Floor, Pulled};
use bendwise::solve::Banded;
use nalgebra::Vector3;

use crate::common::report;

/// A wire of that friction.
fn cord(friction: f64) -> Cord {
    Cord {
        radius: 0.1,
        bending: 0.05,
        axial: 1e4,
        friction,
        wall: 300.0,
        tolerance: 1e-6,
    }
}

/// A wire of 4 mm on the plane, pressed down with 1 mN/mm and pushed in the plane with `share` of
/// the Coulomb limit at `angle` to its axis, all nodes alike; damped by `damping` in mN/mm² a
/// step. Friction coefficient 0.2.
fn on_the_floor<'a>(share: f64, angle: f64, damping: f64) -> Pulled<'a> {
    let nodes: Vec<_> = (0..=8)
        .map(|i| Vector3::new(-0.5 * f64::from(i), 0.0, 0.18))
        .collect();
    let cord = Cord {
        radius: 0.18,
        bending: 50.0,
        tolerance: 1e-10,
        ..cord(0.2)
    };
    let mut wire = Pulled::new(&cord, &Floor, &nodes, 0, 1.0);
    // No hand: the wire is free but for its spin.
    wire.body.fixed.retain(|&k| k != 0);
    wire.body.damping = damping;
    for i in 0..=8 {
        let pressed = if i == 0 || i == 8 { 0.25 } else { 0.5 };
        wire.load(i, 2, -pressed);
        wire.load(i, 0, 0.2 * share * pressed * angle.cos());
        wire.load(i, 1, 0.2 * share * pressed * angle.sin());
    }
    wire
}

#[test]
fn a_wire_below_the_coulomb_limit_does_not_creep() {
    for angle in [0.0, 0.7] {
        let mut wire = on_the_floor(0.9, angle, 0.0);
        // A first step sets the normal force and the elastic deflection of the wall.
        wire.pull(0.0).expect("equilibrium");
        wire.pull(0.0).expect("equilibrium");
        let first = wire.body.rod.q.clone();
        for _ in 0..1000 {
            wire.pull(0.0).expect("equilibrium");
        }
        let creep = wire
            .body
            .rod
            .q
            .iter()
            .zip(&first)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f64::max);
        // Rounding only: positions of a few mm, a thousand steps.
        println!("CHECK | creep over 1000 steps at 0.9 of the limit, mm | {creep:.2e} | 1e-10");
        assert!(creep < 1e-10);
        let iterations: u32 = wire.iterations[2..].iter().sum();
        println!(
            "  iterations in 1000 steps: {iterations}, lost {:.1e}",
            wire.lost
        );
    }
}

#[test]
fn friction_has_no_preferred_direction() {
    // Above the limit the wire slides against the damping: the excess over mu N is
    // damping times length times distance, in the direction of the load.
    let (damping, share) = (2.0, 1.5);
    let excess = 0.2 * (share - 1.0) * 4.0;
    let expected = excess / (damping * 4.0);
    let mut worst: f64 = 0.0;
    for k in 0..16 {
        let angle = f64::from(k) * PI / 8.0;
        let mut wire = on_the_floor(share, angle, damping);
        for _ in 0..5 {
            wire.pull(0.0).expect("equilibrium");
        }
        let before = wire.body.rod.node(4);
        wire.pull(0.0).expect("equilibrium");
        let moved = wire.body.rod.node(4) - before;
        let along = Vector3::new(angle.cos(), angle.sin(), 0.0) * expected;
        worst = worst.max((moved - along).norm() / expected);
    }
    println!(
        "CHECK | sliding in 16 directions: speed and direction off, relative | {worst:.1e} | 1e-6"
    );
    assert!(worst < 1e-6);
}

/// Where a wire's end stands on a wall, its contact lies nearer to the axis than the wire's radius:
/// at the angle `a` between axis and normal the arm is `r sin a`, and spinning meets the moment
/// `mu N r sin a` (Coulomb's law with the arm of the contact).
#[test]
fn a_tip_resists_spinning_with_the_arm_of_its_contact() {
    let (radius, depth) = (0.18, 0.02);
    let cord = Cord {
        radius,
        bending: 50.0,
        ..cord(0.2)
    };
    let mut worst: f64 = 0.0;
    for angle in [0.02, 0.2, 0.8, 1.3, 0.5 * PI] {
        let along = Vector3::new(f64::sin(angle), 0.0, f64::cos(angle));
        let nodes: Vec<_> = (0..4)
            .map(|i| Vector3::z() * (radius - depth) + along * (0.5 * f64::from(i)))
            .collect();
        let mut rod = Pulled::new(&cord, &Floor, &nodes, 0, 1.0).body.rod;
        let surface = Surface {
            radius,
            friction: cord.friction,
            wall: cord.wall.into(),
            spacing: 1.0,
        };
        let mut contact = Contact::new(&Floor, surface, &rod, 0, true);
        contact.begin(&rod.q);
        rod.q[3] += 10.0;
        rod.refresh();
        let mut gradient = vec![0.0; rod.q.len()];
        let mut hessian = Banded::<11>::empty();
        hessian.reset(rod.q.len());
        contact.add_derivatives(&rod, &mut gradient, &mut hessian);
        let normal = cord.wall * radius * depth;
        let expected = cord.friction * normal * radius * angle.sin();
        println!(
            "  axis {angle:.2} rad from the normal: moment {:.6} mN mm, expected {expected:.6}",
            gradient[3]
        );
        worst = worst.max((gradient[3].abs() - expected).abs() / (cord.friction * normal * radius));
    }
    report(
        "moment that a standing tip meets, off, %",
        100.0 * worst,
        1e-6,
    );
}
