//! A vessel on its bed under a point load: a beam on an elastic foundation (Hetenyi, *Beams on Elastic
//! Foundation*, 1946).

use std::f64::consts::{FRAC_PI_4, PI};

use nalgebra::Vector3;

use crate::evidence::scenes::{equilibrium_from, vessel_through};
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::vessel::{Bed, GivingVessel, WallBeam, WallStiffness};

/// Bending stiffness of the vessel (mN mm²) and stiffness of its bed (mN/mm²).
const CASES: [[f64; 2]; 5] = [
    [5.0, 2.0],
    [5.0, 50.0],
    [50.0, 10.0],
    [500.0, 2.0],
    [500.0, 50.0],
];

pub const CHECK: Check = Check {
    name: "bed",
    question: "How far does a vessel in its bed give way where something presses on it?",
    origin: Origin::ClosedForm,
    source: "Hetenyi 1946, beam on an elastic foundation; checked independently by finite differences to 1e-5",
    scene: "A straight vessel of 5 to 500 mN mm² on a bed of 2 to 50 mN/mm² under a point load; knots half and a \
            quarter of its length of decay apart",
    carries: &[Rests::Moved, Rests::Wall],
    set: Set::Short,
    covers: || vec![Covered::over(Input::Bed, &CASES.map(|[_, bed]| bed))],
    measure,
};

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    for [bending, foundation] in CASES {
        let coarse = off(bending, foundation, 0.5)?;
        let fine = off(bending, foundation, 0.25)?;
        let case = format!("vessel {bending} mN mm², bed {foundation} mN/mm²");
        for (k, name) in [(0, "deflection"), (2, "slope"), (3, "least deflection")] {
            readings.share(format!("{case}, {name}"), fine[k], 5e-3);
        }
        // A moment that has a kink under the load is known to first order, the rest to third or more.
        let order = (coarse[1] / fine[1]).log2();
        readings.order(format!("{case}, moment"), order, 0.7);
    }
    Ok(())
}

/// Relative errors of deflection, moment, slope and least deflection with knots that share of the length of
/// decay apart.
fn off(bending: f64, foundation: f64, share: f64) -> Result<[f64; 4], Broken> {
    let lambda = (foundation / (4.0 * bending)).powf(0.25);
    let half = 14.0 / lambda;
    let points = [0.0, half, 2.0 * half].map(|x| Vector3::x() * x);
    let tree = vessel_through(points.to_vec(), 3.0)?;
    let bed = Bed {
        across: foundation,
        along: foundation,
        // Deflections of the linear theory: far from where the axis would have to stretch.
        wall: WallStiffness::Beam(WallBeam {
            bending,
            axial: 0.0,
        }),
        spacing_mm: share / lambda,
    };
    let vessel = GivingVessel::new(&tree, bed);
    let knots = vessel.knots()[0];
    let middle = knots.basis(half);
    let load = 1e-4;
    let at_rest = vec![Vector3::zeros(); vessel.controls()];
    let press = |_: &[Vector3<f64>], gradient: &mut [Vector3<f64>], _: &mut dyn FnMut(_, _, &_)| {
        for k in 0..4 {
            gradient[middle.first + k].y -= load * middle.value[k];
        }
    };
    let moved = equilibrium_from(&vessel, at_rest, press, false)?;
    let at = |s: f64| knots.basis(s).jet(&moved).map(|v| v.y / load);
    let [w0, _, bend] = at(half);
    let [_, slope, _] = at(half + FRAC_PI_4 / lambda);
    let [w_min, ..] = at(half + PI / lambda);
    let expected = [
        lambda / (2.0 * foundation),
        1.0 / (4.0 * lambda),
        lambda * lambda / foundation * (-FRAC_PI_4).exp() * FRAC_PI_4.sin(),
        -lambda / (2.0 * foundation) * (-PI).exp(),
    ];
    let found = [w0, -bending * bend, -slope, w_min];
    Ok(std::array::from_fn(|k| {
        (found[k] / expected[k] - 1.0).abs()
    }))
}
