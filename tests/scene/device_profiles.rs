//! Do the profiles along a wire say what its catalogue quantities say?

use approx::assert_relative_eq;
use bendwise::device::Wire;
use bendwise::scenario::model::{
    BendSpec, CoreLawSpec, EndCondition, Place, StiffnessSpec, TipSpec, WireSpec,
};
use bendwise::units::gpa_to_mn_per_mm2;

/// A wire of 0.014 in with two bends in different planes and a core of 0.19 mm at the shaft.
fn spec() -> WireSpec {
    WireSpec {
        name: "two bends".to_owned(),
        diameter_mm: 0.3556,
        stiffness: StiffnessSpec::TipLoad {
            tip_load_mn: 9.806_65,
            end_condition: EndCondition::FixedPinned,
            grind: vec![(15.0, 0.06), (40.0, 0.09), (150.0, 0.19)],
            modulus_mn_per_mm2: gpa_to_mn_per_mm2(200.0),
        },
        torsion_ratio: 1.0 / 1.3,
        friction: 0.05,
        tip: TipSpec {
            primary: Some(BendSpec {
                from_tip_mm: 0.0,
                length_mm: 3.0,
                angle_rad: 0.9,
                plane_rad: 0.3,
            }),
            secondary: Some(BendSpec {
                from_tip_mm: 8.0,
                length_mm: 6.0,
                angle_rad: 0.5,
                plane_rad: 2.0,
            }),
        },
        strain_limit: 0.01,
        core_law: CoreLawSpec::Elastic,
        place: Place::top("wire").entry(7),
    }
}

fn wire() -> Wire {
    Wire::from_spec(&spec()).expect("a valid wire")
}

/// Midpoint sum of `f` over `[a, b]`.
fn integral(a: f64, b: f64, f: impl Fn(f64) -> f64) -> f64 {
    let n = 200_000_u32;
    let h = (b - a) / f64::from(n);
    (0..n).map(|i| h * f(a + h * (f64::from(i) + 0.5))).sum()
}

#[test]
fn the_tip_is_as_stiff_as_its_tip_load_and_the_shaft_as_its_core() {
    let wire = wire();
    // FACTS: 1 gf, fixed-pinned: 0.0486 N mm²; pi E d^4 / 64 with d = 0.19 mm: 12.794 N mm².
    for s in [-1.0, 0.0, 5.0, 10.0] {
        assert_relative_eq!(wire.bending_stiffness(s), 48.6, max_relative = 1e-3);
    }
    for s in [150.0, 200.0, 1500.0] {
        assert_relative_eq!(wire.bending_stiffness(s), 12_794.0, max_relative = 1e-4);
    }
    // Halfway between two stations the diameter is halfway too: 0.14 mm gives 3.7715 N mm².
    assert_relative_eq!(wire.bending_stiffness(95.0), 3_771.5, max_relative = 1e-4);
    assert_relative_eq!(wire.core_radius(95.0), 0.07, max_relative = 1e-12);
}

#[test]
fn stiffness_rises_steadily_without_a_jump_from_tip_to_shaft() {
    let wire = wire();
    let mut before = wire.bending_stiffness(0.0);
    for i in 1..=20_000_u32 {
        let now = wire.bending_stiffness(f64::from(i) * 0.01);
        // Steepest where the diameter rises from 0.047 to 0.06 mm within 5 mm:
        // 4 x 0.0026 / 0.047 x 0.01 mm = 0.22 % a step.
        assert!(
            now >= before * (1.0 - 1e-14) && now <= before * 1.003,
            "at step {i}: {before} {now}"
        );
        before = now;
    }
}

#[test]
fn compliance_is_the_integral_of_one_over_stiffness() {
    let wire = wire();
    for (a, b) in [(0.0, 0.25), (9.0, 11.0), (0.0, 200.0), (120.0, 400.0)] {
        let sum = integral(a, b, |s| 1.0 / wire.bending_stiffness(s));
        assert_relative_eq!(wire.compliance_between(a, b), sum, max_relative = 1e-8);
    }
}

