//! Cantilever under a dead transverse load at its tip.
//!
//! Deflection and shortening: Mattiasson 1981, Int. J. Numer. Meth. Eng. 17:145, table 1, here
//! with more digits, computed independently by elliptic integrals in 40 digits and again by a
//! boundary-value solver, the two in agreement to 5e-15. Mattiasson's own digits for loads 1, 2,
//! 5 and 10, as quoted in a public test suite, agree to the last one printed.

use bendwise::solve::{Body, Load, Newton};

use super::support::{
    Stiffness, at_least, at_most, clamped, order, settle, settle_stiff, straight,
};

/// `P L²/B`, deflection/L, shortening/L, tip angle in rad, energy L/B.
const ELASTICA: [[f64; 5]; 5] = [
    [
        1.0,
        0.301720773799,
        0.056433236283,
        0.461351949711,
        0.1434383449,
    ],
    [
        2.0,
        0.493457480396,
        0.160641720825,
        0.781749831556,
        0.4221296808,
    ],
    [
        3.0,
        0.603253441129,
        0.254420184564,
        0.986016946711,
        0.6917413519,
    ],
    [
        5.0,
        0.713791523611,
        0.387628360724,
        1.215368117611,
        1.1185301893,
    ],
    [
        10.0,
        0.810609024880,
        0.554995597753,
        1.430285538803,
        1.7953556521,
    ],
];

const LENGTH: f64 = 10.0;
const BEND: f64 = 50.0;
const TOLERANCE: f64 = 1e-6;

fn loaded(edges: usize, stiffness: Stiffness) -> Body<'static> {
    let mut body = clamped(straight(edges, LENGTH, stiffness));
    let unknown = 4 * edges + 1;
    body.loads = vec![Load {
        unknown,
        force: 0.0,
    }];
    body
}

fn set_load(body: &mut Body<'_>, load: f64) {
    body.loads[0].force = load * BEND / (LENGTH * LENGTH);
}

/// Deflection/L, shortening/L, tip angle, energy L/B at the loads of the table.
fn solve(edges: usize) -> Vec<[f64; 4]> {
    let mut body = loaded(edges, Stiffness::inextensible(BEND, 1.3, LENGTH));
    let mut newton = Newton::default();
    ELASTICA
        .iter()
        .map(|row| {
            set_load(&mut body, row[0]);
            settle_stiff(&mut newton, &mut body, TOLERANCE);
            let tip = body.rod.node(edges);
            let tangent = body.rod.tangent(edges - 1);
            [
                tip.y / LENGTH,
                1.0 - tip.x / LENGTH,
                tangent.y.atan2(tangent.x),
                body.rod.stored().bend * LENGTH / BEND,
            ]
        })
        .collect()
}

#[test]
fn tip_of_a_cantilever_lies_where_elliptic_integrals_put_it() {
    for (row, got) in ELASTICA.iter().zip(solve(60)) {
        for (k, name) in ["deflection", "shortening", "tip angle", "energy"]
            .iter()
            .enumerate()
        {
            at_most(
                &format!("cantilever P L^2/B = {}, {name}, relative error", row[0]),
                (got[k] / row[k + 1] - 1.0).abs(),
                2e-3,
            );
        }
    }
}

#[test]
fn error_of_a_cantilever_falls_fourfold_when_edges_double() {
    let solutions: Vec<_> = [15, 30, 60, 120].map(solve).into();
    for (k, row) in ELASTICA.iter().enumerate() {
        let errors: Vec<f64> = solutions
            .iter()
            .map(|s| (s[k][0] - row[1]).hypot(s[k][1] - row[2]))
            .collect();
        at_least(
            &format!("cantilever P L^2/B = {}, order of convergence", row[0]),
            order(&errors),
            1.8,
        );
    }
}

/// A rod that strains by 1e-3 under the largest load, the most that is allowed in use.
fn ordinary() -> Stiffness {
    Stiffness {
        bend: BEND,
        twist: BEND / 1.3,
        stretch: 1e4 * BEND / (LENGTH * LENGTH),
    }
}

#[test]
fn newton_needs_few_iterations_for_a_cantilever() {
    let mut body = loaded(60, ordinary());
    let mut newton = Newton::default();
    let mut most = 0;
    for step in 1..=20 {
        set_load(&mut body, 0.5 * f64::from(step));
        most = most.max(settle(&mut newton, &mut body, TOLERANCE));
    }
    at_most(
        "Newton iterations, cantilever in 20 steps, most in a step",
        f64::from(most),
        14.0,
    );

    let mut body = loaded(60, ordinary());
    set_load(&mut body, 10.0);
    at_most(
        "Newton iterations, cantilever in one step",
        f64::from(settle(&mut newton, &mut body, TOLERANCE)),
        28.0,
    );
}
