//! A rod with natural curvature `kappa` and natural torsion `tau`, held at one edge only, takes
//! the shape of a helix of radius `kappa/(kappa² + tau²)` and pitch `2 pi tau/(kappa² + tau²)`
//! (closed form; Frenet).

use std::f64::consts::TAU;

use nalgebra::Vector3;

use crate::evidence::scenes::{clamped, order, settle_stiff, uniform};
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::rod::{Hinge, Rod};
use crate::solve::{Body, Newton};

/// Natural curvature and torsion in 1/mm.
const NATURAL: [[f64; 2]; 4] = [[1.0, 0.1], [1.0, 0.5], [1.0, 1.0], [0.2, 1.0]];
const TURNS: usize = 2;
const BEND: f64 = 50.0;

fn relax(kappa: f64, tau: f64, edges_per_turn: usize) -> Result<Body<'static>, Broken> {
    let turn = TAU / kappa.hypot(tau);
    let h = turn / edges_per_turn as f64;
    let edges = TURNS * edges_per_turn;
    let nodes: Vec<_> = (0..=edges).map(|i| Vector3::x() * (i as f64 * h)).collect();
    let stretch = 1e6 * BEND / (turn * turn);
    let straight = Hinge::uniform(h, BEND, BEND / 1.3);
    let mut body = clamped(uniform(&nodes, h, stretch, straight, Vector3::z()));
    let mut newton = Newton::default();
    // From straight to the whole natural shape step by step, so that it winds up without tangling.
    let steps = 40;
    for step in 1..=steps {
        let part = f64::from(step) / f64::from(steps);
        let mut hinge = straight.curved([0.0, kappa * part]);
        hinge.natural_twist = tau * h * part;
        body.rod.hinges.fill(hinge);
        settle_stiff(&mut newton, &mut body, 1e-6)?;
    }
    Ok(body)
}

/// Radius and pitch of the screw through the nodes around node `i`.
fn screw(rod: &Rod, i: usize) -> [f64; 2] {
    let inward = |i: usize| rod.node(i + 1) - 2.0 * rod.node(i) + rod.node(i - 1);
    let (a, b) = (inward(i), inward(i + 1));
    let axis = a.cross(&b).normalize();
    let angle = a.angle(&b);
    let radius = a.norm() / (2.0 - 2.0 * angle.cos());
    let pitch = (rod.node(i + 1) - rod.node(i)).dot(&axis) * TAU / angle;
    [radius, pitch]
}

/// Largest relative error of radius and of pitch along the rod.
fn errors(kappa: f64, tau: f64, edges_per_turn: usize) -> Result<[f64; 2], Broken> {
    let body = relax(kappa, tau, edges_per_turn)?;
    let square = kappa * kappa + tau * tau;
    let exact = [kappa / square, TAU * tau / square];
    let mut worst = [0.0f64; 2];
    for i in 1..body.rod.nodes() - 2 {
        let found = screw(&body.rod, i);
        for k in 0..2 {
            worst[k] = worst[k].max((found[k] / exact[k] - 1.0).abs());
        }
    }
    Ok(worst)
}

pub const CHECK: Check = Check {
    name: "helix",
    question: "Does a rod that is bent and twisted by nature take the shape of its helix?",
    origin: Origin::ClosedForm,
    source: "Frenet: radius k/(k² + t²), pitch 2 pi t/(k² + t²)",
    scene: "A rod of natural curvature and torsion, held at one edge only; 80 edges a turn",
    carries: &[Rests::Torque, Rests::Tip, Rests::Outcome],
    set: Set::Short,
    covers: || {
        let radii = NATURAL.map(|[curvature, _]| 1.0 / curvature);
        vec![Covered::over(Input::TipBendRadius, &radii)]
    },
    measure,
};

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    for [kappa, tau] in NATURAL {
        let mut found = Vec::new();
        for edges_per_turn in [20, 40, 80] {
            found.push(errors(kappa, tau, edges_per_turn)?);
        }
        for (k, name) in ["radius", "pitch"].iter().enumerate() {
            let case = format!("curvature {kappa}, torsion {tau} 1/mm, {name}");
            let falling: Vec<f64> = found.iter().map(|e| e[k]).collect();
            readings.share(case.clone(), falling[2], 5e-3);
            readings.order(case, order(&falling), 1.8);
        }
    }
    Ok(())
}
