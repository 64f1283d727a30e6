//! A wire with a bent tip turned at its hand inside a curved tube: what arrives at the tip, and the torque.

use std::f64::consts::{FRAC_PI_2, PI};

use crate::contact::WalledLumen;
use crate::device::Wire;
use crate::evidence::scenes::{BendTube, guide_tip, wire_spec};
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::scenario::model::BendSpec;
use crate::solve::{Assembly, Start, StepSettings};

/// Length of the wire in the tube in mm, and curvature of the tube in 1/mm.
const LENGTH: f64 = 20.0;
const TUBE_CURVATURE: f64 = 0.05;
const BENDING: f64 = 50.0;
/// Play of the wire in the tube: small, so that next to no length at the tip lies free.
const CLEARANCE_MM: f64 = 0.0005;
/// Stiffness of the wall in mN/mm².
const WALL: f64 = 1e5;

/// Diameter of the wire in mm, and its torsional over its bending stiffness.
const WIRE_MM: f64 = 0.36;
const TORSION_RATIO: f64 = 1.0 / 1.3;
/// Parameters below and above that at which the tip whips, over it.
const SNAPS: [f64; 2] = [0.97, 1.03];

/// Natural curvature in 1/mm of the wire of parameter `a`.
fn curvature(a: f64) -> f64 {
    a * a * TORSION_RATIO / (LENGTH * LENGTH * TUBE_CURVATURE)
}

/// A wire of natural curvature such that `a = L sqrt(B k_i k_o / C)`, in a tube of the same plane
/// that holds it on its axis but for
/// [`CLEARANCE_MM`], bends aligned.
fn held(a: f64, tube: &BendTube) -> Result<Assembly<'_>, Broken> {
    let mut spec = wire_spec(BENDING, WIRE_MM, 0.0);
    spec.tip.primary = Some(BendSpec {
        from_tip_mm: 0.0,
        length_mm: 30.0,
        // A bend falls off over the tenth of its length at its back, which stays in the guide.
        angle_rad: 0.95 * 30.0 * curvature(a),
        plane_rad: 0.0,
    });
    let wire = Wire::from_spec(&spec)?;
    let settings = StepSettings {
        drag: 0.0,
        turn_rad: 2f64.to_radians(),
        edge_mm: 0.125,
        ..StepSettings::default()
    };
    let start = Start {
        outside_mm: 1.0,
        longest_mm: 60.0,
        roll_rad: 0.0,
    };
    let lumen = WalledLumen::new(tube, WALL);
    let mut insertion = Assembly::straight(&wire, lumen, guide_tip(), settings, start)?;
    insertion.feed(LENGTH - insertion.outside_mm())?;
    Ok(insertion)
}

fn tight_tube() -> BendTube {
    BendTube {
        lead: 0.0,
        bend: 1.0 / TUBE_CURVATURE,
        angle: PI,
        radius: 0.5 * WIRE_MM + CLEARANCE_MM,
    }
}

/// Tip angle, base angle (degrees) and holding torque (times L/C) of a wire of natural curvature
/// on the axis of a tube: closed form (pendulum equation with Jacobi's elliptic functions),
/// computed independently of this project and agreeing with a numerical solution of the
/// differential equation to 4e-11 rad.
#[rustfmt::skip]
const HALF: [[f64; 3]; 14] = [
    [10.0, 11.26937, 0.04521], [20.0, 22.49771, 0.08888], [30.0, 33.64558, 0.12951],
    [45.0, 50.13796, 0.18189], [60.0, 66.26485, 0.22078], [80.0, 87.07513, 0.24761],
    [90.0, 97.15825, 0.24961], [100.0, 107.02416, 0.24406], [120.0, 126.13575, 0.21178],
    [135.0, 139.98884, 0.17148], [150.0, 153.51640, 0.12049], [160.0, 162.40182, 0.08218],
    [170.0, 171.21834, 0.04165], [180.0, 180.0, 0.0],
];
#[rustfmt::skip]
const ONE: [[f64; 3]; 14] = [
    [10.0, 15.39503, 0.20342], [20.0, 30.57839, 0.39688], [30.0, 45.35272, 0.57146],
    [45.0, 66.38291, 0.78292], [60.0, 85.69152, 0.92182], [80.0, 108.39024, 0.98908],
    [90.0, 118.41210, 0.97551], [100.0, 127.58896, 0.93418], [120.0, 143.65376, 0.78160],
    [135.0, 154.01816, 0.61940], [150.0, 163.29447, 0.42841], [160.0, 169.04658, 0.29014],
    [170.0, 174.57854, 0.14642], [180.0, 180.0, 0.0],
];

