//! Readings of single contacts and of the clamp, and loads of one's own, against statics.

use crate::common::{guide_tip, list_wire, s_bend};
use bendwise::contact::{StiffeningFoundation, WallSpec, WalledLumen};
use bendwise::evidence::scenes::Floor;
use bendwise::evidence::scenes::{Cord, Pulled};
use bendwise::prelude::{VesselBuilder, WireBuilder};
use bendwise::rod::{Edge, Hinge, Rod};
use bendwise::solve::{Assembly, Body, Newton, NewtonOptions, Start, StepSettings};
use bendwise::vessel::Tree;
use nalgebra::Vector3;

const NODES: usize = 41;
const EDGE_MM: f64 = 0.25;
const BENDING: f64 = 50.0;

/// A straight rod along x whose first edge is clamped.
fn cantilever() -> Body<'static> {
    let nodes: Vec<_> = (0..NODES)
        .map(|i| Vector3::x() * (EDGE_MM * i as f64))
        .collect();
    let edge = Edge {
        rest_length: EDGE_MM,
        axial_stiffness: 1e5,
    };
    let hinge = Hinge::uniform(EDGE_MM, BENDING, BENDING);
    let rod = Rod::new(
        &nodes,
        vec![edge; NODES - 1],
        vec![hinge; NODES],
        Vector3::y(),
    );
    let mut body = Body::new(rod);
    body.fix_node(0);
    body.fix_node(1);
    body.fix_rotation(0);
    body
}

fn settle(body: &mut Body<'_>, newton: &mut Newton) {
    newton
        .equilibrate(body, &NewtonOptions::with_tolerance(1e-8))
        .expect("rest");
}

/// A couple at the end bends a rod to a circle of curvature `M/B`, and the clamp holds it.
#[test]
fn an_end_couple_bends_to_a_circle_and_the_clamp_holds_it() {
    let moment = Vector3::new(0.0, 0.0, 3.0);
    let mut body = cantilever();
    let mut newton = Newton::default();
    for _ in 0..80 {
        body.loads = body.couple_on(NODES - 2, 0, &moment);
        settle(&mut body, &mut newton);
    }
    let turned = body.rod.tangent(0).angle(&body.rod.tangent(NODES - 2));
    // From the clamped edge to the last one there are all hinges but the two at the ends.
    let length = EDGE_MM * (NODES - 2) as f64;
    approx::assert_relative_eq!(turned, moment.z * length / BENDING, max_relative = 2e-3);
    let held = body.clamp_reaction(0, &newton.gradient, &body.rod.node(1));
    assert!(held.force.norm() < 1e-6, "{held:?}");
    approx::assert_relative_eq!(held.moment, -moment, epsilon = 1e-4);
}

/// The clamp holds the sum of a distributed load and its moment.
#[test]
fn the_clamp_holds_a_distributed_load() {
    let per_mm = Vector3::new(0.0, -0.2, 0.1);
    let mut body = cantilever();
    let mut newton = Newton::default();
    body.add_distributed_load(&per_mm);
    settle(&mut body, &mut newton);
    let length = EDGE_MM * (NODES - 1) as f64;
    let held = body.clamp_reaction(0, &newton.gradient, &Vector3::zeros());
    approx::assert_relative_eq!(held.force, per_mm * -length, epsilon = 1e-6);
    let mut moment = Vector3::zeros();
    for i in 0..NODES {
        let share = if i % (NODES - 1) == 0 { 0.5 } else { 1.0 };
        moment += body.rod.node(i).cross(&(per_mm * (EDGE_MM * share)));
    }
    approx::assert_relative_eq!(held.moment, -moment, epsilon = 1e-5);
}

