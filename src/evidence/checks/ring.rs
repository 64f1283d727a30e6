//! A naturally straight rod bent to a ring, its ends joined after turning one by `Theta`, leaves
//! its plane at `Theta = 2 pi sqrt(3) B/C`: Michell 1889, Messenger of Mathematics 18:68; Zajac
//! 1962, J. Appl. Mech. 29:136. The formula is from memory; it was checked independently: the
//! Kirchhoff equations linearised about the ring have periodic solutions at a twist moment of
//! `sqrt(3) B/R` and none between 1.5 and 1.8 `B/R` elsewhere.
//!
//! It belongs to the closed ring that floats in space. Here the two joined end frames are held in
//! space instead. That takes away only the six rigid motions, which cost no energy, and so leaves
//! the critical twist as it is. One motion without cost remains: the ring turns about the tangent
//! at the joint while every cross-section spins back. It is held at the node opposite the joint,
//! which again costs nothing.

use std::f64::consts::{PI, TAU};

use nalgebra::Vector3;

use crate::evidence::scenes::{Stiffness, bisect, is_stable, order, settle_stiff, uniform};
use crate::evidence::{Broken, Check, Origin, Readings, Rests, Set};
use crate::rod::Hinge;
use crate::solve::{Body, Load, Newton};

const LENGTH: f64 = 10.0;
const BEND: f64 = 50.0;

/// A ring of `edges` edges in the plane z = 0, uniformly twisted by `twist` rad in all. One more
/// edge lies over the first, so that every corner of the polygon has its hinge.
fn ring(edges: usize, bend_over_twist: f64, twist: f64) -> Body<'static> {
    let h = LENGTH / edges as f64;
    let radius = 0.5 * h / (PI / edges as f64).sin();
    let nodes: Vec<_> = (0..edges + 2)
        .map(|i| {
            let angle = TAU * (i as f64 - 0.5) / edges as f64;
            Vector3::new(angle.cos(), angle.sin(), 0.0) * radius
        })
        .collect();
    let stiffness = Stiffness::inextensible(BEND, bend_over_twist, LENGTH);
    let hinge = Hinge::uniform(h, stiffness.bend, stiffness.twist);
    let mut rod = uniform(&nodes, h, stiffness.stretch, hinge, Vector3::z());
    for i in 0..=edges {
        rod.q[4 * i + 3] = twist * i as f64 / edges as f64;
    }
    rod.refresh();
    let mut body = Body::new(rod);
    for node in [0, 1, edges, edges + 1] {
        body.fix_node(node);
    }
    body.fix_rotation(0);
    body.fix_rotation(edges);
    body.fixed.push(4 * (edges / 2) + 2);
    body.fixed.sort_unstable();
    body
}

fn critical(bend_over_twist: f64) -> f64 {
    TAU * 3f64.sqrt() * bend_over_twist
}

/// Force across the plane that disturbs the ring, times R²/B.
const DISTURBANCE: f64 = 1e-5;

/// Equilibrium from the flat ring on with a small force across: its energy over that of the flat
/// ring, and its largest distance from the plane over the radius.
fn disturb(bend_over_twist: f64, twist: f64) -> Result<[f64; 2], Broken> {
    let edges = 120;
    let mut body = ring(edges, bend_over_twist, twist);
    let flat = body.rod.stored().total();
    let radius = LENGTH / TAU;
    body.loads = vec![Load {
        unknown: 4 * (edges / 4) + 2,
        force: DISTURBANCE * BEND / (radius * radius),
    }];
    settle_stiff(&mut Newton::default(), &mut body, 1e-7)?;
    let rise = (0..body.rod.nodes())
        .map(|i| body.rod.node(i).z.abs() / radius)
        .fold(0.0, f64::max);
    Ok([body.rod.stored().total() / flat, rise])
}

pub const CHECK: Check = Check {
    name: "ring",
    question: "At which twist does a ring leave its plane (how twist turns into bending)?",
    origin: Origin::Published,
    source: "Michell 1889, Messenger of Mathematics 18:68; Zajac 1962, J. Appl. Mech. 29:136 (formula from \
             memory; linearised equations checked independently)",
    scene: "A rod bent to a ring, its ends joined after one was turned by up to 2 pi sqrt(3) B/C; 120 edges",
    carries: &[Rests::Torque, Rests::Outcome],
    set: Set::Short,
    covers: || Vec::new(),
    measure,
};

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    for ratio in [1.0, 1.3] {
        let expected = critical(ratio);
        let mut errors = Vec::new();
        for edges in [30, 60, 120] {
            let found = bisect(0.5 * expected, 1.5 * expected, |twist| {
                is_stable(&mut ring(edges, ratio, twist))
            })?;
            errors.push(found / expected - 1.0);
        }
        readings.share(format!("B/C = {ratio}, critical twist"), errors[2], 2e-2);
        readings.order(
            format!("B/C = {ratio}, critical twist"),
            order(&errors),
            1.8,
        );
    }
    for ratio in [1.0, 1.3] {
        let [energy, rise] = disturb(ratio, 0.98 * critical(ratio))?;
        let case = format!("B/C = {ratio}, 2 % below the critical twist");
        readings.share(format!("{case}, rise over the radius"), rise, 1e-3);
        readings.share(format!("{case}, energy lost"), 1.0 - energy, 1e-6);
        // Without contact of its own strands, a ring that leaves its plane folds to an eight and on
        // through itself to a flat ring that is turned by 4 pi less, of far less energy.
        let [energy, _] = disturb(ratio, 1.02 * critical(ratio))?;
        readings.bound(
            format!("B/C = {ratio}, 2 % above it, energy kept"),
            100.0 * energy,
            "%",
            90.0,
        );
    }
    Ok(())
}
