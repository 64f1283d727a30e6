//! A wire pushed round a tight bend keeps the set that the closed form gives for its curvature.

use bendwise::contact::WalledLumen;
use bendwise::device::Wire;
use bendwise::rod::section;
use bendwise::scenario::model::{CoreLawSpec, PieceSpec, VesselSpec};
use bendwise::solve::{Assembly, Start, StepSettings};
use bendwise::vessel::Tree;
use std::f64::consts::PI;

use crate::common::{guide_tip, report, wire_spec};

const RADIUS: f64 = 4.0;
const DIAMETER: f64 = 0.3556;
/// Core in mm: of steel that yields at a strain of 0.01 it does so at a radius of 6 mm.
const CORE: f64 = 0.12;
const YIELDS_AT: f64 = 2.0 * 0.01 / CORE;

fn hairpin(lumen_mm: f64) -> Tree {
    let pieces = vec![
        PieceSpec::Straight { length_mm: 10.0 },
        PieceSpec::Arc {
            radius_mm: RADIUS,
            angle_rad: PI,
            plane_rad: 0.0,
        },
        PieceSpec::Straight { length_mm: 60.0 },
    ];
    Tree::build(&VesselSpec::single_tube(pieces, lumen_mm)).expect("a hairpin")
}

fn at_entry(tree: &Tree, law: CoreLawSpec) -> Assembly<'_> {
    meshed(tree, law, 0.25, 0.2)
}

fn meshed(tree: &Tree, law: CoreLawSpec, edge_mm: f64, feed_mm: f64) -> Assembly<'_> {
    let mut spec = wire_spec(200e6 * PI * CORE.powi(4) / 64.0, DIAMETER, 0.02);
    spec.core_law = law;
    let wire = Wire::from_spec(&spec).expect("a wire");
    let settings = StepSettings {
        feed_mm,
        edge_mm,
        ..StepSettings::default()
    };
    let start = Start {
        outside_mm: 2.0,
        longest_mm: 70.0,
        roll_rad: 0.0,
    };
    Assembly::straight(
        &wire,
        WalledLumen::new(tree, 3000.0),
        guide_tip(),
        settings,
        start,
    )
    .expect("rest")
}

/// Residual curvature in 1/mm, by the closed form, of wire that was bent to this one.
fn residual(curvature: f64) -> f64 {
    let k = curvature / YIELDS_AT;
    YIELDS_AT * (k - section::moment(k))
}

#[test]
fn a_straight_wire_comes_out_of_a_hairpin_bent_as_the_closed_form_says() {
    let tree = hairpin(0.6);
    let mut insertion = at_entry(&tree, CoreLawSpec::Plastic);
    // Largest curvature to which the wire at each node has been bent, by distance from the tip:
    // nodes are material points, and the wire bends one way only.
    let mut bent: Vec<f64> = Vec::new();
    for _ in 0..300 {
        insertion.feed(0.2).expect("equilibrium");
        let rod = &insertion.wire_body().expect("a wire alone").rod;
        bent.resize(rod.edges.len(), 0.0);
        for (i, most) in bent.iter_mut().enumerate().skip(1) {
            let [a, b] = rod.hinge_curvature(i);
            *most = most.max(a.hypot(b) / rod.hinges[i].length);
        }
    }
    let rod = &insertion.wire_body().expect("a wire alone").rod;
    let cells = bent.iter().zip(&rod.hinges).skip(1);
    let expected: f64 = cells
        .map(|(most, hinge)| residual(*most) * hinge.length)
        .sum();
    let set = insertion.set();
    let balance = insertion.balance();
    println!(
        "  set {:.1} degrees, sharpest {:.1} mm from the tip, strain over limit now {:.2}; work {:.1}, stored {:.1}, rubbed {:.1}, yielded {:.1} mN mm; {:.1} iterations a step",
        set.angle_rad.to_degrees(),
        set.from_tip_mm,
        insertion.strains().0,
        balance.hand,
        insertion.stored(),
        balance.friction,
        balance.yielding,
        f64::from(balance.iterations) / f64::from(balance.steps),
    );
    // Steps of 0.2 mm and nodes 0.25 to 1 mm apart miss the very peak of the curvature, and at the
    // exit a cell grows while it is bent.
    report(
        "straight wire through a hairpin of 4 mm: set off the closed form, %",
        100.0 * (set.angle_rad / expected - 1.0),
        2.0,
    );
    assert!(set.angle_rad.to_degrees() > 60.0);
}

#[test]
fn a_tighter_tube_brings_the_set_nearer_to_that_of_its_own_curvature() {
    // All that has gone through the whole bend has been bent to the tube's curvature at least; near
    // the ends of the bend a wire with play is bent more sharply.
    let above = [0.6, 0.44, 0.38].map(|lumen| {
        let tree = hairpin(lumen);
        let mut insertion = at_entry(&tree, CoreLawSpec::Plastic);
        insertion.feed(60.0).expect("equilibrium");
        let through = insertion.outside_mm() - 10.0 - PI * RADIUS;
        let axis = residual(1.0 / RADIUS) * through;
        let set = insertion.set().angle_rad;
        println!("  lumen {lumen} mm: set {set:.3} rad, of the tube's axis {axis:.3}");
        set / axis
    });
    assert!(
        above.windows(2).all(|a| a[1] < a[0]) && above[2] > 1.0,
        "{above:?}"
    );
}

#[test]
fn the_set_hardly_changes_when_edges_and_steps_halve() {
    let tree = hairpin(0.6);
    let set = [(0.25, 0.2), (0.125, 0.2), (0.125, 0.1)].map(|(edge_mm, feed_mm)| {
        let mut insertion = meshed(&tree, CoreLawSpec::Plastic, edge_mm, feed_mm);
        insertion.feed(40.0).expect("equilibrium");
        insertion.set().angle_rad
    });
    for (name, fine) in [("edges", set[1]), ("edges and steps", set[2])] {
        // First order in the step, as the largest curvature falls between two of them, and at the
        // tip, whose half cell flows with its neighbour.
        report(
            &format!("set after a hairpin, {name} halved: changed, %"),
            100.0 * (set[0] / fine - 1.0),
            0.5,
        );
    }
}

#[test]
fn an_elastic_and_a_superelastic_wire_come_out_straight() {
    let tree = hairpin(0.6);
    for law in [
        CoreLawSpec::Elastic,
        CoreLawSpec::Superelastic {
            lower_over_upper: 1.0 / 3.0,
            plateau_strain: 0.05,
        },
    ] {
        let mut insertion = at_entry(&tree, law);
        insertion.feed(60.0).expect("equilibrium");
        report(
            &format!("{law:?} wire through a hairpin: set, degrees"),
            insertion.set().angle_rad.to_degrees(),
            1e-6,
        );
    }
}