/// Tables by their parameter.
const TABLES: [(f64, [[f64; 3]; 14]); 2] = [(0.5, HALF), (1.0, ONE)];

/// Tip angle in degrees with the hand at half a turn, coming from below and from above.
fn at_half_a_turn(a: f64, tube: &BendTube) -> Result<[f64; 2], Broken> {
    let mut insertion = held(a, tube)?;
    insertion.turn(PI)?;
    let below = insertion.tip_rad().to_degrees();
    insertion.turn(PI)?;
    insertion.turn(-PI)?;
    Ok([below, insertion.tip_rad().to_degrees()])
}

pub const CHECK: Check = Check {
    name: "precurved-wire",
    question: "How does a bent tip follow the hand in a bent vessel, and when does it whip?",
    origin: Origin::ClosedForm,
    source: "pendulum equation with Jacobi's elliptic functions, derived; agrees with a numerical solution of the \
             differential equation to 4e-11 rad",
    scene: "A naturally curved wire turned by a whole turn in a half circle of 20 mm radius that holds it on its axis",
    carries: &[Rests::Torque, Rests::Outcome],
    set: Set::Short,
    covers,
    measure,
};

fn covers() -> Vec<Covered> {
    let curvatures = [TABLES[0].0, SNAPS[1] * FRAC_PI_2].map(curvature);
    vec![
        Covered::over(
            Input::TipBend,
            &curvatures.map(|k| (k * LENGTH).to_degrees()),
        ),
        Covered::over(Input::TipBendRadius, &curvatures.map(|k| 1.0 / k)),
        Covered::over(Input::Device, &[WIRE_MM]),
        Covered::over(Input::Lumen, &[WIRE_MM + 2.0 * CLEARANCE_MM]),
        Covered::over(Input::Turn, &[(LENGTH * TUBE_CURVATURE).to_degrees()]),
        Covered::over(Input::Friction, &[0.0]),
        Covered::over(Input::Stiffness, &[BENDING]),
        Covered::over(Input::Clearance, &[CLEARANCE_MM * TUBE_CURVATURE]),
        Covered::over(Input::Curvature, &[TUBE_CURVATURE]),
        Covered::over(Input::Length, &[LENGTH]),
        Covered::over(Input::Wall, &[WALL]),
    ]
}

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    let tube = tight_tube();
    for (a, table) in TABLES {
        follows_the_pendulum(readings, a, &table, &tube)?;
    }
    // With the hand at half a turn the tip stands there too, or, beyond the threshold, at either
    // side of it, depending on where it came from.
    let [below, above] = at_half_a_turn(SNAPS[0] * FRAC_PI_2, &tube)?;
    let what = "3 % below the threshold: tip from below and from above";
    readings.bound(what, above - below, "deg", 5.0);
    let [below, above] = at_half_a_turn(SNAPS[1] * FRAC_PI_2, &tube)?;
    let what = "3 % above the threshold: 40 degrees over the angle by which the tip whips";
    readings.bound(what, 40.0 / (above - below).max(f64::MIN_POSITIVE), "", 1.0);
    Ok(())
}

fn follows_the_pendulum(
    readings: &mut Readings,
    a: f64,
    table: &[[f64; 3]],
    tube: &BendTube,
) -> Result<(), Broken> {
    let mut insertion = held(a, tube)?;
    let mut states = vec![[0.0, 0.0, 0.0]];
    let scale = LENGTH * 1.3 / BENDING;
    while insertion.tip_rad() < 182f64.to_radians() {
        insertion.turn(2f64.to_radians())?;
        states.push([
            insertion.tip_rad().to_degrees(),
            insertion.hand_rad().to_degrees(),
            insertion.torque() * scale,
        ]);
    }
    let (mut base_off, mut torque_off): (f64, f64) = (0.0, 0.0);
    for &[tip, base, torque] in table {
        let k = states.partition_point(|s| s[0] < tip);
        let (before, after) = (states[k - 1], states[k]);
        let f = (tip - before[0]) / (after[0] - before[0]);
        let at = |c: usize| before[c] + f * (after[c] - before[c]);
        base_off = base_off.max((at(1) - base).abs());
        torque_off = torque_off.max((at(2) - torque).abs());
    }
    let peak = table.iter().map(|r| r[2]).fold(0.0, f64::max);
    readings.error(format!("a = {a}: angle of the hand"), base_off, "deg", 1.0);
    readings.share(
        format!("a = {a}: torque, of its peak"),
        torque_off / peak,
        0.02,
    );
    Ok(())
}
