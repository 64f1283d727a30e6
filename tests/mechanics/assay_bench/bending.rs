//! Flexibility, three-point bending, kink, and the torsional stiffness that goes with bending.

use bendwise::assay::flexibility::{SideForce, forces};
use bendwise::assay::piece::Held;
use bendwise::assay::{kink, pinch, three_point};
use bendwise::device::{Wire, round_core_diameter};
use bendwise::rod::section;
use bendwise::scenario::bench::PinchTest;
use bendwise::scenario::model::*;
use bendwise::solve::Load;
use std::f64::consts::PI;

use crate::assay_bench::reference::number;
use crate::common::{list_wire, report, wire_spec};

const BENDING: f64 = 50.0;
/// Edge in mm of the wires with a side force.
const EDGE_MM: f64 = 0.1;

#[test]
fn a_side_force_turns_the_tip_as_elliptic_integrals_say() {
    // Elastica: a load of fixed direction by elliptic integrals, a load that stays square to the
    // tip by the first integral; both checked there against SciPy's boundary-value solver.
    let wire = list_wire(BENDING, 0.3556, 0.03);
    let degrees = |list: &[f64]| list.iter().map(|d| d.to_radians()).collect::<Vec<_>>();
    for held in [5.0, 10.0, 20.0] {
        let unit = BENDING / (held * held);
        for (side, table, angles) in [
            (
                SideForce::SquareToTip,
                "follower_load",
                vec![30.0, 45.0, 60.0, 90.0],
            ),
            (SideForce::Fixed, "dead_load", vec![30.0, 45.0, 60.0, 75.0]),
        ] {
            let found = forces(&wire, held, &degrees(&angles), side, EDGE_MM).expect("equilibrium");
            // Second order in the edge with a factor near 1; the next test asks for the order.
            let mesh = 1.5 * (EDGE_MM / held).powi(2);
            for (angle, force) in angles.iter().zip(found) {
                let exact = number(table, &format!("{angle}"));
                let force = force.expect("within reach") / unit;
                report(
                    &format!("{side:?}, held {held} mm, {angle} degrees: force off, %"),
                    100.0 * (force / exact - 1.0),
                    100.0 * mesh,
                );
            }
        }
        let never = forces(&wire, held, &[PI / 2.0], SideForce::Fixed, 0.1).expect("equilibrium");
        assert_eq!(
            never,
            [None],
            "no force of fixed direction turns a tip square to it"
        );
    }
}

#[test]
fn the_error_of_the_side_force_falls_fourfold_when_the_edges_halve() {
    let wire = list_wire(BENDING, 0.3556, 0.03);
    let exact = number("follower_load", "90");
    let off = |edge: f64| {
        let found = forces(&wire, 10.0, &[PI / 2.0], SideForce::SquareToTip, edge);
        let force = found.expect("equilibrium")[0].expect("within reach");
        (force * 100.0 / BENDING / exact - 1.0).abs()
    };
    let errors = [1.0, 0.5, 0.25].map(off);
    println!("  errors {errors:?}");
    for pair in errors.windows(2) {
        let order = (pair[0] / pair[1]).log2();
        assert!(order > 1.7, "order {order}");
    }
}

/// By which share the force of a three-point test with this deflection over the span may be off that of
/// linear theory: half a span of 50 edges bends as a cantilever of as many cells, `1 / (2 n²)` too much;
/// and where the slopes are no longer small, the force rises by about four squares of the deflection
/// over the span. Half as much again for the next orders.
fn three_point_may_be_off(deflection_over_span: f64) -> f64 {
    1.5 * (1.0 / (2.0 * 50.0 * 50.0) + 4.0 * deflection_over_span.powi(2))
}

#[test]
fn a_uniform_wire_has_48_times_its_stiffness_over_the_cube_of_the_span() {
    for (bending, span) in [(50.0, 10.0), (50.0, 40.0), (10e3, 20.0)] {
        let wire = list_wire(bending, 0.3556, 0.03);
        let pressed = three_point::press(&wire, 100.0, span, span / 100.0, 4).expect("equilibrium");
        for row in &pressed.curve[1..] {
            report(
                &format!(
                    "three-point bending, span {span} mm, {} mm down: force off 48 EI/L³, %",
                    row[0]
                ),
                100.0 * (row[1] * span.powi(3) / (48.0 * bending * row[0]) - 1.0),
                100.0 * three_point_may_be_off(row[0] / span),
            );
        }
    }
}

