//! A wire with friction turned at rest in a bend, against the law itself: the Coulomb force of every contact
//! at the arm at which its surface spins.

use super::friction_tube::{
    BENDING, CLEARANCE_MM, LUMEN_MM, SHIPPED_WALL, STIFF_WALL, WIRE_MM, settings, tube, wire_in,
};
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::solve::{Assembly, StepSettings};

/// Radii of the bend in mm, frictions, and steps of turning in degrees.
const BENDS_MM: [f64; 2] = [10.0, 30.0];
const FRICTIONS: [f64; 2] = [0.002, 0.1];
const STEPS_DEG: [f64; 5] = [0.25, 1.0, 2.0, 5.0, 10.0];

pub const CHECK: Check = Check {
    name: "torque-at-rest",
    question: "What torque does it take to turn a wire that lies in a bend?",
    origin: Origin::OwnLaw,
    source: "Coulomb's law at the contacts of the same state",
    scene: "A straight wire in a quarter circle of 10 or 30 mm radius, turned by 120 degrees in steps of 0.25 to \
            10 degrees, friction 0.002 and 0.1, wall 300 and 3e4 mN/mm²",
    carries: &[Rests::Torque, Rests::Outcome],
    set: Set::Short,
    covers,
    measure,
};

fn covers() -> Vec<Covered> {
    vec![
        Covered::over(Input::Device, &[WIRE_MM]),
        Covered::over(Input::Lumen, &[LUMEN_MM]),
        Covered::over(Input::Turn, &[90.0]),
        Covered::over(Input::Friction, &FRICTIONS),
        Covered::over(Input::Stiffness, &[BENDING]),
        Covered::over(Input::Clearance, &BENDS_MM.map(|bend| CLEARANCE_MM / bend)),
        Covered::over(Input::Curvature, &BENDS_MM.map(|bend| 1.0 / bend)),
        Covered::over(Input::Wall, &[SHIPPED_WALL, STIFF_WALL]),
    ]
}

/// Torque by the law: the Coulomb force of every contact at the arm at which its surface spins.
fn torque_of_contacts(wire: &Assembly<'_>, friction: f64) -> Option<f64> {
    let body = wire.wire_body()?;
    let contact = body.contact.as_ref()?;
    let radius = contact.surface.radius;
    let moments = contact.active_contacts().iter().map(|active| {
        let tangent = body.rod.tangent(contact.points[active.point].edge);
        friction * active.normal_force * radius * tangent.cross(&active.normal).norm()
    });
    Some(moments.sum())
}

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    // Friction moments shift the contacts themselves by some share of `mu`: torque is compared with the
    // contacts of the same state.
    for bend_mm in BENDS_MM {
        for wall in [SHIPPED_WALL, STIFF_WALL] {
            for friction in FRICTIONS {
                let mut torques = Vec::new();
                for step_deg in STEPS_DEG {
                    let tube = tube(bend_mm);
                    let turned = StepSettings {
                        turn_rad: step_deg.to_radians(),
                        tolerance: 1e-6,
                        ..settings()
                    };
                    let mut wire = wire_in(&tube, friction, wall, turned)?;
                    wire.feed(15.0)?;
                    wire.turn(120f64.to_radians())?;
                    let law = torque_of_contacts(&wire, friction);
                    let law = law.ok_or_else(|| Broken("no wire in a tube".into()))?;
                    torques.push((wire.torque(), law));
                }
                let first = torques[0].0;
                let off = torques.iter().map(|(torque, law)| torque / law - 1.0);
                let apart = torques.iter().map(|(torque, _)| torque / first - 1.0);
                let most =
                    |all: &mut dyn Iterator<Item = f64>| all.map(f64::abs).fold(0.0, f64::max);
                let what = format!("bend of {bend_mm} mm, wall {wall} mN/mm², friction {friction}");
                readings.share(format!("{what}: torque"), most(&mut off.into_iter()), 0.01);
                readings.share(
                    format!("{what}: steps of 0.25 to 10 degrees"),
                    most(&mut apart.into_iter()),
                    0.01,
                );
            }
        }
    }
    Ok(())
}
