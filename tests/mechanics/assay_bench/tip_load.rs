//! Tip load: the simulated drive against a plate, and Euler's and other columns.

use bendwise::assay::tip_load::drive;
use bendwise::device::Wire;
use bendwise::scenario::model::*;
use nalgebra::DMatrix;

use crate::assay_bench::reference::number;
use crate::common::{list_wire, report, wire_spec};

const BENDING: f64 = 50.0;
const HELD: f64 = 10.0;
const EDGE: f64 = 0.1;
/// The unit B/L² of a load in mN.
const UNIT: f64 = BENDING / (HELD * HELD);

#[test]
fn a_uniform_tip_buckles_at_eulers_loads_on_a_rough_and_on_a_smooth_plate() {
    // Euler 1744: P L²/B = 20.19073 (fixed-pinned, root of tan x = x) and pi²/4 (fixed-free). The
    // plate's friction keeps the tip in place until it slips; a smooth one lets it go.
    let wire = list_wire(BENDING, 0.3556, 0.03);
    for (ends, friction, exact) in [
        ("fixed-pinned, friction 0.03", 0.03, 20.190_728_556_426_63),
        ("fixed-pinned, friction 0.2", 0.2, 20.190_728_556_426_63),
        ("fixed-free", 0.0, 2.467_401_100_272_34),
    ] {
        let driven = drive(&wire, HELD, 0.3, friction, EDGE).expect("equilibrium");
        report(
            &format!("tip load {ends}: peak off Euler's load, %"),
            100.0 * (driven.tip_load_mn / UNIT / exact - 1.0),
            2.0,
        );
    }
}

#[test]
fn a_catalogue_wire_returns_its_tip_load() {
    for (end_condition, friction) in [
        (EndCondition::FixedPinned, 0.03),
        (EndCondition::FixedFree, 0.0),
    ] {
        for tip_load_mn in [3.0, 10.0, 30.0] {
            let mut spec = wire_spec(BENDING, 0.3556, friction);
            spec.stiffness = StiffnessSpec::TipLoad {
                tip_load_mn,
                end_condition,
                grind: vec![(20.0, 0.09), (100.0, 0.14)],
                modulus_mn_per_mm2: 200e6,
            };
            let wire = Wire::from_spec(&spec).expect("a catalogue wire");
            let driven = drive(&wire, HELD, 0.3, friction, EDGE).expect("equilibrium");
            report(
                &format!("{end_condition:?} {tip_load_mn} mN: tip load off the catalogue's, %"),
                100.0 * (driven.tip_load_mn / tip_load_mn - 1.0),
                2.0,
            );
        }
    }
}

#[test]
fn a_buckled_tip_carries_what_the_elastica_says() {
    // SciPy's boundary-value solver: push force of the buckled column at given shortenings.
    let wire = list_wire(BENDING, 0.3556, 0.5);
    for (ends, friction, table) in [
        ("fixed-pinned", 0.5, "buckled_push_pinned"),
        ("fixed-free", 0.0, "buckled_push_free"),
    ] {
        let driven = drive(&wire, HELD, 0.5, friction, EDGE).expect("equilibrium");
        for (shortening, key) in [(0.01, "0.01"), (0.02, "0.02"), (0.05, "0.05")] {
            let row = driven.curve.iter().min_by(|a, b| {
                let off = |row: &[f64; 2]| (row[0] - shortening * HELD).abs();
                off(a).total_cmp(&off(b))
            });
            let load = row.expect("a curve")[1] / UNIT;
            report(
                &format!("buckled tip {ends}, shortened by {shortening}: load off, %"),
                100.0 * (load / number(table, key) - 1.0),
                0.3,
            );
        }
    }
    // The slope behind buckling: how much the load rises from 1 % to 5 % of shortening.
    let driven = drive(&wire, HELD, 0.5, 0.5, EDGE).expect("equilibrium");
    let at = |travel: f64| {
        let after = driven.curve.partition_point(|row| row[0] < travel);
        driven.curve[after.min(driven.curve.len() - 1)][1] / UNIT
    };
    let table = |key| number("buckled_push_pinned", key);
    let rise = (at(0.5) - at(0.1)) / (table("0.05") - table("0.01"));
    report(
        "buckled tip fixed-pinned: stiffness behind buckling off, %",
        100.0 * (rise - 1.0),
        3.0,
    );
}

