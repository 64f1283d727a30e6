//! Is a wire that cannot be built refused with its name, the value and the remedy?

use bendwise::device::{DeviceError, Wire};
use bendwise::scenario::model::{
    BendSpec, CoreLawSpec, EndCondition, Place, StiffnessSpec, TipSpec, WireSpec,
};

const STEEL: f64 = 200e6;

fn bend(from_tip_mm: f64, length_mm: f64, angle_rad: f64) -> Option<BendSpec> {
    Some(BendSpec {
        from_tip_mm,
        length_mm,
        angle_rad,
        plane_rad: 0.0,
    })
}

fn good() -> WireSpec {
    WireSpec {
        name: "soft".to_owned(),
        diameter_mm: 0.36,
        stiffness: StiffnessSpec::TipLoad {
            tip_load_mn: 5.0,
            end_condition: EndCondition::FixedPinned,
            grind: vec![(20.0, 0.08), (120.0, 0.19)],
            modulus_mn_per_mm2: STEEL,
        },
        torsion_ratio: 0.77,
        friction: 0.05,
        tip: TipSpec {
            primary: bend(0.0, 3.0, 0.9),
            secondary: bend(3.0, 4.0, 0.3),
        },
        strain_limit: 0.01,
        core_law: CoreLawSpec::Elastic,
        place: Place::top("wire").entry(11),
    }
}

fn tip_load(tip_load_mn: f64, grind: &[(f64, f64)]) -> StiffnessSpec {
    StiffnessSpec::TipLoad {
        tip_load_mn,
        end_condition: EndCondition::FixedPinned,
        grind: grind.to_vec(),
        modulus_mn_per_mm2: STEEL,
    }
}

fn grind(grind: &[(f64, f64)], modulus_mn_per_mm2: f64) -> StiffnessSpec {
    StiffnessSpec::Grind {
        grind: grind.to_vec(),
        modulus_mn_per_mm2,
    }
}

/// One thing made wrong.
type Change = fn(&mut WireSpec);

/// The refusal of a good wire after a change.
fn refusal(change: impl FnOnce(&mut WireSpec)) -> DeviceError {
    let mut spec = good();
    change(&mut spec);
    let error = Wire::from_spec(&spec).expect_err("a refusal");
    assert_eq!(*error.place(), Place::top("wire").entry(11));
    let text = error.to_string();
    assert!(text.starts_with("wire 'soft': "), "{text}");
    assert!(text.contains("allowed ") && text.contains("; "), "{text}");
    error
}

#[test]
fn the_unchanged_wire_is_built() {
    assert!(Wire::from_spec(&good()).is_ok());
}

#[test]
fn numbers_outside_their_range_are_refused() {
    let changes: [(&str, Change); 14] = [
        ("diameter", |w| w.diameter_mm = 0.0),
        ("diameter", |w| w.diameter_mm = f64::NAN),
        ("torsion ratio", |w| w.torsion_ratio = -0.77),
        ("strain limit", |w| w.strain_limit = 0.0),
        ("lower plateau", |w| {
            w.core_law = CoreLawSpec::Superelastic {
                lower_over_upper: 1.2,
                plateau_strain: 0.05,
            };
        }),
        ("plateau strain", |w| {
            w.core_law = CoreLawSpec::Superelastic {
                lower_over_upper: 0.3,
                plateau_strain: 0.0,
            };
        }),
        ("friction", |w| w.friction = 2.1),
        ("friction", |w| w.friction = f64::NAN),
        ("tip load", |w| w.stiffness = tip_load(-1.0, &[])),
        ("core diameter", |w| {
            w.stiffness = grind(&[(0.0, f64::INFINITY)], STEEL);
        }),
        ("modulus", |w| w.stiffness = grind(&[(0.0, 0.1)], 0.0)),
        ("station", |w| w.stiffness = grind(&[(-1.0, 0.1)], STEEL)),
        ("length of a tip bend", |w| {
            w.tip.primary = bend(0.0, 0.0, 0.9);
        }),
        ("angle of a tip bend", |w| {
            w.tip.primary = bend(0.0, 3.0, f64::NAN);
        }),
    ];
    for (quantity, change) in changes {
        let error = refusal(change);
        assert!(matches!(error, DeviceError::OutOfRange { .. }), "{error}");
        assert!(error.to_string().contains(quantity), "{error}");
    }
}

#[test]
fn lists_without_order_or_content_are_refused() {
    let error = refusal(|w| w.stiffness = grind(&[], STEEL));
    assert!(matches!(error, DeviceError::NoStations { .. }));
    let error = refusal(|w| w.stiffness = tip_load(5.0, &[(30.0, 0.1), (20.0, 0.1)]));
    assert!(matches!(
        error,
        DeviceError::StationsNotRising { before_mm, value_mm, .. }
            if before_mm > 29.9 && value_mm < 20.1
    ));
}

#[test]
fn a_grind_that_begins_within_the_tip_load_length_is_refused() {
    let error = refusal(|w| w.stiffness = tip_load(5.0, &[(9.0, 0.06)]));
    assert!(matches!(error, DeviceError::GrindWithinTip { .. }));
    assert!(error.to_string().contains("9 mm") && error.to_string().contains("10 mm"));
}

#[test]
fn a_core_thicker_than_its_wire_is_refused() {
    let error = refusal(|w| w.stiffness = grind(&[(0.0, 0.1), (50.0, 0.4)], STEEL));
    assert!(error.to_string().contains("0.4000 mm"), "{error}");
    // A tip load of 300 gf in place of 3 needs a core of 0.2 mm, but not in a wire of 0.15 mm.
    let error = refusal(|w| {
        w.diameter_mm = 0.15;
        w.stiffness = tip_load(2942.0, &[]);
    });
    assert!(matches!(error, DeviceError::CoreThickerThanWire { .. }));
    let mut solid = good();
    solid.stiffness = grind(&[(0.0, 0.36)], STEEL);
    assert!(
        Wire::from_spec(&solid).is_ok(),
        "a solid rod fills its wire"
    );
}

#[test]
fn bends_that_overlap_or_are_too_tight_are_refused() {
    let error = refusal(|w| w.tip.secondary = bend(2.9, 4.0, 0.3));
    assert!(matches!(error, DeviceError::BendsOverlap { .. }));
    let error = refusal(|w| w.tip.primary = bend(0.0, 0.2, 1.2));
    assert!(matches!(
        error,
        DeviceError::BendTooTight {
            bend: "primary",
            ..
        }
    ));
}
