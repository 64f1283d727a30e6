//! Gradient and Hessian with a core that flows, against central differences.

use bendwise::rod::{CoreCell, CoreLaw, Edge, Flag, Hinge, Kinematics, Piece, Rod};
use bendwise::solve::Banded;
use nalgebra::Vector3;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::common::report;

const LAWS: [(&str, CoreLaw); 2] = [
    ("plastic", CoreLaw::Plastic),
    (
        "superelastic",
        CoreLaw::Superelastic(Flag {
            lower_over_upper: 1.0 / 3.0,
            length: 5.5,
        }),
    ),
];

/// A core with a history: bent along random ways.
fn bent(law: CoreLaw, limit: f64, rng: &mut ChaCha8Rng) -> CoreCell {
    let mut core = CoreCell::new(law, limit, [0.0; 2], Vec::new());
    for _ in 0..rng.random_range(0..4) {
        let mut draw = || limit * rng.random_range(-4.0..4.0);
        core.settle([draw(), draw()]);
    }
    core
}

#[test]
fn the_answer_of_a_core_is_the_derivative_of_its_potential_over_decades_of_size() {
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    for (name, law) in LAWS {
        let (mut first, mut second): (f64, f64) = (0.0, 0.0);
        let mut kinks = 0;
        for _ in 0..2000 {
            let limit = 10f64.powf(rng.random_range(-4.0..1.0));
            let core = bent(law, limit, &mut rng);
            let mut draw = || limit * rng.random_range(-6.0..6.0);
            let d = [draw(), draw()];
            let here = core.respond(d);
            let h = 1e-5 * limit;
            let at = |c: usize, k: f64| {
                let mut moved = d;
                moved[c] += k * h;
                core.respond(moved)
            };
            for c in 0..2 {
                let fd = (8.0 * (at(c, 1.0).potential - at(c, -1.0).potential)
                    - (at(c, 2.0).potential - at(c, -2.0).potential))
                    / (12.0 * h);
                first = first.max((fd - here.gradient[c]).abs() / limit);
                let (ahead, behind) = (at(c, 1.0), at(c, -1.0));
                // The second derivative jumps where an element begins to flow.
                if ahead
                    .hessian
                    .iter()
                    .zip(behind.hessian)
                    .any(|(a, b)| (a - b).abs() > 1e-3)
                {
                    kinks += 1;
                    continue;
                }
                for r in 0..2 {
                    let fd = (ahead.gradient[r] - behind.gradient[r]) / (2.0 * h);
                    let index = r + c;
                    second = second.max((fd - here.hessian[index]).abs());
                }
            }
        }
        // Differences of potentials of a few limit² are rounded to 1e-16 of it, over a step of 1e-5.
        report(
            &format!("{name} core: gradient off, of the limit"),
            first,
            1e-8,
        );
        // Where an element begins to flow within the step, the second derivative jumps by less than
        // was sorted out above.
        report(&format!("{name} core: Hessian off"), second, 2e-3);
        assert!(kinks < 400, "{kinks} of 4000 left out");
    }
}

const NODES: usize = 6;

