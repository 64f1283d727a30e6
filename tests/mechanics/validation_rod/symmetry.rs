//! What holds for every rod in every state: inner forces and moments balance, a rigid motion
//! changes no energy, and a mirrored rod answers with mirrored forces.

use bendwise::rod::{Edge, Hinge, Rod};
use bendwise::solve::Banded;
use nalgebra::{Rotation3, Unit, Vector3};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::f64::consts::TAU;

use super::at_most;

const NODES: usize = 12;
const SEEDS: u64 = 50;
/// Rounding: some thousand operations on terms of the size of the largest, each 1e-16 wrong, and
/// near-folded hinges that magnify it.
const ROUNDING: f64 = 1e-12;

/// A bent and twisted rod in two steps of deformation, so that its reference frames are twisted.
fn random_rod(seed: u64) -> Rod {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut draw = |low: f64, high: f64| rng.random_range(low..high);
    let mut nodes = vec![Vector3::zeros()];
    for i in 0..NODES - 1 {
        nodes.push(nodes[i] + Vector3::new(draw(0.2, 0.4), draw(-0.1, 0.1), draw(-0.1, 0.1)));
    }
    let edges = (0..NODES - 1)
        .map(|i| Edge {
            rest_length: (nodes[i + 1] - nodes[i]).norm() * draw(0.99, 1.01),
            axial_stiffness: 5e3,
        })
        .collect();
    let hinges = (0..NODES)
        .map(|i| {
            let b = 10f64.powf(1.0 + 4.0 * i as f64 / NODES as f64);
            let mut hinge = Hinge::uniform(0.3, b, b / draw(1.0, 1.6));
            hinge.natural_curvature = [draw(-0.8, 0.8), draw(-0.8, 0.8)];
            hinge.natural_twist = draw(-0.5, 0.5);
            hinge
        })
        .collect();
    let mut rod = Rod::new(&nodes, edges, hinges, Vector3::new(0.1, 1.0, 0.3));
    for i in 0..NODES {
        let shift = Vector3::new(draw(-0.05, 0.05), draw(-0.15, 0.15), draw(-0.15, 0.15));
        rod.set_node(i, &(nodes[i] + shift));
        if i + 1 < NODES {
            rod.q[4 * i + 3] = draw(-3.0, 3.0);
        }
    }
    rod.refresh();
    rod
}

fn gradient(rod: &Rod) -> Vec<f64> {
    let mut gradient = vec![0.0; rod.q.len()];
    let mut hessian = Banded::default();
    hessian.reset(rod.q.len());
    rod.add_derivatives(&mut gradient, &mut hessian);
    gradient
}

fn force(gradient: &[f64], i: usize) -> Vector3<f64> {
    Vector3::new(gradient[4 * i], gradient[4 * i + 1], gradient[4 * i + 2])
}

/// Largest absolute entry.
fn size(gradient: &[f64]) -> f64 {
    gradient.iter().fold(0.0, |m, g| m.max(g.abs()))
}

/// Sum of `x × f` over the nodes.
fn moment_of_forces(rod: &Rod, gradient: &[f64]) -> Vector3<f64> {
    (0..NODES)
        .map(|i| rod.node(i).cross(&force(gradient, i)))
        .sum()
}

/// Sum of the moments about the edges.
fn moment_of_edges(rod: &Rod, gradient: &[f64]) -> Vector3<f64> {
    (0..NODES - 1)
        .map(|i| rod.tangent(i) * gradient[4 * i + 3])
        .sum()
}

#[test]
fn inner_forces_and_moments_sum_to_zero() {
    let (mut force_left, mut moment_left) = (0.0f64, 0.0f64);
    let mut without_edges = f64::INFINITY;
    for seed in 0..SEEDS {
        let rod = random_rod(seed);
        let gradient = gradient(&rod);
        let scale = size(&gradient);
        let sum: Vector3<f64> = (0..NODES).map(|i| force(&gradient, i)).sum();
        force_left = force_left.max(sum.norm() / scale);
        let by_forces = moment_of_forces(&rod, &gradient);
        let moment = by_forces + moment_of_edges(&rod, &gradient);
        moment_left = moment_left.max(moment.norm() / scale);
        without_edges = without_edges.min(by_forces.norm() / scale);
    }
    at_most("sum of inner forces / largest", force_left, ROUNDING);
    at_most(
        "sum of inner moments / largest force and mm",
        moment_left,
        ROUNDING,
    );
    assert!(
        without_edges > 1e3 * ROUNDING,
        "the balance of moments would hold without the twisting ones: {without_edges:e}"
    );
}