#[test]
fn a_tapered_wire_bends_as_the_unit_load_integral_says() {
    // The fourth root of the stiffness grows by half along the span.
    let span = 20.0;
    let low = 50.0;
    let mut spec = wire_spec(low, 0.3556, 0.03);
    let core = round_core_diameter(low, 200e6);
    spec.stiffness = StiffnessSpec::Grind {
        grind: vec![(90.0, core), (110.0, 1.5 * core)],
        modulus_mn_per_mm2: 200e6,
    };
    let wire = Wire::from_spec(&spec).expect("a tapered wire");
    let pressed = three_point::press(&wire, 100.0, span, 0.05, 1).expect("equilibrium");
    let [deflection, force] = pressed.curve[1];
    let exact = number("tapered_three_point", "1_to_1.5") * span.powi(3) / low;
    report(
        "three-point bending of a taper: deflection per load off, %",
        100.0 * (deflection / force / exact - 1.0),
        100.0 * three_point_may_be_off(0.05 / span),
    );
}

#[test]
fn published_moduli_return_through_the_simulated_test() {
    // Harrison et al., J Endovasc Ther 2011;18:797: flexural moduli in GPa of eleven wires of the
    // 0.035 inch class by three-point bending, taken as solid rods of 0.889 mm.
    let diameter: f64 = 0.889;
    for gpa in [9.5, 11.4, 14.5, 17.0, 29.2, 60.3, 65.4, 139.6, 158.4] {
        let bending = gpa * 1e6 * PI * diameter.powi(4) / 64.0;
        let wire = list_wire(bending, diameter, 0.03);
        let pressed = three_point::press(&wire, 100.0, 40.0, 0.4, 1).expect("equilibrium");
        report(
            &format!("modulus of {gpa} GPa through the simulated test: off, %"),
            100.0 * (pressed.apparent_modulus(diameter) / 1e6 / gpa - 1.0),
            100.0 * three_point_may_be_off(0.4 / 40.0),
        );
    }
}

#[test]
fn a_loop_between_plates_is_sharper_than_a_circle_by_the_elastica() {
    let wire = list_wire(BENDING, 0.3556, 0.03);
    let looped = kink::loop_down(&wire, 50.0).expect("a loop");
    let curvature = wire.strain_limit() / wire.core_radius(50.0);
    report(
        "two-point bending: largest curvature times distance off, %",
        100.0 * (2.0 * looped.loop_radius_mm * curvature / number("two_point", "") - 1.0),
        0.5,
    );
}

/// Half the distance of the plates, and set in rad, of a loop whose core is bent to `most` times the
/// curvature at first yield in its middle; lengths in radii of curvature at first yield.
///
/// A plate's force F is square to it, so that `dM/ds = F cos psi` at a place where the wire has turned
/// by `psi` from the plate, and with the complementary energy `U* = int kappa dM` follows
/// `U* = F sin psi`. The wire is bent one way only, so the closed curve of first loading holds.
fn plastic_loop(most: f64) -> (f64, f64) {
    let parts = 4000_i32;
    let curvature = |i: i32| most * f64::from(i) / f64::from(parts);
    let mut complementary = vec![0.0];
    for i in 1..=parts {
        let (a, b) = (curvature(i - 1), curvature(i));
        let more = 0.5 * (a + b) * (section::moment(b) - section::moment(a));
        complementary.push(complementary[complementary.len() - 1] + more);
    }
    let force = complementary[complementary.len() - 1];
    let turned: Vec<f64> = complementary
        .iter()
        .map(|u| (u / force).min(1.0).asin())
        .collect();
    let (mut half, mut set) = (0.0, 0.0);
    for (i, ends) in (1..=parts).zip(turned.windows(2)) {
        let (psi, step) = (0.5 * (ends[0] + ends[1]), ends[1] - ends[0]);
        let k = 0.5 * (curvature(i - 1) + curvature(i));
        half += psi.sin() * step / k;
        set += 2.0 * (k - section::moment(k)) * step / k;
    }
    (half, set)
}

