//! A catheter over a wire as a cantilever and as a column: stiffnesses add.

use crate::contact::{WallSpec, WalledLumen};
use crate::device::Catheter;
use crate::evidence::scenes::{guide_tip, list_wire};
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::scenario::model::{CatheterSpec, PieceSpec, Place, VesselSpec};
use crate::solve::{Assembly, Hands, Load, PairStart, StepSettings};
use crate::vessel::Tree;

/// Bending stiffness of wire and catheter in mN mm², and length outside the guide in mm.
const WIRE: f64 = 300.0;
const CATHETER: f64 = 900.0;
const LENGTH_MM: f64 = 20.0;
/// Parts of that length which the catheter covers, in mm.
const COVERED_MM: [f64; 3] = [8.0, 12.1, 15.03];

pub const CHECK: Check = Check {
    name: "wire-in-catheter",
    question: "Do the stiffnesses of a wire and the catheter over it add?",
    origin: Origin::ClosedForm,
    source: "cantilever F L³/(3 B), stiffness by parts; Euler load pi² B/(4 L²)",
    scene: "A wire of 300 and a catheter of 900 mN mm² with 20 mm outside, covered in part or whole, loaded across \
            and along",
    carries: &[Rests::Catheter, Rests::Push, Rests::Wall],
    set: Set::Short,
    covers,
    measure,
};

fn covers() -> Vec<Covered> {
    vec![
        Covered::over(Input::Stiffness, &[WIRE, CATHETER]),
        Covered::over(Input::StiffnessRatio, &[1.0, (WIRE + CATHETER) / WIRE]),
        Covered::over(Input::Length, &[LENGTH_MM]),
    ]
}

fn catheter() -> Result<Catheter, Broken> {
    let spec = CatheterSpec {
        name: "catheter".into(),
        outer_diameter_mm: 0.9,
        inner_diameter_mm: 0.45,
        stiffness: vec![(0.0, CATHETER)],
        torsion_ratio: 1.0 / 1.3,
        friction: 0.0,
        friction_inside: 0.0,
        tip: None,
        side_port: None,
        place: Place::default(),
    };
    Ok(Catheter::from_spec(&spec)?)
}

/// Deflection in mm of a straight pair with a catheter over `covered` mm, under a load on its front (mN): along the
/// axis (positive: pushing back) and across it.
fn deflection(covered: f64, back: f64, across: f64) -> Result<f64, Broken> {
    // A vessel so wide that nothing touches it.
    let pieces = vec![PieceSpec::Straight { length_mm: 60.0 }];
    let tree = Tree::build(&VesselSpec::single_tube(pieces, 40.0))?;
    let mut pair = Assembly::pair(
        (&list_wire(WIRE, 0.36, 0.0)?, &catheter()?),
        WalledLumen::new(&tree, WallSpec::default()),
        guide_tip(),
        StepSettings {
            tolerance: 1e-9,
            drag: 0.0,
            ..StepSettings::default()
        },
        PairStart {
            wire_mm: LENGTH_MM,
            catheter_mm: covered,
            longest_mm: 30.0,
            wire_roll_rad: 0.0,
            catheter_roll_rad: 0.0,
        },
    )?;
    let body = pair
        .pair_body_mut()
        .ok_or_else(|| Broken("no pair".into()))?;
    for (unknown, force) in [(0, -back), (1, across)] {
        body.loads.push(Load { unknown, force });
    }
    pair.move_hands(Hands::default())?;
    Ok(pair.tip().y)
}

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    let (length, load) = (LENGTH_MM, 0.05);
    let measured = deflection(length, 0.0, load)?;
    let expected = load * length.powi(3) / (3.0 * (WIRE + CATHETER));
    readings.share(
        "covered as a whole, deflection",
        measured / expected - 1.0,
        2e-3,
    );
    for covered in COVERED_MM {
        let load = 0.02;
        let measured = deflection(covered, 0.0, load)?;
        let bare = (length - covered).powi(3);
        let expected = load / 3.0 * ((length.powi(3) - bare) / (WIRE + CATHETER) + bare / WIRE);
        let what = format!("covered over {covered} mm of {length}, deflection");
        readings.share(what, measured / expected - 1.0, 4e-3);
    }
    // Fixed and free: P L²/B = pi²/4. Near it the inverse of the deflection falls to zero as a
    // straight line (Southwell's plot).
    let euler = std::f64::consts::PI.powi(2) / 4.0 * (WIRE + CATHETER) / length.powi(2);
    let stiffness = |share: f64| {
        let across = 1e-3;
        deflection(length, share * euler, across).map(|deflection| across / deflection)
    };
    let (a, b) = (stiffness(0.9)?, stiffness(0.97)?);
    let found = 0.97 + 0.07 * b / (a - b);
    readings.share("Euler load of the pair", found - 1.0, 5e-3);
    Ok(())
}
