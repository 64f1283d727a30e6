//! A plain wire and a guide that holds, as scenarios describe them.

use nalgebra::Vector3;

use crate::device::Wire;
use crate::evidence::Broken;
use crate::scenario::model::{CoreLawSpec, Place, StiffnessSpec, TipSpec, WireSpec};
use crate::solve::GuideTip;

/// The description of a straight elastic wire of uniform bending stiffness (mN mm²), diameter (mm) and
/// friction.
#[must_use]
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
        core_law: CoreLawSpec::Elastic,
        place: Place::default(),
    }
}

/// That wire.
///
/// # Errors
///
/// Where it cannot be built.
pub fn list_wire(stiffness: f64, diameter_mm: f64, friction: f64) -> Result<Wire, Broken> {
    Ok(Wire::from_spec(&wire_spec(
        stiffness,
        diameter_mm,
        friction,
    ))?)
}

/// A guide that ends at the origin, along +x, and holds.
#[must_use]
pub fn guide_tip() -> GuideTip {
    GuideTip {
        exit: Vector3::zeros(),
        axis: Vector3::x(),
        backup: None,
    }
}
