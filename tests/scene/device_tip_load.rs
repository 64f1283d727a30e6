//! Does a tip load give the stiffness, and a stiffness the tip load, that published values and
//! closed forms give?

use approx::assert_relative_eq;
use bendwise::device::{
    Wire, buckling_load, effective_length_factor, round_core_diameter, round_core_stiffness,
    stiffness_from_tip_load,
};
use bendwise::scenario::model::EndCondition::{FixedFree, FixedPinned};
use bendwise::scenario::model::{
    CoreLawSpec, EndCondition, Place, StiffnessSpec, TipSpec, WireSpec,
};
use bendwise::units::{gpa_to_mn_per_mm2, gram_force_to_mn, inch_to_mm, n_mm2_to_mn_mm2};

fn list_wire(values: Vec<(f64, f64)>) -> Wire {
    described(StiffnessSpec::List {
        values,
        modulus_mn_per_mm2: gpa_to_mn_per_mm2(200.0),
    })
}

/// A ground core that has the given stiffness at each station.
fn ground_wire(values: &[(f64, f64)]) -> Wire {
    let modulus_mn_per_mm2 = gpa_to_mn_per_mm2(200.0);
    let diameter = |&(s, b): &(f64, f64)| (s, round_core_diameter(b, modulus_mn_per_mm2));
    described(StiffnessSpec::Grind {
        grind: values.iter().map(diameter).collect(),
        modulus_mn_per_mm2,
    })
}

fn described(stiffness: StiffnessSpec) -> Wire {
    Wire::from_spec(&WireSpec {
        name: "list".to_owned(),
        diameter_mm: 0.3556,
        stiffness,
        torsion_ratio: 1.0 / 1.3,
        friction: 0.05,
        tip: TipSpec {
            primary: None,
            secondary: None,
        },
        strain_limit: 0.01,
        core_law: CoreLawSpec::Elastic,
        place: Place::default(),
    })
    .expect("a valid wire")
}

#[test]
fn tip_load_gives_the_stiffness_of_the_conversion_table() {
    // Tip load in gf; EI in N mm² fixed-pinned and fixed-free; steel core in mm for both. Euler
    // buckling of 10 mm, printed to three digits.
    let table = [
        (0.5, 0.0243, 0.199, 0.040, 0.067),
        (0.7, 0.0340, 0.278, 0.043, 0.073),
        (1.0, 0.0486, 0.397, 0.047, 0.080),
        (3.0, 0.146, 1.19, 0.062, 0.105),
        (6.0, 0.291, 2.38, 0.074, 0.125),
        (12.0, 0.583, 4.77, 0.088, 0.148),
    ];
    for (gf, pinned, free, thin, thick) in table {
        for (end, expected, core) in [(FixedPinned, pinned, thin), (FixedFree, free, thick)] {
            let stiffness = stiffness_from_tip_load(gram_force_to_mn(gf), end);
            assert_relative_eq!(stiffness, n_mm2_to_mn_mm2(expected), max_relative = 3e-3);
            let diameter = round_core_diameter(stiffness, gpa_to_mn_per_mm2(200.0));
            assert!((diameter - core).abs() < 0.6e-3, "{gf} gf: {diameter} mm");
        }
    }
}

#[test]
fn buckling_loads_are_those_of_eulers_columns() {
    // P L² / B in closed form; fixed-pinned from the root of tan x = x.
    for (found, closed_form, accuracy) in [
        (
            buckling_load(1.0, 1.0, FixedPinned),
            20.190_728_556_426_63,
            1e-14,
        ),
        (
            buckling_load(1.0, 1.0, FixedFree),
            2.467_401_100_272_34,
            1e-14,
        ),
        (
            effective_length_factor(FixedPinned),
            0.699_155_659_642_841_2,
            1e-14,
        ),
        (buckling_load(50.0, 10.0, FixedPinned), 10.0954, 1e-5),
        (buckling_load(50.0, 20.0, FixedPinned), 2.523_84, 1e-5),
    ] {
        assert_relative_eq!(found, closed_form, max_relative = accuracy);
    }
}

#[test]
fn solid_rods_have_the_stiffness_of_the_table() {
    // Diameter in inch, EI in N mm² of solid steel of 200 GPa, printed to three digits.
    for (inch, expected) in [
        (0.014, 157.0),
        (0.012, 84.7),
        (0.0075, 12.9),
        (0.005, 2.55),
        (0.003, 0.331),
        (0.002, 0.0654),
    ] {
        let stiffness = round_core_stiffness(inch_to_mm(inch), gpa_to_mn_per_mm2(200.0));
        assert_relative_eq!(stiffness, n_mm2_to_mn_mm2(expected), max_relative = 4e-3);
        let nitinol = round_core_stiffness(inch_to_mm(inch), gpa_to_mn_per_mm2(48.0));
        assert_relative_eq!(nitinol, 0.24 * stiffness, max_relative = 1e-12);
    }
}

#[test]
fn a_uniform_tip_buckles_at_eulers_load() {
    let wire = list_wire(vec![(0.0, 50.0)]);
    for end in [FixedPinned, FixedFree] {
        let exact = buckling_load(50.0, 10.0, end);
        assert_relative_eq!(wire.tip_load_mn(end), exact, max_relative = 1e-7);
    }
}

