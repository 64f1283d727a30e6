//! Two bent devices on one centreline, free in space, turned against each other at their base.
//!
//! With curvatures `k1, k2`, bending stiffnesses `B1, B2`, torsional `C1, C2` and length `L` the
//! angle `alpha` between the two bends obeys the equation of a pendulum,
//! `(1/C1 + 1/C2)^-1 alpha'' = B1 B2/(B1 + B2) k1 k2 sin alpha`, free at the tip. With
//! `a² = L² k1 k2 (1/C1 + 1/C2) B1 B2/(B1 + B2)`, `delta = pi - alpha` and
//! `k = sin(delta_tip/2)`: `sin(delta_base/2) = k cd(a | k²)`; it snaps where `a > pi/2`.
//! Source: Webster, Romano and Cowan, IEEE Trans. Robotics 25:67, 2009, and Dupont et al., IEEE
//! Trans. Robotics 26:209, 2010 (from memory); solution of the pendulum in Jacobi's functions
//! derived, and checked against a numerical solution of the equation to 4e-11 rad.

use std::f64::consts::FRAC_PI_2;

use nalgebra::Vector3;

use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::rod::{Edge, Hinge, Rod};
use crate::solve::{Body, Newton, NewtonOptions};

const EDGES: usize = 60;
const LENGTH: f64 = 30.0;
const STIFFNESS: [f64; 2] = [80.0, 240.0];

/// Parameters below and above that at which the pair snaps, over it.
const SNAPS: [f64; 2] = [0.97, 1.03];

/// Curvature in 1/mm of both devices of a pair of parameter `a`.
fn curvature(a: f64) -> f64 {
    let [b1, b2] = STIFFNESS;
    let torsion = STIFFNESS.map(|b| b / 1.3);
    let reduced = (1.0 / torsion[0] + 1.0 / torsion[1]) * b1 * b2 / (b1 + b2);
    a / (LENGTH * f64::sqrt(reduced))
}

/// The pair of parameter `a`, held at its last edge, on the arc of its mean curvature.
fn pair(a: f64) -> Body<'static, 5> {
    let [b1, b2] = STIFFNESS;
    let curvature = curvature(a);
    let h = LENGTH / EDGES as f64;
    let nodes: Vec<_> = (0..=EDGES + 1)
        .map(|i| Vector3::new(LENGTH - h * i as f64, 0.0, 0.0))
        .collect();
    let edges = vec![
        Edge {
            rest_length: h,
            axial_stiffness: 2e5,
        };
        EDGES + 1
    ];
    let hinges = |b: f64| -> Vec<Hinge> {
        (0..=EDGES + 1)
            .map(|i| {
                // The held end has half a cell; the cell at the tip bends for the half edge in
                // front of it too, which is not twisted.
                let (bent, twisted) = match i {
                    1 => (1.5 * h, h),
                    EDGES => (0.5 * h, 0.5 * h),
                    _ => (h, h),
                };
                let mut hinge = Hinge::uniform(bent, b, b / 1.3).curved([curvature, 0.0]);
                hinge.torsional_compliance = twisted * 1.3 / b;
                hinge
            })
            .collect()
    };
    let rod = Rod::covered(&nodes, edges, hinges(b1), hinges(b2), Vector3::y());
    let mut body = Body::new(rod);
    body.fix_node(EDGES);
    body.fix_node(EDGES + 1);
    body.fix_rotation(EDGES);
    body
}

fn settle(body: &mut Body<'static, 5>) -> Result<(), Broken> {
    let mut newton = Newton::<13>::empty();
    let options = NewtonOptions {
        max_iterations: 400,
        small_step: 1e-10,
        ..NewtonOptions::with_tolerance(1e-7)
    };
    newton.equilibrate(body, &options)?;
    Ok(())
}