#[test]
fn a_loop_smaller_than_the_limit_leaves_the_set_of_a_plastic_elastica() {
    let mut spec = wire_spec(BENDING, 0.1, 0.03);
    spec.core_law = CoreLawSpec::Plastic;
    let wire = Wire::from_spec(&spec).expect("a plain wire");
    let looped = kink::loop_down(&wire, 50.0).expect("a loop");
    let last = looped.curve.last().expect("a curve");
    let half = last[0] * wire.yield_curvature(BENDING);
    let (mut low, mut high) = (1.01, 30.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if plastic_loop(middle).0 > half {
            low = middle;
        } else {
            high = middle;
        }
    }
    let exact = plastic_loop(low).1;
    let set = looped.set_rad.expect("legs that do not touch");
    println!(
        "  loop {half:.4} of the radius at first yield: strain over limit {:.3} (exact {low:.3}), set {:.2} degrees",
        last[1],
        set.to_degrees()
    );
    report(
        "kink: strain in half the loop of the limit off, %",
        100.0 * (last[1] / low - 1.0),
        2.0,
    );
    report(
        "kink: set after half the loop of the limit off the plastic elastica, %",
        100.0 * (set / exact - 1.0),
        2.0,
    );
    spec.core_law = CoreLawSpec::Elastic;
    let wire = Wire::from_spec(&spec).expect("a plain wire");
    let elastic = kink::loop_down(&wire, 50.0).expect("a loop");
    assert_eq!(elastic.set_rad, Some(0.0));
}

#[test]
fn the_jaws_count_twice() {
    for friction in [0.03, 0.09, 0.18] {
        let wire = list_wire(BENDING, 0.3556, friction);
        let test = PinchTest {
            clamp_mn: 500.0 * 9.806_65,
            jaw_mm: 10.0,
        };
        let pulled = pinch::pull(&wire, &test).expect("equilibrium");
        report(
            &format!("pinch, friction {friction}: clamp force off, %"),
            100.0 * (pulled.clamp_mn / test.clamp_mn - 1.0),
            0.1,
        );
        report(
            &format!("pinch, friction {friction}: true coefficient off, %"),
            100.0 * (pulled.true_coefficient() / friction - 1.0),
            0.1,
        );
        report(
            &format!("pinch, friction {friction}: quoted over true, less 2"),
            pulled.quoted_coefficient() / pulled.true_coefficient() - 2.0,
            1e-9,
        );
    }
}

#[test]
fn torsional_over_bending_stiffness_is_one_over_one_plus_poissons_ratio() {
    // Both stiffnesses are measured: bending on three points, torsion by a moment on the free end
    // of a held wire. Round core of an isotropic material: GJ/EI = 1/(1 + nu).
    for nu in [0.0, 0.3, 0.5] {
        let mut spec = wire_spec(BENDING, 0.3556, 0.03);
        spec.torsion_ratio = 1.0 / (1.0 + nu);
        let wire = Wire::from_spec(&spec).expect("a plain wire");
        let bending = three_point::press(&wire, 100.0, 20.0, 0.1, 1)
            .expect("equilibrium")
            .stiffness;
        let (length, moment) = (10.0, 2.0);
        let mut held = Held::new(&wire, length, 0.1).expect("rest");
        held.body.loads = vec![Load {
            unknown: 3,
            force: moment,
        }];
        held.settle().expect("equilibrium");
        let turned = held.body.rod.theta(0) - held.body.rod.theta(held.exit());
        // The moment acts at the middle of the first edge.
        let torsion = moment * (length - 0.05) / turned;
        report(
            &format!("GJ/EI, Poisson's ratio {nu}: off 1/(1 + nu), %"),
            100.0 * (torsion / bending * (1.0 + nu) - 1.0),
            100.0 * three_point_may_be_off(0.1 / 20.0),
        );
    }
}