/// A bent and twisted rod with random cores, all far beyond their limit.
fn random_rod(law: CoreLaw, seed: u64, scale: f64) -> Rod {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut nodes = vec![Vector3::zeros()];
    for i in 0..NODES - 1 {
        let mut draw = |low: f64, high: f64| rng.random_range(low..high);
        let step = Vector3::new(draw(0.6, 1.4), draw(-0.5, 0.5), draw(-0.5, 0.5)) * scale;
        nodes.push(nodes[i] + step);
    }
    let edges = nodes.windows(2).map(|n| Edge {
        rest_length: (n[1] - n[0]).norm(),
        axial_stiffness: 5e3,
    });
    let edges: Vec<_> = edges.collect();
    let hinges: Vec<_> = (0..NODES)
        .map(|i| {
            let b = 10f64.powf(1.0 + 3.0 * i as f64 / NODES as f64);
            let mut hinge = Hinge::uniform(scale, b, b / 1.3);
            hinge.natural_curvature = [0, 1].map(|_| {
                if i % 2 == 0 {
                    rng.random_range(-0.5..0.5)
                } else {
                    0.0
                }
            });
            hinge
        })
        .collect();
    let core = hinges
        .iter()
        .map(|hinge| {
            let pieces = [0.3, 0.7].map(|share| Piece {
                share,
                flow: bent(law, 0.2, &mut rng).pieces()[0].flow.clone(),
            });
            CoreCell::of_pieces(law, 0.2, hinge.natural_curvature, pieces.to_vec())
        })
        .collect();
    let mut rod = Rod::new(&nodes, edges, hinges, Vector3::new(0.1, 1.0, 0.3));
    rod.core = core;
    for i in 0..NODES - 1 {
        rod.q[4 * i + 3] = rng.random_range(-3.0..3.0);
    }
    rod.refresh();
    rod
}

#[test]
fn gradient_and_hessian_of_a_rod_that_yields_agree_with_central_differences() {
    for (name, law) in LAWS {
        let (mut first, mut worst): (f64, f64) = (0.0, 0.0);
        let (mut entries, mut off) = (0.0, 0.0);
        for (seed, decade) in (0..12_u64).zip([-1, 0, 1].into_iter().cycle()) {
            let scale = 0.3 * 10f64.powi(decade);
            let rod = random_rod(law, seed, scale);
            let n = rod.q.len();
            let mut gradient = vec![0.0; n];
            let mut hessian = Banded::default();
            hessian.reset(n);
            rod.add_derivatives(&mut gradient, &mut hessian);
            let unit = |i: usize| if i % 4 == 3 { 1.0 } else { scale };
            let energy = |moves: &[(usize, f64)]| {
                let mut q = rod.q.clone();
                for &(i, by) in moves {
                    q[i] += by * unit(i);
                }
                let mut kinematics = Kinematics::default();
                rod.kinematics_of(&q, &mut kinematics);
                rod.energies(&q, &kinematics).total()
            };
            let largest = (0..n).fold(0.0, |m: f64, i| m.max((gradient[i] * unit(i)).abs()));
            let stiffest = (0..n).fold(0.0, |m: f64, i| m.max(hessian.get(i, i) * unit(i).powi(2)));
            for i in 0..n {
                let h = 1e-4;
                let fd = (8.0 * (energy(&[(i, h)]) - energy(&[(i, -h)]))
                    - (energy(&[(i, 2.0 * h)]) - energy(&[(i, -2.0 * h)])))
                    / (12.0 * h);
                first = first.max((fd - gradient[i] * unit(i)).abs() / largest);
                for j in i.saturating_sub(10)..=i {
                    let h = 2e-4;
                    let fd = (energy(&[(i, h), (j, h)])
                        - energy(&[(i, h), (j, -h)])
                        - energy(&[(i, -h), (j, h)])
                        + energy(&[(i, -h), (j, -h)]))
                        / (4.0 * h * h);
                    let exact = hessian.get(i, j) * unit(i) * unit(j);
                    let wrong = (fd - exact).abs() / stiffest;
                    worst = worst.max(wrong);
                    entries += 1.0;
                    off += f64::from(u8::from(wrong > 1e-5));
                }
            }
        }
        report(
            &format!("rod with a {name} core: gradient off"),
            first,
            1e-6,
        );
        // Where one of the fifty elements of a hinge begins or ends to flow within the step of the
        // differences, the second derivative jumps there by that element's stiffness.
        report(
            &format!("rod with a {name} core: Hessian off by more than 1e-5, % of the entries"),
            100.0 * off / entries,
            10.0,
        );
        report(
            &format!("rod with a {name} core: Hessian off, worst"),
            worst,
            0.05,
        );
    }
}
