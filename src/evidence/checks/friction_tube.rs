//! The tube, wire and settings of the checks of friction.

use crate::contact::{WallSpec, WalledLumen};
use crate::evidence::Broken;
use crate::evidence::scenes::{BendTube, guide_tip, list_wire};
use crate::solve::{Assembly, Start, StepSettings};

/// Bending stiffness of the wire in mN mm², and its diameter in mm.
pub const BENDING: f64 = 50.0;
pub const WIRE_MM: f64 = 0.36;
/// Diameter of the lumen in mm, play of the wire in it, and radius of the bend.
pub const LUMEN_MM: f64 = 3.0;
pub const CLEARANCE_MM: f64 = 0.5 * (LUMEN_MM - WIRE_MM);
pub const BEND_MM: f64 = 10.0;
/// Wall of the shipped scenarios and one that is all but rigid, in mN/mm².
pub const SHIPPED_WALL: f64 = WallSpec::DEFAULT_STIFFNESS_MN_PER_MM2;
pub const STIFF_WALL: f64 = 3e4;

/// 5 mm straight, a quarter circle of that radius (mm), straight.
pub fn tube(bend_mm: f64) -> BendTube {
    BendTube {
        lead: 5.0,
        bend: bend_mm,
        angle: 90f64.to_radians(),
        radius: 0.5 * LUMEN_MM,
    }
}

/// The wire at the beginning of the bend.
pub fn wire_in(
    lumen: &BendTube,
    friction: f64,
    wall: f64,
    settings: StepSettings,
) -> Result<Assembly<'_>, Broken> {
    let start = Start {
        outside_mm: 5.0,
        longest_mm: 60.0,
        roll_rad: 0.0,
    };
    let wire = list_wire(BENDING, WIRE_MM, friction)?;
    Ok(Assembly::straight(
        &wire,
        WalledLumen::new(lumen, wall),
        guide_tip(),
        settings,
        start,
    )?)
}

/// Edges and steps of 0.25 mm, without drag.
pub fn settings() -> StepSettings {
    StepSettings {
        edge_mm: 0.25,
        drag: 0.0,
        feed_mm: 0.25,
        tolerance: 1e-5,
        ..StepSettings::default()
    }
}
