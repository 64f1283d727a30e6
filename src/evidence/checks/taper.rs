//! A wire whose core grows thicker behind the tip, as a cantilever under a small load across its tip.
//!
//! With `B(s) = B0 exp(a s)`, `s` from the tip, and the length `L`, the deflection under the load `F` is
//! `F int s²/B ds = F/(B0 a³) [2 - exp(-aL) (a²L² + 2aL + 2)]` (beam theory, small deflection).

use crate::contact::{WallSpec, WalledLumen};
use crate::device::Wire;
use crate::evidence::scenes::{guide_tip, order, wire_spec};
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::scenario::model::{PieceSpec, StiffnessSpec, VesselSpec};
use crate::solve::{Assembly, Load, Start, StepSettings};
use crate::vessel::Tree;

/// A wire from its tip to the guide.
#[derive(Clone, Copy)]
struct Case {
    /// Bending stiffness at the tip and at the guide in mN mm².
    soft: f64,
    stiff: f64,
    /// Length between in mm.
    length_mm: f64,
}

const fn case(soft: f64, stiff: f64, length_mm: f64) -> Case {
    Case {
        soft,
        stiff,
        length_mm,
    }
}

/// The case whose order is read, and others.
const MAIN: Case = case(15.0, 1500.0, 40.0);
const CASES: [Case; 3] = [MAIN, case(5.0, 50.0, 15.0), case(15.0, 60_000.0, 120.0)];
/// Deflection in mm that the load is chosen for: small, so that beam theory holds.
const DEFLECTION_MM: f64 = 0.05;
/// Feed in mm so short that it only lets the load act.
const HARDLY_MM: f64 = 1e-7;

pub const CHECK: Check = Check {
    name: "taper",
    question: "Does a wire with a ground core bend as its stiffness along the length says?",
    origin: Origin::ClosedForm,
    source: "beam theory with an exponential stiffness, integrated in closed form",
    scene: "Wires of 5 to 15 mN mm² at the tip and 10, 100 and 4000 times that at the guide, 15 to 120 mm outside, \
            a load across the tip; edges of 0.25 mm",
    carries: &[Rests::Push, Rests::Wall, Rests::Tip, Rests::Outcome],
    set: Set::Short,
    covers,
    measure,
};

fn covers() -> Vec<Covered> {
    let stiffness: Vec<f64> = CASES.iter().flat_map(|c| [c.soft, c.stiff]).collect();
    vec![
        Covered::over(Input::Stiffness, &stiffness),
        Covered::over(Input::StiffnessRatio, &CASES.map(|c| c.stiff / c.soft)),
        Covered::over(Input::Length, &CASES.map(|c| c.length_mm)),
    ]
}

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    for case in CASES {
        let ratio = case.stiff / case.soft;
        let what = format!("{ratio} times over {} mm, deflection", case.length_mm);
        readings.share(what, error(case, 0.25)?, 1e-3);
    }
    let errors = [0.25, 0.125, 0.0625].map(|edge_mm| error(MAIN, edge_mm));
    let errors = errors.into_iter().collect::<Result<Vec<_>, _>>()?;
    readings.order("deflection", order(&errors), 1.8);
    Ok(())
}

/// Deflection in mm for each mN.
fn exact(case: Case) -> f64 {
    let a = (case.stiff / case.soft).ln() / case.length_mm;
    let al = a * case.length_mm;
    (2.0 - (-al).exp() * (al * al + 2.0 * al + 2.0)) / (case.soft * a.powi(3))
}

/// Relative error of the deflection of the tip.
fn error(case: Case, edge_mm: f64) -> Result<f64, Broken> {
    let Case {
        soft,
        stiff,
        length_mm,
    } = case;
    let mut spec = wire_spec(soft, 0.36, 0.0);
    spec.stiffness = StiffnessSpec::List {
        values: vec![(0.0, soft), (length_mm, stiff), (2.0 * length_mm, stiff)],
        modulus_mn_per_mm2: 200e6,
    };
    // A vessel so wide that nothing touches it.
    let pieces = vec![PieceSpec::Straight {
        length_mm: 3.0 * length_mm,
    }];
    let tree = Tree::build(&VesselSpec::single_tube(pieces, 40.0))?;
    let settings = StepSettings {
        tolerance: 1e-9,
        drag: 0.0,
        edge_mm,
        ..StepSettings::default()
    };
    let start = Start {
        outside_mm: length_mm,
        longest_mm: 1.5 * length_mm,
        roll_rad: 0.0,
    };
    let wire = Wire::from_spec(&spec)?;
    let lumen = WalledLumen::new(&tree, WallSpec::default());
    let mut wire = Assembly::straight(&wire, lumen, guide_tip(), settings, start)?;
    let before = wire.tip().y;
    let body = wire
        .wire_body_mut()
        .ok_or_else(|| Broken("no wire".into()))?;
    body.loads.push(Load {
        unknown: 1,
        force: DEFLECTION_MM / exact(case),
    });
    wire.feed(HARDLY_MM)?;
    Ok((wire.tip().y - before) / DEFLECTION_MM - 1.0)
}
