//! A wire with Coulomb friction fed round a bend and turned at rest, against an independent solution
//! and against the law itself.
//!
//! Reference values of the push: piecewise elastica by shooting with Coulomb friction at all
//! contacts, computed independently of this project; the energy balance of that solution closes to
//! 1e-10. Tube and wire as in `validation_tube.rs`: straight for 5 mm from the clamp, a quarter
//! circle of 10 mm radius, straight; lumen 3 mm, wire 0.36 mm. Values per unit bending stiffness.

#![allow(clippy::print_stdout, reason = "the table of checks")]

use crate::common::lumens::BendTube;
use crate::common::{guide_tip, list_wire, report};
use bendwise::contact::WalledLumen;
use bendwise::solve::{Assembly, Banded, Body, EnergyBalance, Start, StepSettings};
use nalgebra::DMatrix;

/// Bending stiffness of the wire in mN mm².
const BENDING: f64 = 50.0;
/// Wall of the shipped scenarios and one that is all but rigid, in mN/mm².
const SHIPPED_WALL: f64 = 300.0;
const STIFF_WALL: f64 = 3e4;

/// `d, push/B at friction 0.1, at friction 0.3`; `d` is the length past the bend's start in mm.
const PUSH: [[f64; 3]; 11] = [
    [6.0, 0.0006193, 0.0009198],
    [8.0, 0.0019894, 0.0029758],
    [10.0, 0.0030590, 0.0046421],
    [12.0, 0.0040663, 0.0063132],
    [14.0, 0.0065002, 0.0098435],
    [15.0, 0.0072436, 0.0109704],
    [16.0, 0.0064312, 0.0099068],
    [18.0, 0.0044845, 0.0074055],
    [20.0, 0.0030646, 0.0055403],
    [24.0, 0.0014796, 0.0033004],
    [26.0, 0.0010479, 0.0026256],
];
/// Largest push at friction 0.1 and 0.3.
const PEAKS: [f64; 2] = [0.0073243, 0.0110895];

fn tube(bend_mm: f64) -> BendTube {
    BendTube {
        lead: 5.0,
        bend: bend_mm,
        angle: 90f64.to_radians(),
        radius: 1.5,
    }
}

fn wire_in(lumen: &BendTube, friction: f64, wall: f64, settings: StepSettings) -> Assembly<'_> {
    let start = Start {
        outside_mm: 5.0,
        longest_mm: 60.0,
        roll_rad: 0.0,
    };
    let wire = list_wire(BENDING, 0.36, friction);
    Assembly::straight(
        &wire,
        WalledLumen::new(lumen, wall),
        guide_tip(),
        settings,
        start,
    )
    .expect("straight")
}

/// Edges and steps of 0.25 mm, without drag.
fn settings() -> StepSettings {
    StepSettings {
        edge_mm: 0.25,
        drag: 0.0,
        feed_mm: 0.25,
        tolerance: 1e-5,
        ..StepSettings::default()
    }
}

fn iterations_a_step(balance: &EnergyBalance) -> f64 {
    f64::from(balance.iterations) / f64::from(balance.steps)
}

#[test]
fn push_with_friction_is_that_of_the_exact_solution() {
    for (column, friction) in [(1, 0.1), (2, 0.3)] {
        let tube = tube(10.0);
        // Behind the tip edges are up to twice as long.
        let fine = StepSettings {
            edge_mm: 0.125,
            ..settings()
        };
        let mut wire = wire_in(&tube, friction, STIFF_WALL, fine);
        let mut worst: f64 = 0.0;
        for row in PUSH {
            wire.feed(row[0] + 5.0 - wire.outside_mm())
                .expect("equilibrium");
            let off = wire.push_force() / BENDING - row[column];
            println!(
                "  d {}: push/B {:.7}, {:.7} expected",
                row[0],
                off + row[column],
                row[column]
            );
            worst = worst.max(off.abs());
            // What slides carries its Coulomb force exactly; see `NewtonOptions::MOST_FRICTION`.
            let ratio = wire.friction_ratio();
            assert!((ratio - 1.0).abs() < 1e-9, "friction ratio {ratio}");
        }
        report(
            &format!("push round a bend at friction {friction}, % of the peak"),
            100.0 * worst / PEAKS[column - 1],
            1.0,
        );
    }
}

#[test]
fn friction_up_to_one_costs_few_iterations_at_the_shipped_wall() {
    for friction in [0.0, 0.05, 0.1, 0.3, 0.6, 1.0] {
        let tube = tube(10.0);
        let mut wire = wire_in(&tube, friction, SHIPPED_WALL, settings());
        for _ in 0..160 {
            wire.feed(0.25).expect("equilibrium");
        }
        let balance = wire.balance();
        report(
            &format!("Newton iterations a step at friction {friction}, wall 300"),
            iterations_a_step(balance),
            6.0,
        );
        // Steps are halved here where the tip swings far aside, never because none was found.
        assert_eq!(balance.released, 0, "followed in time at {friction}");
    }
}

#[test]
fn friction_up_to_one_costs_few_iterations_at_a_wall_that_is_all_but_rigid() {
    for friction in [0.0, 0.1, 0.3, 0.6, 1.0] {
        let tube = tube(10.0);
        let mut wire = wire_in(&tube, friction, STIFF_WALL, settings());
        for _ in 0..160 {
            wire.feed(0.25).expect("equilibrium");
        }
        let (balance, ratio) = (wire.balance(), wire.friction_ratio());
        report(
            &format!("Newton iterations a step at friction {friction}, wall 3e4"),
            iterations_a_step(balance),
            12.0,
        );
        assert_eq!(
            balance.released, 0,
            "followed in time at friction {friction}"
        );
        assert!(ratio <= 1.0 + 1e-9, "friction ratio {ratio}");
    }
}

