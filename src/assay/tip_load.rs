//! Tip load: the wire is held behind its tip and driven against a plate.

use nalgebra::Vector3;

use super::AssayError;
use super::fixture::Plate;
use super::piece::Held;
use crate::contact::Surface;
use crate::device::Wire;

/// Stiffness of the plate in mN/mm per mm of wire: stiff against every tip.
const PLATE: f64 = 1e5;
/// Largest travel of the chuck in one step over the held length.
const STEP: f64 = 1e-3;
/// The same for a shaped tip, whose load rises slowly.
const SHAPED_STEP: f64 = 2e-3;
/// Least number of steps.
const LEAST_STEPS: f64 = 100.0;
/// Bow of the guess from which each equilibrium is sought, over the held length: it takes the
/// solver off a straight state that is no longer stable.
const NUDGE: f64 = 1e-4;
/// How far the chuck leans from the plate's normal, in rad: the flaw from which a straight wire
/// buckles. A real chuck leans more; here it only breaks the tie between two sides.
const LEAN_RAD: f64 = 2e-5;

/// Load in mN against travel in mm while the chuck drives the wire against the plate.
#[derive(Debug, Clone, PartialEq)]
pub struct Driven {
    /// Travel of the chuck since the tip touched the plate, in mm, and load in mN.
    pub curve: Vec<[f64; 2]>,
    /// The tip load in mN: the largest load on the way.
    pub tip_load_mn: f64,
}

/// Drives the tip of `wire`, held `held_mm` behind it, against a plate of the given friction until
/// the chuck has travelled `travel_mm` since the tip touched.
///
/// The chuck moves along the plate's normal. The plate acts on the wire's axis: a tip that does
/// not slide may turn on it.
///
/// # Errors
/// [`AssayError`] where no equilibrium is found.
pub fn drive(
    wire: &Wire,
    held_mm: f64,
    travel_mm: f64,
    friction: f64,
    edge_mm: f64,
) -> Result<Driven, AssayError> {
    let [bent, across] = wire.natural_curvature_between(0.0, wire.bends_end_mm());
    let shaped = bent.hypot(across) > 0.0;
    let longest = if shaped { SHAPED_STEP } else { STEP } * held_mm;
    let steps = (travel_mm / longest).ceil().max(LEAST_STEPS);
    let step = travel_mm / steps;
    let held = Held::new(wire, held_mm, edge_mm).map_err(AssayError::solver("tip load"))?;
    let reach = (0..=held.exit())
        .map(|i| held.body.rod.node(i).x)
        .fold(0.0, f64::max);
    let normal = Vector3::new(1.0, LEAN_RAD, 0.0).normalize();
    let radius = wire.radius_mm();
    let plate = Plate {
        at: Vector3::x() * (reach + radius),
        normal,
    };
    let surface = Surface {
        radius,
        friction,
        wall: PLATE.into(),
        spacing: edge_mm,
    };
    // A shaped tip deflects to the side of its bend.
    let bow = if shaped { 0.0 } else { NUDGE * held_mm };
    let mut held = held.before(&plate, surface);
    let mut driven = Driven {
        curve: vec![[0.0, 0.0]],
        tip_load_mn: 0.0,
    };
    let mut travel = 0.0;
    while travel < travel_mm - 0.5 * step {
        travel += step;
        held.advance(&(normal * step), bow)
            .map_err(AssayError::solver("tip load"))?;
        let load = held.chuck_force().dot(&normal);
        driven.curve.push([travel, load]);
        driven.tip_load_mn = driven.tip_load_mn.max(load);
    }
    Ok(driven)
}