/// Buckling load of the last 10 mm of `B = b0 (1 + x/a)^4` held 10 mm behind the free end:
/// `w = z sin(k a (1 - 1/z))` with `z = 1 + x/a`, `k² = P/b0` and `w' = 0` at the clamp gives
/// `tan q = -k a / z1`, `q = k a (1 - 1/z1)` (Dinnik's column; Timoshenko and Gere, Theory of
/// Elastic Stability, section 2.14).
fn taper_fixed_free(b0: f64, a: f64) -> f64 {
    let z1 = 1.0 + 10.0 / a;
    let defect = |ka: f64| {
        let q = ka * (1.0 - 1.0 / z1);
        q.sin() + ka / z1 * q.cos()
    };
    // The first root has q between pi/2 and pi.
    let per_q = 1.0 / (1.0 - 1.0 / z1);
    let (mut low, mut high) = (
        std::f64::consts::FRAC_PI_2 * per_q,
        std::f64::consts::PI * per_q,
    );
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if defect(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    b0 * (low / a).powi(2)
}

#[test]
fn a_tapered_tip_buckles_at_dinniks_load() {
    for growth in [1.05, 1.5, 2.5_f64] {
        let (b0, a) = (20.0, 10.0 / (growth - 1.0));
        let wire = ground_wire(&[(0.0, b0), (10.0, b0 * growth.powi(4))]);
        assert_relative_eq!(
            wire.tip_load_mn(FixedFree),
            taper_fixed_free(b0, a),
            max_relative = 1e-6
        );
        // The pinned end's load lies between those of the uniform columns of both stiffnesses.
        let pinned = wire.tip_load_mn(FixedPinned);
        assert!(pinned > buckling_load(b0, 10.0, FixedPinned));
        assert!(pinned < buckling_load(b0 * growth.powi(4), 10.0, FixedPinned));
    }
}

/// Buckling load over B(tip)/L² of the last 10 mm of a list that grows by the factor `growth` from
/// the tip to the clamp, from `assay_reference.json` (Bessel functions, `SciPy`).
fn exponential_column(growth: &str, end: &str) -> f64 {
    let text = include_str!("../reference/assay_reference.json");
    let all: serde_json::Value = serde_json::from_str(text).expect("the reference file is JSON");
    all["exponential_column"][growth][end]
        .as_f64()
        .expect("a number of the reference file")
}

#[test]
fn a_list_of_two_stations_buckles_as_a_column_whose_stiffness_is_exponential() {
    // The shooting integration of 400 steps is off by less than 1e-7 here.
    for (growth, name) in [(2.0, "2"), (10.0, "10"), (100.0, "100")] {
        let wire = list_wire(vec![(0.0, 50.0), (10.0, 50.0 * growth)]);
        for (end, key) in [(FixedFree, "free"), (FixedPinned, "pinned")] {
            assert_relative_eq!(
                wire.tip_load_mn(end),
                exponential_column(name, key) * 50.0 / 100.0,
                max_relative = 1e-6
            );
        }
    }
}

#[test]
fn a_list_of_two_stations_has_the_compliance_of_an_exponential_cantilever() {
    // A side force F at the tip of a cantilever of B = b0 exp(k s): the tip turns by
    // F (1 - (1 + k L) exp(-k L)) / (b0 k²), the integral of F s / B. The integral of s / B over
    // the list is that of the compliance beyond each place: the sum of ds times the compliance.
    let (b0, growth, length) = (50.0f64, 40.0f64, 20.0f64);
    let wire = list_wire(vec![(0.0, b0), (length, b0 * growth)]);
    let k = growth.ln() / length;
    let exact = (1.0 - (1.0 + k * length) * (-k * length).exp()) / (b0 * k * k);
    let n = 20_000_u32;
    let h = length / f64::from(n);
    let sum: f64 = (0..n)
        .map(|i| h * wire.compliance_between(h * (f64::from(i) + 0.5), length))
        .sum();
    // Midpoint rule: error h² k / (24 b0) of the derivative at the ends over the sum, below 1e-8.
    assert_relative_eq!(sum, exact, max_relative = 1e-7);
}

#[test]
fn a_stepped_tip_buckles_at_the_load_of_its_two_parts() {
    // Fixed-free, the distal half ten times softer: tan(k1 h) tan(k2 h) = k1 / k2 with
    // k = sqrt(P / B), h = 5 mm (Timoshenko and Gere, section 2.14: bars with changes in
    // cross section). The step is spread over 0.002 mm.
    let (soft, stiff, h) = (10.0, 100.0, 5.0);
    let defect = |p: f64| {
        let (k1, k2): (f64, f64) = ((p / soft).sqrt(), (p / stiff).sqrt());
        (k1 * h).tan() * (k2 * h).tan() - k1 / k2
    };
    let (mut low, mut high) = (
        1e-6,
        buckling_load(soft, 10.0, EndCondition::FixedFree) * 3.9,
    );
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if defect(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    let wire = list_wire(vec![(4.999, soft), (5.001, stiff)]);
    assert_relative_eq!(wire.tip_load_mn(FixedFree), low, max_relative = 1e-3);
}
