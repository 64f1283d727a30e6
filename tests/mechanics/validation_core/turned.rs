//! A core that is bent and then bent another way: no direction is preferred, and how far the
//! elements differ from fibres that yield one by one.

use bendwise::rod::CoreCell;

use super::fibres::{Fibre, Section};
use super::{plastic, superelastic};
use crate::common::report;

/// A path in the plane of curvatures: out, round, back across.
fn path() -> Vec<[f64; 2]> {
    let out = (1..=30).map(|i| [0.1 * f64::from(i), 0.0]);
    let round = (1..=60).map(|i| {
        let angle = 0.05 * f64::from(i);
        [3.0 * angle.cos(), 3.0 * angle.sin()]
    });
    let across = (1..=40).map(|i| {
        let share = 1.0 - f64::from(i) / 40.0;
        [-3.0 * share + 0.4 * (1.0 - share), 0.4 * share]
    });
    out.chain(round).chain(across).collect()
}

#[test]
fn turning_the_path_turns_the_answer() {
    for (name, core) in [
        ("plastic", plastic::core as fn(f64) -> CoreCell),
        ("superelastic", superelastic::core),
    ] {
        let turn = |d: [f64; 2], angle: f64| {
            let (sin, cos) = angle.sin_cos();
            [d[0] * cos - d[1] * sin, d[0] * sin + d[1] * cos]
        };
        let mut worst: f64 = 0.0;
        for angle in [0.3, 1.1, 2.6, -1.7] {
            let (mut plain, mut turned) = (core(1.0), core(1.0));
            for d in path() {
                plain.settle(d);
                turned.settle(turn(d, angle));
                let expected = turn(plain.moment(d), angle);
                let found = turned.moment(turn(d, angle));
                worst = worst
                    .max((found[0] - expected[0]).abs())
                    .max((found[1] - expected[1]).abs());
            }
        }
        // Newton's method in the plane stops at 1e-13; fifty elements, 130 steps.
        report(
            &format!("{name} core, path turned: moment off"),
            worst,
            1e-8,
        );
    }
}

#[test]
fn a_bent_core_that_is_turned_resists_about_as_fibres_do() {
    // Fibres yield one by one, elements as a whole: where flow is large the two are different
    // models, and this says by how much. Moments along the curvature and across it, in the steady
    // state of a core that is bent and turned about its axis. The limits are what was found.
    for (k, limit) in [(1.1, 1.0), (1.5, 13.0), (2.0, 26.0), (3.0, 40.0)] {
        let mut core = plastic::core(1.0);
        let mut twin = Section::new(Fibre::Plastic, 60, 240);
        let (mut found, mut fibres) = ([0.0; 2], [0.0; 2]);
        for step in 0..=720 {
            let angle = f64::from(step).to_radians();
            let d = [k * angle.cos(), k * angle.sin()];
            core.settle(d);
            let frame = |m: [f64; 2]| {
                [
                    m[0] * angle.cos() + m[1] * angle.sin(),
                    m[1] * angle.cos() - m[0] * angle.sin(),
                ]
            };
            found = frame(core.moment(d));
            fibres = frame(twin.bend(d));
        }
        println!(
            "  turned at kappa/kappa_y {k}: along {:.4} (fibres {:.4}), across {:.4} (fibres {:.4})",
            found[0], fibres[0], found[1], fibres[1]
        );
        let off = (found[0] - fibres[0]).hypot(found[1] - fibres[1]);
        report(
            &format!("plastic core turned at kappa/kappa_y {k}: moment against fibres, % of M_y"),
            100.0 * off,
            limit,
        );
        assert!(found[1] > 0.0, "turning takes work");
    }
}

#[test]
fn a_superelastic_core_that_is_turned_within_its_plateau_loses_energy_and_comes_back_straight() {
    let mut core = superelastic::core(1.0);
    let (mut lost, mut turn) = (0.0, [0.0; 2]);
    for round in &mut turn {
        for step in 0..360 {
            let angle = f64::from(step).to_radians();
            lost += core.settle([3.0 * angle.cos(), 3.0 * angle.sin()]);
        }
        *round = lost;
    }
    assert!(turn[1] > 1.5 * turn[0] - 0.5 * turn[0], "every turn loses");
    for step in (0..100).rev() {
        core.settle([0.03 * f64::from(step), 0.0]);
    }
    let [k1, k2] = core.residual();
    report(
        "superelastic core turned and let go: residual",
        k1.hypot(k2),
        1e-9,
    );
}
