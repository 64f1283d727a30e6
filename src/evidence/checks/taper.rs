//! A wire whose core grows thicker behind the tip, as a cantilever under a small load across its tip.
//!
//! With `B(s) = B0 exp(a s)`, `s` from the tip, and the length `L`, the deflection is
//! `F int s²/B ds = F/(B0 a³) [2 - exp(-aL) (a²L² + 2aL + 2)]` (beam theory, small deflection).

use crate::contact::WalledLumen;
use crate::device::Wire;
use crate::evidence::scenes::{guide_tip, order, wire_spec};
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::scenario::model::{PieceSpec, StiffnessSpec, VesselSpec};
use crate::solve::{Assembly, Load, Start, StepSettings};
use crate::vessel::Tree;

/// Bending stiffness at the tip and at the guide in mN mm², length between in mm, load in mN.
const SOFT: f64 = 15.0;
const STIFF: f64 = 1500.0;
const LENGTH_MM: f64 = 40.0;
const LOAD: f64 = 2e-4;
/// Feed in mm so short that it only lets the load act.
const HARDLY_MM: f64 = 1e-7;

pub const CHECK: Check = Check {
    name: "taper",
    question: "Does a wire with a ground core bend as its stiffness along the length says?",
    origin: Origin::ClosedForm,
    source: "beam theory with an exponential stiffness, integrated in closed form",
    scene: "A wire of 15 mN mm² at the tip and 1500 mN mm² at the guide, 40 mm outside, a load across its tip; \
            edges of 0.25 mm",
    carries: &[Rests::Push, Rests::Wall, Rests::Tip, Rests::Outcome],
    set: Set::Short,
    covers,
    measure,
};

fn covers() -> Vec<Covered> {
    vec![
        Covered::over(Input::Stiffness, &[SOFT, STIFF]),
        Covered::over(Input::StiffnessRatio, &[1.0, STIFF / SOFT]),
        Covered::over(Input::Length, &[LENGTH_MM]),
    ]
}

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    let mut errors = Vec::new();
    for edge_mm in [0.25, 0.125, 0.0625] {
        errors.push(deflection(edge_mm)? / exact() - 1.0);
    }
    readings.share("deflection", errors[0], 1e-3);
    readings.order("deflection", order(&errors), 1.8);
    Ok(())
}

fn exact() -> f64 {
    let a = (STIFF / SOFT).ln() / LENGTH_MM;
    let al = a * LENGTH_MM;
    LOAD / (SOFT * a.powi(3)) * (2.0 - (-al).exp() * (al * al + 2.0 * al + 2.0))
}

/// Deflection of the tip in mm.
fn deflection(edge_mm: f64) -> Result<f64, Broken> {
    let mut spec = wire_spec(SOFT, 0.36, 0.0);
    spec.stiffness = StiffnessSpec::List {
        values: vec![(0.0, SOFT), (LENGTH_MM, STIFF), (2.0 * LENGTH_MM, STIFF)],
        modulus_mn_per_mm2: 200e6,
    };
    // A vessel so wide that nothing touches it.
    let pieces = vec![PieceSpec::Straight { length_mm: 120.0 }];
    let tree = Tree::build(&VesselSpec::single_tube(pieces, 40.0))?;
    let settings = StepSettings {
        tolerance: 1e-9,
        drag: 0.0,
        edge_mm,
        ..StepSettings::default()
    };
    let start = Start {
        outside_mm: LENGTH_MM,
        longest_mm: 60.0,
        roll_rad: 0.0,
    };
    let wire = Wire::from_spec(&spec)?;
    let lumen = WalledLumen::new(&tree, 300.0);
    let mut wire = Assembly::straight(&wire, lumen, guide_tip(), settings, start)?;
    let before = wire.tip().y;
    let body = wire
        .wire_body_mut()
        .ok_or_else(|| Broken("no wire".into()))?;
    body.loads.push(Load {
        unknown: 1,
        force: LOAD,
    });
    wire.feed(HARDLY_MM)?;
    Ok(wire.tip().y - before)
}
