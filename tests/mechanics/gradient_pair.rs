//! Gradient and Hessian of two devices on one centreline against central differences of the energy.

use bendwise::rod::{Edge, Hinge, Kinematics, Rod};
use bendwise::solve::Banded;
use nalgebra::Vector3;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const NODES: usize = 7;

/// A bent and twisted pair whose catheter covers the nodes from 3 on.
fn random_pair(seed: u64) -> Rod<5> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut draw = |low: f64, high: f64| rng.random_range(low..high);
    let mut nodes = vec![Vector3::zeros()];
    let mut edges = Vec::new();
    for i in 0..NODES - 1 {
        let step = Vector3::new(draw(0.6, 1.4), draw(-0.5, 0.5), draw(-0.5, 0.5)) * 0.3;
        edges.push(Edge {
            rest_length: step.norm() * draw(0.98, 1.02),
            axial_stiffness: 5e3,
        });
        nodes.push(nodes[i] + step);
    }
    let mut hinge = |decades: f64| {
        let b = 10f64.powf(1.0 + decades);
        let mut hinge = Hinge::uniform(0.3, b, b / draw(1.0, 1.6));
        hinge.natural_curvature = [draw(-0.8, 0.8), draw(-0.8, 0.8)];
        hinge.natural_twist = draw(-0.5, 0.5);
        hinge
    };
    let wire: Vec<Hinge> = (0..NODES).map(|i| hinge(0.4 * i as f64)).collect();
    let cover = (0..NODES)
        .map(|i| {
            if i < 3 {
                Hinge::absent(0.3)
            } else {
                hinge(2.5)
            }
        })
        .collect();
    let mut rod = Rod::covered(&nodes, edges, wire, cover, Vector3::new(0.1, 1.0, 0.3));
    for i in 0..NODES - 1 {
        rod.q[5 * i + 3] = draw(-3.0, 3.0);
        rod.q[5 * i + 4] = draw(-3.0, 3.0);
    }
    rod.refresh();
    rod
}

/// Largest errors of gradient and Hessian over their largest entries.
fn errors(seed: u64) -> (f64, f64) {
    let rod = random_pair(seed);
    let n = rod.q.len();
    let mut gradient = vec![0.0; n];
    let mut hessian = Banded::<13>::empty();
    hessian.reset(n);
    rod.add_derivatives(&mut gradient, &mut hessian);
    let unit = |i: usize| if i % 5 >= 3 { 1.0 } else { 0.3 };
    let at = |moves: &[(usize, f64)]| {
        let mut q = rod.q.clone();
        for &(i, d) in moves {
            q[i] += d * unit(i);
        }
        let mut kinematics = Kinematics::default();
        rod.kinematics_of(&q, &mut kinematics);
        rod.energies(&q, &kinematics).total()
    };
    let largest = |values: Vec<f64>| values.into_iter().fold(0.0, |m: f64, v| m.max(v.abs()));
    let slopes = largest((0..n).map(|i| gradient[i] * unit(i)).collect());
    let h = 1e-4;
    let of_gradient = (0..n)
        .map(|i| {
            let near = at(&[(i, h)]) - at(&[(i, -h)]);
            let far = at(&[(i, 2.0 * h)]) - at(&[(i, -2.0 * h)]);
            ((8.0 * near - far) / (12.0 * h) - gradient[i] * unit(i)) / slopes
        })
        .collect();
    let bends = largest(
        (0..n)
            .map(|i| hessian.get(i, i) * unit(i).powi(2))
            .collect(),
    );
    let mut of_hessian = Vec::new();
    for i in 0..n {
        for j in 0..=i {
            let cross = |h: f64| {
                (at(&[(i, h), (j, h)]) - at(&[(i, h), (j, -h)]) - at(&[(i, -h), (j, h)])
                    + at(&[(i, -h), (j, -h)]))
                    / (4.0 * h * h)
            };
            let fd = (4.0 * cross(1e-3) - cross(2e-3)) / 3.0;
            of_hessian.push((fd - hessian.get(i, j) * unit(i) * unit(j)) / bends);
        }
    }
    (largest(of_gradient), largest(of_hessian))
}

#[test]
fn gradient_and_hessian_of_a_pair_agree_with_central_differences() {
    let (gradient, hessian) = (0..20)
        .map(errors)
        .fold((0.0f64, 0.0f64), |a, b| (a.0.max(b.0), a.1.max(b.1)));
    println!("worst relative error: gradient {gradient:.2e}, Hessian {hessian:.2e}");
    assert!(gradient < 1e-6 && hessian < 1e-5);
}
