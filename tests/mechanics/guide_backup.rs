//! A guide that gives: how far a wire pushes it out.
//!
//! The guide's end stands on a spring along its axis and holds the wire: it backs out by the axial force in the
//! wire there over its stiffness. That force is the push and `B k²/2`, by which a guide pushes out a wire
//! that has the curvature `k` at its end (Bigoni et al., Mech. Mater. 80:368, 2015, from memory). The push of a
//! straight wire into a frictionless bend is that of the exact solution in `validation_tube`.
#![allow(clippy::print_stdout, reason = "the table of checks")]

use crate::common::{list_wire, report};
use bendwise::contact::WalledLumen;
use bendwise::evidence::scenes::BendTube;
use bendwise::solve::{Assembly, GuideTip, Start, StepSettings};
use nalgebra::Vector3;

/// Length fed beyond the beginning of the bend in mm, and the push there per unit stiffness in 1/mm².
const PUSH: [(f64, f64); 3] = [
    (10.0, 0.002_457_33),
    (12.0, 0.003_259_07),
    (14.0, 0.004_954_65),
];
/// Largest push of the table, per unit stiffness.
const PEAK: f64 = 0.005_528_1;

/// A wire of bending stiffness `wire` (mN mm²) in a guide of `backup` (mN/mm), `d` mm beyond the beginning of
/// the bend: how far the guide has backed out in mm, the push in mN, and the curvature at the guide's end in 1/mm.
fn pushed_in(wire: f64, backup: f64, d: f64) -> (f64, f64, f64) {
    let tube = BendTube {
        lead: 5.0,
        bend: 10.0,
        angle: 90f64.to_radians(),
        radius: 1.5,
    };
    let settings = StepSettings {
        edge_mm: 0.25,
        drag: 0.0,
        tolerance: 1e-6,
        ..StepSettings::default()
    };
    let guide_tip = GuideTip {
        exit: Vector3::zeros(),
        axis: Vector3::x(),
        backup: Some(backup),
    };
    let start = Start {
        outside_mm: 5.0,
        longest_mm: 40.0,
        roll_rad: 0.0,
    };
    let wire = list_wire(wire, 0.36, 0.0);
    let lumen = WalledLumen::new(&tube, 3e4);
    let mut devices =
        Assembly::straight(&wire, lumen, guide_tip, settings, start).expect("straight");
    devices.feed(d).expect("an equilibrium");
    let shape = devices.shape();
    let edge = shape[1] - shape[0];
    let curvature = edge.angle(&Vector3::x()) / (0.5 * edge.norm());
    (devices.backed_out_mm(), devices.push_force(), curvature)
}

#[test]
fn a_guide_backs_out_by_the_axial_force_of_the_exact_solution_over_its_stiffness() {
    for (wire, backup) in [(50.0, 30.0), (500.0, 300.0), (500.0, 100.0)] {
        for (d, push) in PUSH {
            let (out_mm, pushed, curvature) = pushed_in(wire, backup, d);
            let of_bend = 0.5 * curvature * curvature;
            let force = out_mm * backup / wire;
            let off = (force - push - of_bend) / PEAK;
            let what = format!("guide of {backup} mN/mm, wire of {wire} mN mm2, {d} mm");
            report(&format!("{what}: force, % of peak"), 100.0 * off, 3.0);
            // The push is read from the energy, the force from the way of the guide's end.
            let apart = (force - pushed / wire - of_bend) / PEAK;
            report(&format!("{what}: against push, %"), 100.0 * apart, 2.0);
        }
    }
}

#[test]
fn a_stiffer_wire_and_a_softer_guide_back_out_further() {
    let (soft, ..) = pushed_in(50.0, 10.0, 12.0);
    let (stiff, ..) = pushed_in(500.0, 10.0, 12.0);
    let (held, ..) = pushed_in(500.0, 1000.0, 12.0);
    println!("CHECK | backed out, mm | {soft:.4} {stiff:.4} {held:.5} |");
    assert!(stiff > 5.0 * soft && stiff > 50.0 * held);
}
