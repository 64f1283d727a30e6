//! Pieces shared by the tests.
#![allow(dead_code, reason = "each test uses its share")]

pub mod lumens;
pub mod pulled;

use bendwise::device::Wire;
use bendwise::scenario::model::*;
use nalgebra::Vector3;

/// A single tube from the origin along +x, bending towards +y in plane 0.
pub fn single_tube(pieces: Vec<PieceSpec>, diameter_mm: f64) -> VesselSpec {
    VesselSpec {
        branches: vec![BranchSpec {
            name: "tube".into(),
            attached: None,
            path: PathSpec::Pieces {
                start_mm: Vector3::zeros(),
                direction: Vector3::x(),
                take_off_rad: 0.0,
                take_off_plane_rad: 0.0,
                pieces,
            },
            diameters: vec![(0.0, diameter_mm)],
            place: Place::default(),
        }],
        narrowings: vec![],
        carina_blend_mm: 0.0,
        wall_stiffness_mn_per_mm2: 300.0,
    }
}

/// A straight wire of uniform bending stiffness (mN mm²), diameter (mm) and friction.
pub fn list_wire(stiffness: f64, diameter_mm: f64, friction: f64) -> Wire {
    Wire::from_spec(&wire_spec(stiffness, diameter_mm, friction)).expect("a plain wire")
}

/// The description of that wire.
pub fn wire_spec(stiffness: f64, diameter_mm: f64, friction: f64) -> WireSpec {
    WireSpec {
        name: "wire".into(),
        diameter_mm,
        stiffness: StiffnessSpec::List {
            values: vec![(0.0, stiffness)],
            modulus_mn_per_mm2: 200e6,
        },
        torsion_ratio: 1.0 / 1.3,
        friction,
        tip: TipSpec {
            primary: None,
            secondary: None,
        },
        strain_limit: 0.01,
        place: Place::default(),
    }
}

/// Prints a line of the table of checks and asserts that the measured size keeps the limit.
#[track_caller]
pub fn report(check: &str, measured: f64, limit: f64) {
    println!("CHECK | {check} | {measured:.4} | {limit}");
    assert!(
        measured.abs() <= limit,
        "{check}: measured {measured}, limit {limit}"
    );
}