/// A wire that is drawn along a floor slides at every contact, and the floor carries its load.
#[test]
fn contacts_of_a_drawn_wire_slide_and_carry_its_load() {
    const FRICTION: f64 = 0.2;
    let nodes: Vec<_> = (0..21)
        .map(|i| Vector3::new(-0.5 * f64::from(i), 0.0, 0.18))
        .collect();
    let cord = Cord {
        radius: 0.18,
        bending: BENDING,
        axial: 1e6,
        friction: FRICTION,
        wall: 300.0,
        tolerance: 1e-7,
    };
    let mut wire = Pulled::new(&cord, &Floor, &nodes, 0, 1.0);
    wire.body
        .add_distributed_load(&Vector3::new(0.0, 0.0, -2.0));
    wire.pull(0.0).expect("equilibrium");
    wire.pull(0.5).expect("equilibrium");
    let stations: Vec<f64> = (0..21).map(|i| 0.5 * f64::from(i)).collect();
    let contact = wire.body.contact.as_ref().expect("a floor");
    let readings: Vec<_> = contact.readings(&wire.body.rod, &stations).collect();
    let covered: f64 = readings.iter().map(|r| r.length_mm).sum();
    approx::assert_relative_eq!(covered, 10.0, max_relative = 1e-9);
    let mut sum = Vector3::zeros();
    for reading in &readings {
        approx::assert_relative_eq!(reading.coulomb_share, 1.0, max_relative = 1e-6);
        approx::assert_relative_eq!(reading.place.x, 0.5 - reading.from_front_mm, epsilon = 1e-3);
        sum += reading.load_per_mm() * reading.length_mm;
    }
    approx::assert_relative_eq!(sum, Vector3::new(-4.0, 0.0, 20.0), epsilon = 1e-4);
}

/// Guide and walls together hold a wire at rest, and what the guide holds along its axis is the force
/// in the wire there.
#[test]
fn guide_and_walls_hold_a_wire_in_a_bend() {
    let tree = Tree::build(&s_bend()).expect("a tube");
    let wire = list_wire(BENDING, 0.36, 0.1).with_axial_stiffness(2e4);
    let settings = StepSettings {
        tolerance: 1e-8,
        drag: 0.0,
        ..StepSettings::default()
    };
    let start = Start {
        outside_mm: 2.0,
        longest_mm: 40.0,
        roll_rad: 0.0,
    };
    let mut fed = Assembly::straight(
        &wire,
        WalledLumen::new(&tree, 300.0),
        guide_tip(),
        settings,
        start,
    )
    .expect("equilibrium");
    assert!(
        fed.wire_body()
            .expect("a wire alone")
            .rod
            .edges
            .iter()
            .all(|e| (e.axial_stiffness - 2e4).abs() < 1e-9)
    );
    fed.feed(20.0).expect("equilibrium");
    let guide = fed.clamp_reaction();
    let walls = fed
        .contact_readings()
        .iter()
        .fold(Vector3::zeros(), |sum, r| {
            sum + r.normal_force + r.friction_force
        });
    assert!(walls.norm() > 0.05, "{walls:?}");
    approx::assert_relative_eq!(guide.force, -walls, epsilon = 1e-5);
    assert!(
        fed.contact_readings()
            .iter()
            .all(|r| r.coulomb_share <= 1.001)
    );
}

/// Every contact with a wall of a law that a scenario names presses by that law at its depth.
#[test]
fn contacts_with_a_stiffening_wall_press_by_its_law() {
    let law = StiffeningFoundation {
        stiffness: 40.0,
        doubles_at_mm: 0.01,
    };
    let bend = VesselBuilder::tube_mm(3.0)
        .straight_mm(5.0)
        .arc_mm_deg(8.0, 90.0)
        .straight_mm(20.0)
        .wall(WallSpec::StiffeningFoundation(law));
    let vessel = bend.build().expect("a tube");
    let stiff = [(0.0, 400.0)];
    let wire = WireBuilder::from_stiffness_mn_mm2(&stiff).build();
    let wire = wire.expect("a wire");
    let mut pushed = vessel.insert(&wire).expect("a wire in the guide");
    pushed.feed(25.0).expect("equilibria");
    let contacts = pushed.contact_readings();
    let deepest = contacts.iter().map(|c| c.depth_mm).fold(0.0, f64::max);
    // Deep enough that a linear wall of the same stiffness would press with two thirds of the force.
    assert!(deepest > 0.5 * law.doubles_at_mm, "{deepest} mm");
    for c in contacts {
        let exact = law.stiffness * c.depth_mm * (1.0 + c.depth_mm / law.doubles_at_mm);
        let found = c.normal_force.norm() / c.length_mm;
        approx::assert_relative_eq!(found, exact, max_relative = 1e-6, epsilon = 1e-9);
    }
}
