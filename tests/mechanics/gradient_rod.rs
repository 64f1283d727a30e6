//! Gradient and Hessian of the rod energy against central differences of the energy.

use bendwise::rod::{Edge, Hinge, Kinematics, Rod};
use bendwise::solve::Banded;
use nalgebra::Vector3;
use proptest::prelude::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const NODES: usize = 6;

/// A rod in a random bent and twisted state, with stiffness that varies by four orders of
/// magnitude along it, edges of unequal length, natural curvature and natural twist.
fn random_rod(seed: u64, scale: f64) -> Rod {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut draw = |low: f64, high: f64| rng.random_range(low..high);
    let mut nodes = vec![Vector3::zeros()];
    let mut rest = Vec::new();
    for i in 0..NODES - 1 {
        let step = Vector3::new(draw(0.6, 1.4), draw(-0.5, 0.5), draw(-0.5, 0.5)) * scale;
        rest.push(step.norm() * draw(0.98, 1.02));
        nodes.push(nodes[i] + step);
    }
    let edges = rest
        .iter()
        .map(|&rest_length| Edge {
            rest_length,
            axial_stiffness: 5e3,
        })
        .collect();
    let hinges = (0..NODES)
        .map(|i| {
            let b = 10f64.powf(1.0 + 4.0 * i as f64 / NODES as f64);
            let mut hinge = Hinge::uniform(scale, b, b / draw(1.0, 1.6));
            hinge.natural_curvature = [draw(-0.8, 0.8), draw(-0.8, 0.8)];
            hinge.natural_twist = draw(-0.5, 0.5);
            hinge
        })
        .collect();
    let mut rod = Rod::new(&nodes, edges, hinges, Vector3::new(0.1, 1.0, 0.3));
    for i in 0..NODES - 1 {
        rod.q[4 * i + 3] = draw(-3.0, 3.0);
    }
    rod.refresh();
    rod
}

fn energy_at(rod: &Rod, q: &[f64]) -> f64 {
    let mut kinematics = Kinematics::default();
    rod.kinematics_of(q, &mut kinematics);
    rod.energies(q, &kinematics).total()
}

/// Steps of the differences, in rad and in units of the edge length.
const FIRST_STEP: f64 = 1e-4;
const SECOND_STEP: f64 = 2e-3;

fn check(seed: u64, scale: f64) -> (f64, f64) {
    let rod = random_rod(seed, scale);
    let n = rod.q.len();
    let mut gradient = vec![0.0; n];
    let mut hessian = Banded::default();
    hessian.reset(n);
    rod.add_derivatives(&mut gradient, &mut hessian);

    let unit: Vec<f64> = (0..n)
        .map(|i| if i % 4 == 3 { 1.0 } else { scale })
        .collect();
    let at = |moves: &[(usize, f64)]| {
        let mut q = rod.q.clone();
        for &(i, d) in moves {
            q[i] += d * unit[i];
        }
        energy_at(&rod, &q)
    };
    let largest = (0..n)
        .map(|i| (gradient[i] * unit[i]).abs())
        .fold(0.0, f64::max);
    let mut gradient_error: f64 = 0.0;
    for i in 0..n {
        // Fourth-order central difference.
        let h = FIRST_STEP;
        let fd = (8.0 * (at(&[(i, h)]) - at(&[(i, -h)]))
            - (at(&[(i, 2.0 * h)]) - at(&[(i, -2.0 * h)])))
            / (12.0 * h);
        gradient_error = gradient_error.max((fd - gradient[i] * unit[i]).abs() / largest);
    }

    let largest = (0..n)
        .map(|i| (hessian.get(i, i) * unit[i] * unit[i]).abs())
        .fold(0.0, f64::max);
    let mut hessian_error: f64 = 0.0;
    for i in 0..n {
        for j in 0..=i {
            let cross = |h: f64| {
                (at(&[(i, h), (j, h)]) - at(&[(i, h), (j, -h)]) - at(&[(i, -h), (j, h)])
                    + at(&[(i, -h), (j, -h)]))
                    / (4.0 * h * h)
            };
            // Richardson: two step sizes cancel the error of second order.
            let fd = (4.0 * cross(SECOND_STEP / 2.0) - cross(SECOND_STEP)) / 3.0;
            hessian_error =
                hessian_error.max((fd - hessian.get(i, j) * unit[i] * unit[j]).abs() / largest);
        }
    }
    (gradient_error, hessian_error)
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 40,
        rng_seed: prop::test_runner::RngSeed::Fixed(3),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]
    #[test]
    fn gradient_and_hessian_agree_with_central_differences(seed in 0u64..1_000_000, decade in -1i32..2) {
        let (gradient, hessian) = check(seed, 10f64.powi(decade) * 0.3);
        prop_assert!(gradient < 1e-6, "relative error of the gradient {gradient:e}");
        prop_assert!(hessian < 1e-5, "relative error of the Hessian {hessian:e}");
    }
}

#[test]
fn derivative_errors_are_printed() {
    let worst = (0..20)
        .map(|seed| check(seed, 0.3))
        .fold((0.0f64, 0.0f64), |a, b| (a.0.max(b.0), a.1.max(b.1)));
    println!(
        "worst relative error: gradient {:.2e}, Hessian {:.2e}",
        worst.0, worst.1
    );
    assert!(worst.0 < 1e-6 && worst.1 < 1e-5);
}
