//! A wire with Coulomb friction fed round a bend, against an independent solution.
//!
//! Reference values of the push: piecewise elastica by shooting with Coulomb friction at all
//! contacts, computed independently of this project; the energy balance of that solution closes to
//! 1e-10. Tube and wire as in `bend_without_friction.rs`: straight for 5 mm from the clamp, a quarter
//! circle of 10 mm radius, straight; lumen 3 mm, wire 0.36 mm. Values per unit bending stiffness.

use super::friction_tube::{
    BEND_MM, BENDING, CLEARANCE_MM, LUMEN_MM, STIFF_WALL, WIRE_MM, settings, tube, wire_in,
};
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::solve::StepSettings;

/// `d, push/B at friction 0.1, at friction 0.3`; `d` is the length past the bend's start in mm.
const PUSH: [[f64; 3]; 11] = [
    [6.0, 0.0006193, 0.0009198],
    [8.0, 0.0019894, 0.0029758],
    [10.0, 0.0030590, 0.0046421],
    [12.0, 0.0040663, 0.0063132],
    [14.0, 0.0065002, 0.0098435],
    [15.0, 0.0072436, 0.0109704],
    [16.0, 0.0064312, 0.0099068],
    [18.0, 0.0044845, 0.0074055],
    [20.0, 0.0030646, 0.0055403],
    [24.0, 0.0014796, 0.0033004],
    [26.0, 0.0010479, 0.0026256],
];
/// Largest push at friction 0.1 and 0.3.
const PEAKS: [f64; 2] = [0.0073243, 0.0110895];

/// Frictions of the table.
const FRICTIONS: [f64; 2] = [0.1, 0.3];

pub const CHECK: Check = Check {
    name: "bend-with-friction",
    question: "With what force is a wire with friction pushed round a bend?",
    origin: Origin::Computed,
    source: "piecewise elastica with Coulomb friction by shooting; its energy balance closes to 1e-10",
    scene: "A straight wire fed into a quarter circle of 10 mm radius, lumen 3 mm, friction 0.1 and 0.3; edges \
            of 0.125 mm",
    carries: &[Rests::Push, Rests::Wall, Rests::Tip, Rests::Outcome],
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
        Covered::over(Input::Clearance, &[CLEARANCE_MM / BEND_MM]),
        // The tube is straight before and behind its bend.
        Covered::over(Input::Curvature, &[0.0, 1.0 / BEND_MM]),
        Covered::over(Input::Length, &[5.0, PUSH[10][0] + 5.0]),
        Covered::over(Input::Wall, &[STIFF_WALL]),
    ]
}

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    for (column, friction) in FRICTIONS.into_iter().enumerate() {
        let tube = tube(BEND_MM);
        // Behind the tip edges are up to twice as long.
        let fine = StepSettings {
            edge_mm: 0.125,
            ..settings()
        };
        let mut wire = wire_in(&tube, friction, STIFF_WALL, fine)?;
        let (mut worst, mut off_limit): (f64, f64) = (0.0, 0.0);
        for row in PUSH {
            wire.feed(row[0] + 5.0 - wire.outside_mm())?;
            let off = wire.push_force() / BENDING - row[column + 1];
            worst = worst.max(off.abs());
            // What slides carries its Coulomb force exactly; see `NewtonOptions::MOST_FRICTION`.
            off_limit = off_limit.max((wire.friction_ratio() - 1.0).abs());
        }
        let what = format!("friction {friction}, push force, of its peak");
        readings.share(what, worst / PEAKS[column], 0.01);
        let what = format!("friction {friction}, friction forces off mu N");
        readings.share(what, off_limit, 1e-9);
    }
    Ok(())
}