/// Turns the rod and its material frames by `rotation`.
fn turn(rod: &mut Rod, rotation: &Rotation3<f64>) {
    let before: Vec<_> = (0..NODES - 1).map(|i| rod.material_frame(i)[0]).collect();
    for i in 0..NODES {
        let x = rotation * rod.node(i);
        rod.set_node(i, &x);
    }
    rod.refresh();
    for (i, director) in before.iter().enumerate() {
        let [m1, m2] = rod.material_frame(i);
        let wanted = rotation * director;
        rod.q[4 * i + 3] += wanted.dot(&m2).atan2(wanted.dot(&m1));
    }
    rod.refresh();
}

#[test]
fn turning_a_rod_thrice_about_any_axis_changes_no_energy() {
    let mut worst = 0.0f64;
    for seed in 0..SEEDS {
        let mut rod = random_rod(seed);
        let before = rod.stored();
        let axis = Unit::new_normalize(Vector3::new(
            1.0,
            (seed as f64).sin(),
            (2.0 * seed as f64).cos(),
        ));
        let step = Rotation3::from_axis_angle(&axis, 3.0 * TAU / 61.0);
        for _ in 0..61 {
            turn(&mut rod, &step);
            let now = rod.stored();
            for (a, b) in [
                (now.stretch, before.stretch),
                (now.bend, before.bend),
                (now.twist, before.twist),
            ] {
                worst = worst.max((a - b).abs() / before.total());
            }
        }
    }
    at_most(
        "three rigid turns, change of energy / energy",
        worst,
        ROUNDING,
    );
}

#[test]
fn forces_turn_with_the_rod() {
    let mut worst = 0.0f64;
    for seed in 0..SEEDS {
        let rod = random_rod(seed);
        let rotation = Rotation3::new(Vector3::new(0.7, -1.1, 0.4 + seed as f64 * 0.03));
        let mut turned = rod.clone();
        turn(&mut turned, &rotation);
        let (g, t) = (gradient(&rod), gradient(&turned));
        for i in 0..NODES {
            let difference = (rotation * force(&g, i) - force(&t, i)).norm();
            worst = worst.max(difference / size(&g));
        }
        for i in 0..NODES - 1 {
            worst = worst.max((g[4 * i + 3] - t[4 * i + 3]).abs() / size(&g));
        }
    }
    at_most(
        "forces of a turned rod, difference / largest",
        worst,
        ROUNDING,
    );
}

/// The rod seen in a mirror across z. Rotations and twists change their sign; of the two
/// curvatures the second does, since the second director of the mirrored frame is turned round.
fn mirrored(rod: &Rod) -> Rod {
    let flip = |v: Vector3<f64>| Vector3::new(v.x, v.y, -v.z);
    let nodes: Vec<_> = (0..NODES).map(|i| flip(rod.node(i))).collect();
    let hinges = rod
        .hinges
        .iter()
        .map(|hinge| {
            let [k1, k2] = hinge.natural_curvature;
            Hinge {
                natural_curvature: [k1, -k2],
                natural_twist: -hinge.natural_twist,
                ..*hinge
            }
        })
        .collect();
    let first = flip(rod.kinematics().director[0]);
    let mut out = Rod::new(&nodes, rod.edges.clone(), hinges, first);
    // A new rod's reference frames are not twisted: what was twist of the reference is rotation.
    let mut carried = 0.0;
    for i in 0..NODES - 1 {
        carried += rod.kinematics().reference_twist[i];
        out.q[4 * i + 3] = -(rod.theta(i) + carried);
    }
    out.refresh();
    out
}

#[test]
fn mirrored_rod_answers_with_mirrored_forces() {
    let (mut energy, mut forces) = (0.0f64, 0.0f64);
    for seed in 0..SEEDS {
        let rod = random_rod(seed);
        let image = mirrored(&rod);
        energy = energy.max((image.stored().total() / rod.stored().total() - 1.0).abs());
        let (g, m) = (gradient(&rod), gradient(&image));
        for (k, (a, b)) in g.iter().zip(&m).enumerate() {
            // Along z and about the edges.
            let sign = if k % 4 >= 2 { -1.0 } else { 1.0 };
            forces = forces.max((a - sign * b).abs() / size(&g));
        }
    }
    at_most("mirrored rod, change of energy / energy", energy, ROUNDING);
    at_most(
        "mirrored rod, difference of forces / largest",
        forces,
        ROUNDING,
    );
}