/// The tangent of the friction, its change with the normal force and with the turning of the wall
/// included, against central differences of the gradient.
#[test]
fn tangent_of_sliding_contacts_is_that_of_differences() {
    const DIFFERENCE_MM: f64 = 1e-6;
    const ADVANCE_MM: f64 = 0.1;
    for friction in [0.3, 1.0] {
        let tube = tube(10.0);
        let mut wire = wire_in(&tube, friction, SHIPPED_WALL, settings());
        wire.feed(14.0).expect("equilibrium");
        let body = wire.wire_body_mut().expect("a wire alone");
        body.begin();
        body.contact.as_mut().expect("in a tube").inflow = None;
        // Along the wire's shape and a little into the wall.
        let mut q = body.rod.q.clone();
        for node in 0..body.rod.nodes() - 1 {
            let way = (body.rod.node(node) - body.rod.node(node + 1)).normalize() * ADVANCE_MM;
            for c in 0..3 {
                q[4 * node + c] += way[c] + 1e-3 * ((node + c) as f64).sin();
            }
        }
        let gradient_at = |body: &mut Body<'_>, q: &[f64]| {
            let (mut gradient, mut hessian) = (Vec::new(), Banded::<11>::default());
            body.move_to(q);
            body.assemble(&mut gradient, &mut hessian);
            (gradient, hessian)
        };
        body.contacts_mut().for_each(|c| c.couple_friction(true));
        let (_, hessian) = gradient_at(body, &q);
        let n = q.len();
        let mut tangent = DMatrix::from_fn(n, n, |i, j| hessian.get(i, j));
        let contact = body.contact.as_ref().expect("in a tube");
        assert!(contact.friction_ratio(&body.rod) > 0.999, "slides");
        for coupling in contact.couplings().to_vec() {
            coupling.for_each_entry(|i, j, value| tangent[(i, j)] += value);
        }
        let (mut off, mut largest, mut plain) = (0.0f64, 0.0f64, 0.0f64);
        for column in (0..n - 8).filter(|i| i % 4 < 3) {
            let mut at = |way: f64| {
                let mut moved = q.clone();
                moved[column] += way;
                gradient_at(body, &moved).0
            };
            let (ahead, behind) = (at(DIFFERENCE_MM), at(-DIFFERENCE_MM));
            for row in (0..n).filter(|i| i % 4 < 3) {
                let by_difference = (ahead[row] - behind[row]) / (2.0 * DIFFERENCE_MM);
                off = off.max((tangent[(row, column)] - by_difference).abs());
                plain = plain.max((hessian.get(row, column) - by_difference).abs());
                largest = largest.max(by_difference.abs());
            }
        }
        println!("  tangent off {off:.2e} of {largest:.2e} mN/mm, without couplings {plain:.2e}");
        report(
            &format!("tangent at friction {friction}, % of what couplings add"),
            100.0 * off / plain,
            1.0,
        );
    }
}

/// Torque by the law: the Coulomb force of every contact at the arm at which its surface spins.
fn torque_of_contacts(wire: &Assembly<'_>, friction: f64) -> f64 {
    let body = wire.wire_body().expect("a wire alone");
    let contact = body.contact.as_ref().expect("in a tube");
    let radius = contact.surface.radius;
    let moments = contact.active_contacts().iter().map(|active| {
        let tangent = body.rod.tangent(contact.points[active.point].edge);
        friction * active.normal_force * radius * tangent.cross(&active.normal).norm()
    });
    moments.sum()
}

#[test]
fn torque_at_rest_is_that_of_all_contacts_whatever_the_step() {
    // Friction moments shift the contacts themselves by some share of `mu`: torque is compared with the
    // contacts of the same state.
    for bend_mm in [10.0, 30.0] {
        for wall in [SHIPPED_WALL, STIFF_WALL] {
            for friction in [0.002, 0.1] {
                let mut torques = Vec::new();
                for step_deg in [0.25f64, 1.0, 2.0, 5.0, 10.0] {
                    let tube = tube(bend_mm);
                    let turned = StepSettings {
                        turn_rad: step_deg.to_radians(),
                        tolerance: 1e-6,
                        ..settings()
                    };
                    let mut wire = wire_in(&tube, friction, wall, turned);
                    wire.feed(15.0).expect("equilibrium");
                    wire.turn(120f64.to_radians()).expect("equilibrium");
                    torques.push((wire.torque(), torque_of_contacts(&wire, friction)));
                }
                let off = torques
                    .iter()
                    .map(|(torque, law)| (torque / law - 1.0).abs());
                let what = format!("R {bend_mm}, wall {wall}, friction {friction}");
                report(
                    &format!("torque at rest against its contacts, {what}, %"),
                    100.0 * off.fold(0.0, f64::max),
                    1.0,
                );
                let first = torques[0].0;
                let apart = torques
                    .iter()
                    .map(|(torque, _)| (torque / first - 1.0).abs());
                report(
                    &format!("torque at rest with steps of 0.25 to 10 degrees, {what}, %"),
                    100.0 * apart.fold(0.0, f64::max),
                    1.0,
                );
            }
        }
    }
}
