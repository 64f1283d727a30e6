//! Cantilever under a dead transverse load at its tip.
//!
//! Deflection and shortening: Mattiasson 1981, Int. J. Numer. Meth. Eng. 17:145, table 1, here
//! with more digits, computed independently by elliptic integrals in 40 digits and again by a
//! boundary-value solver, the two in agreement to 5e-15. Mattiasson's own digits for loads 1, 2,
//! 5 and 10, as quoted in a public test suite, agree to the last one printed.

use crate::evidence::scenes::{Stiffness, end_loaded, order, settle};
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::solve::Newton;

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

/// Deflection/L, shortening/L, tip angle, energy L/B at the loads of the table.
fn solve(edges: usize) -> Result<Vec<[f64; 4]>, Broken> {
    let mut body = end_loaded(edges, LENGTH, Stiffness::inextensible(BEND, 1.3, LENGTH));
    let mut newton = Newton::default();
    ELASTICA
        .iter()
        .map(|row| {
            body.loads[0].force = row[0] * BEND / (LENGTH * LENGTH);
            settle(&mut newton, &mut body, TOLERANCE)?;
            let tip = body.rod.node(edges);
            let tangent = body.rod.tangent(edges - 1);
            Ok([
                tip.y / LENGTH,
                1.0 - tip.x / LENGTH,
                tangent.y.atan2(tangent.x),
                body.rod.stored().bend * LENGTH / BEND,
            ])
        })
        .collect()
}

/// Edges of the mesh whose error is read; [`ORDER`] has the meshes on which it falls.
const EDGES: usize = 60;
const ORDER: [usize; 4] = [15, 30, EDGES, 120];

pub const CHECK: Check = Check {
    name: "cantilever",
    question: "Does a rod bend as far as it should under a load across its end?",
    origin: Origin::Published,
    source: "Mattiasson 1981, Int. J. Numer. Meth. Eng. 17:145, table 1, as quoted in a public test suite; \
             more digits computed independently by elliptic integrals and by a boundary value solver",
    scene: "A rod held at one end, a load across the other, up to 10 B/L² (a tip that turns by 82 degrees); \
            60 edges",
    carries: &[Rests::Push, Rests::Wall, Rests::Tip, Rests::Outcome],
    set: Set::Short,
    covers: || vec![Covered::over(Input::Stiffness, &[BEND])],
    measure,
};

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    let solutions = ORDER
        .into_iter()
        .map(solve)
        .collect::<Result<Vec<_>, _>>()?;
    for (row, got) in ELASTICA.iter().zip(&solutions[2]) {
        for (k, name) in ["deflection", "shortening", "tip angle", "energy"]
            .iter()
            .enumerate()
        {
            readings.share(
                format!("load {} B/L², {name}", row[0]),
                got[k] / row[k + 1] - 1.0,
                2e-3,
            );
        }
    }
    for (k, row) in ELASTICA.iter().enumerate() {
        let errors: Vec<f64> = solutions
            .iter()
            .map(|s| (s[k][0] - row[1]).hypot(s[k][1] - row[2]))
            .collect();
        readings.order(format!("load {} B/L², tip", row[0]), order(&errors), 1.8);
    }
    Ok(())
}