/// Turns the base of the second device to `angle` rad in steps.
fn turn_base(body: &mut Body<'static, 5>, angle: f64) -> Result<(), Broken> {
    let base = 5 * EDGES + 4;
    let from = body.rod.q[base];
    for step in 1..=24 {
        let turned = from + (angle - from) * f64::from(step) / 24.0;
        let change = turned - body.rod.q[base];
        for i in 0..=EDGES {
            body.rod.q[5 * i + 4] += change;
        }
        body.rod.refresh();
        settle(body)?;
    }
    Ok(())
}

fn tip_angle(body: &Body<'static, 5>) -> f64 {
    (body.rod.q[4] - body.rod.q[3]).to_degrees()
}

/// Rows (tip angle, base angle) in degrees of the closed form for `a` of 0.5 and 1.
const TABLE: [(f64, [(f64, f64); 5]); 2] = [
    (
        0.5,
        [
            (30.0, 33.64558),
            (60.0, 66.26485),
            (90.0, 97.15825),
            (135.0, 139.98884),
            (180.0, 180.0),
        ],
    ),
    (
        1.0,
        [
            (30.0, 45.35272),
            (60.0, 85.69152),
            (90.0, 118.41210),
            (135.0, 154.01816),
            (180.0, 180.0),
        ],
    ),
];

/// Half the amplitude of a pendulum of quarter period `a`: `a = K(k²)` by the arithmetic-geometric
/// mean, solved by bisection; 0 where there is none.
fn swing(a: f64) -> f64 {
    let quarter = |k: f64| {
        let (mut x, mut y) = (1.0f64, (1.0 - k * k).sqrt());
        for _ in 0..40 {
            (x, y) = (0.5 * (x + y), (x * y).sqrt());
        }
        FRAC_PI_2 / x
    };
    let (mut low, mut high) = (0.0, 1.0 - 1e-12);
    for _ in 0..80 {
        let k = 0.5 * (low + high);
        if quarter(k) < a {
            low = k;
        } else {
            high = k;
        }
    }
    2.0 * f64::asin(low).to_degrees()
}

pub const CHECK: Check = Check {
    name: "two-bent-devices",
    question: "How far do two bent devices on one line turn each other back, and when do they snap?",
    origin: Origin::ClosedForm,
    source: "Webster 2009, IEEE Trans. Robotics 25:67; Dupont 2010, 26:209 (from memory); pendulum in \
             Jacobi's functions derived and checked numerically",
    scene: "Two devices of the same curvature, free in space, turned against each other at the base",
    carries: &[Rests::Torque, Rests::Catheter, Rests::Outcome],
    set: Set::Short,
    covers,
    measure,
};

fn covers() -> Vec<Covered> {
    let curvatures = [TABLE[0].0, SNAPS[1] * FRAC_PI_2].map(curvature);
    vec![
        Covered::over(Input::Stiffness, &STIFFNESS),
        Covered::over(
            Input::TipBend,
            &curvatures.map(|k| (k * LENGTH).to_degrees()),
        ),
        Covered::over(Input::TipBendRadius, &curvatures.map(|k| 1.0 / k)),
    ]
}

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    for (a, rows) in TABLE {
        let mut body = pair(a);
        settle(&mut body)?;
        for (tip, base) in rows {
            turn_base(&mut body, f64::to_radians(base))?;
            let what = format!("a = {a}, base at {base:.1} deg: angle of the tip");
            readings.error(what, tip_angle(&body) - tip, "deg", 0.1);
        }
    }
    for share in SNAPS {
        let a = share * FRAC_PI_2;
        let mut body = pair(a);
        settle(&mut body)?;
        turn_base(&mut body, 179.5f64.to_radians())?;
        // To the far side, and let go a little before it.
        turn_base(&mut body, 180.0f64.to_radians())?;
        let expected = if share < 1.0 { 0.0 } else { swing(a) };
        let what = format!("at {share} of the threshold of snapping: lag of the tip");
        readings.error(what, 180.0 - tip_angle(&body) - expected, "deg", 0.5);
    }
    Ok(())
}
