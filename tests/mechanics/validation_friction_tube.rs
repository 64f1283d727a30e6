//! What friction costs in a bend, and its tangent against differences. Push and torque against values from
//! outside are checks of the catalogue (`src/evidence/checks`).

#![allow(clippy::print_stdout, reason = "the table of checks")]

use crate::common::{guide_tip, list_wire, report};
use bendwise::contact::WalledLumen;
use bendwise::evidence::scenes::BendTube;
use bendwise::solve::{Assembly, Banded, Body, EnergyBalance, Start, StepSettings};
use nalgebra::DMatrix;

/// Bending stiffness of the wire in mN mm².
const BENDING: f64 = 50.0;
/// Wall of the shipped scenarios and one that is all but rigid, in mN/mm².
const SHIPPED_WALL: f64 = 300.0;
const STIFF_WALL: f64 = 3e4;

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
        // Steps are halved here where the tip swings far aside or forces bend, never because none was found.
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