/// Buckling load over `B(tip)/L²` of a column whose stiffness grows linearly from the tip (1) to
/// the clamp (`growth`): finite differences of `(B w'')'' = -P w''` at the bending moments. With
/// `m = B w''` the equation of a pinned tip is `m'' + P m / B = 0` up to a linear function that
/// clears the clamp's conditions; solved here as the generalised eigenvalue problem of the
/// deflections with nalgebra, which is neither the solver's rod nor the reference's elements.
fn growing_column(growth: f64, pinned: bool) -> f64 {
    let count = 120;
    let h = 1.0 / f64::from(count);
    let count = usize::try_from(count).expect("small");
    // Deflections at nodes 0 (tip) to count (clamp); w = w' = 0 at the clamp by a mirror node.
    let free: Vec<usize> = (usize::from(pinned)..count).collect();
    let size = free.len();
    let stiffness = |i: usize| 1.0 + (growth - 1.0) * (i as f64 * h);
    let mut bend = DMatrix::<f64>::zeros(size, size);
    let mut push = DMatrix::<f64>::zeros(size, size);
    let place = |i: usize| free.iter().position(|&k| k == i);
    // Curvature at node i, 1 <= i < count, and half a cell of it at the clamp; the tip is free of
    // moment.
    for i in 1..=count {
        let (row, share): (Vec<(usize, f64)>, f64) = if i < count {
            (vec![(i - 1, 1.0), (i, -2.0), (i + 1, 1.0)], 1.0)
        } else {
            (vec![(i - 1, 2.0), (i, -2.0)], 0.5)
        };
        for &(a, x) in &row {
            for &(b, y) in &row {
                if let (Some(a), Some(b)) = (place(a), place(b)) {
                    bend[(a, b)] += share * stiffness(i) * x * y / h.powi(3);
                }
            }
        }
        let slope = [(i - 1, -1.0), (i, 1.0)];
        for (a, x) in slope {
            for (b, y) in slope {
                if let (Some(a), Some(b)) = (place(a), place(b)) {
                    push[(a, b)] += x * y / h;
                }
            }
        }
    }
    let factor = bend.cholesky().expect("a stiff column").l();
    let inverse = factor.clone().try_inverse().expect("a triangle");
    let symmetric = &inverse * push * inverse.transpose();
    1.0 / symmetric.symmetric_eigenvalues().max()
}

#[test]
fn a_column_five_times_as_stiff_at_its_clamp_buckles_at_its_eigenvalue() {
    // The wire's profile is a chain of short pieces that follow the line to 1 in 1e4.
    let stations: Vec<(f64, f64)> = (0..=150)
        .map(|k| {
            let s = HELD * f64::from(k) / 150.0;
            (s, BENDING * (1.0 + 4.0 * s / HELD))
        })
        .collect();
    let mut spec = wire_spec(BENDING, 0.3556, 0.03);
    spec.stiffness = StiffnessSpec::List {
        values: stations,
        modulus_mn_per_mm2: 200e6,
    };
    let wire = Wire::from_spec(&spec).expect("a tapered wire");
    for (ends, friction, pinned, key) in [
        ("fixed-pinned", 0.03, true, "pinned"),
        ("fixed-free", 0.0, false, "free"),
    ] {
        let exact = growing_column(5.0, pinned);
        let scipy = number("fivefold_column", key);
        report(
            &format!("fivefold column {ends}: two methods apart, %"),
            100.0 * (exact / scipy - 1.0),
            0.05,
        );
        let driven = drive(&wire, HELD, 0.3, friction, EDGE).expect("equilibrium");
        report(
            &format!("fivefold column {ends}: simulated tip load off its eigenvalue, %"),
            100.0 * (driven.tip_load_mn / UNIT / exact - 1.0),
            2.0,
        );
    }
}

#[test]
fn a_bent_tip_gives_way_long_before_a_straight_one() {
    let mut spec = wire_spec(BENDING, 0.3556, 0.03);
    spec.tip.primary = Some(BendSpec {
        from_tip_mm: 0.0,
        length_mm: 3.0,
        angle_rad: 45f64.to_radians(),
        plane_rad: 0.0,
    });
    let bent = Wire::from_spec(&spec).expect("a bent wire");
    let shaped = drive(&bent, HELD, 2.0, 0.03, EDGE).expect("equilibrium");
    let straight = drive(&bent.with_bend_factor(0.0), HELD, 0.3, 0.03, EDGE).expect("equilibrium");
    let share = shaped.tip_load_mn / straight.tip_load_mn;
    println!("  bent by 45 degrees over 3 mm: {share:.3} of the straight tip's load");
    assert!(share < 0.5 && share > 0.0);
}