#[test]
fn a_bend_turns_by_its_angle_in_its_plane() {
    let wire = wire();
    let primary = wire.natural_curvature_between(-1.0, 5.0);
    assert_relative_eq!(primary[0], 0.9 * 0.3_f64.cos(), max_relative = 1e-14);
    assert_relative_eq!(primary[1], 0.9 * 0.3_f64.sin(), max_relative = 1e-14);
    let secondary = wire.natural_curvature_between(5.0, 50.0);
    assert_relative_eq!(secondary[0], 0.5 * 2.0_f64.cos(), max_relative = 1e-13);
    assert_relative_eq!(secondary[1], 0.5 * 2.0_f64.sin(), max_relative = 1e-13);
    let half = wire
        .with_bend_factor(0.5)
        .natural_curvature_between(-1.0, 5.0);
    assert_relative_eq!(half[0], 0.5 * primary[0], max_relative = 1e-14);
}

#[test]
fn the_integral_of_natural_curvature_is_exact_on_any_interval() {
    let wire = wire();
    for (a, b) in [
        (0.0, 0.25),
        (2.6, 2.95),
        (7.9, 8.3),
        (8.2, 13.9),
        (13.5, 20.0),
    ] {
        let exact = wire.natural_curvature_between(a, b);
        for axis in 0..2 {
            let sum = integral(a, b, |s| wire.natural_curvature(s)[axis]);
            assert_relative_eq!(exact[axis], sum, max_relative = 1e-8, epsilon = 1e-12);
        }
    }
}

#[test]
fn natural_curvature_starts_at_the_tip_and_has_no_step_behind_it() {
    let wire = wire();
    assert!(wire.natural_curvature(0.0)[0] > 0.28);
    let step = 1e-3;
    for i in 0..20_000_u32 {
        let s = f64::from(i) * step;
        let (here, there) = (wire.natural_curvature(s), wire.natural_curvature(s + step));
        // Steepest: slope 1.5 of the ramp, plateau 0.316 / mm, ramp 0.3 mm: 0.0016 a step.
        for axis in 0..2 {
            assert!((there[axis] - here[axis]).abs() < 1.7e-3, "step at {s} mm");
        }
    }
}

#[test]
fn the_energy_of_a_straightened_tip_is_its_integral() {
    let wire = wire();
    let density = |s: f64| {
        let [x, y] = wire.natural_curvature(s);
        0.5 * wire.bending_stiffness(s) * (x * x + y * y)
    };
    for s in [-2.0_f64, 0.0, 1.3, 2.8, 5.0, 8.1, 12.2, 13.9] {
        let sum = integral(s.max(0.0), 14.0, density);
        assert_relative_eq!(
            wire.stored_shape_energy_beyond(s),
            sum,
            max_relative = 1e-8,
            epsilon = 1e-12
        );
    }
    assert_relative_eq!(wire.stored_shape_energy_beyond(14.0), 0.0);
    let doubled = wire.with_bend_factor(2.0);
    assert_relative_eq!(
        doubled.stored_shape_energy_beyond(0.0),
        4.0 * wire.stored_shape_energy_beyond(0.0),
        max_relative = 1e-13
    );
}

#[test]
fn features_list_the_ends_of_bends_and_the_stations_of_the_core() {
    let expected = [0.0, 3.0, 8.0, 10.0, 14.0, 15.0, 40.0, 150.0];
    assert_eq!(wire().features_mm(), expected);
}

#[test]
fn axial_strain_is_a_thousandth_at_ten_tip_loads_and_never_softer_than_twenty_millinewton() {
    assert_relative_eq!(wire().axial_stiffness_cap(), 98_066.5, max_relative = 1e-12);
    let mut soft = spec();
    if let StiffnessSpec::TipLoad { tip_load_mn, .. } = &mut soft.stiffness {
        *tip_load_mn = 1.0;
    }
    let soft = Wire::from_spec(&soft).expect("a valid wire");
    assert_relative_eq!(soft.axial_stiffness_cap(), 20_000.0, max_relative = 1e-12);
}
