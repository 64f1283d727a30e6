//! Kink: a loop of wire between two plates that come together, until the core yields and on, to a
//! loop half as large, and what set the wire keeps then.

use nalgebra::Vector3;

use super::AssayError;
use super::fixture::Slot;
use super::piece::{force_scale, rod, set_rad, stations, strain_ratio};
use crate::contact::{Contact, Surface};
use crate::device::Wire;
use crate::solve::{Body, Newton, NewtonOptions};

/// Radius of the first loop over the radius at which the core would yield in a circle.
const FIRST_LOOP: f64 = 2.0;
/// Length of wire on each side of the loop's middle over that radius: the half circle of the
/// first loop and legs that still lie on the plates when the loop is small.
const HALF_LENGTH: f64 = 4.0;
/// Share of the plates' distance by which they come together in one step.
const STEP: f64 = 0.02;
/// Edges on each side of the middle.
const EDGES: f64 = 80.0;
/// Last loop over the one at which the core reaches its limit.
const LAST_LOOP: f64 = 0.5;

/// A loop made smaller.
#[derive(Debug, Clone, PartialEq)]
pub struct Looped {
    /// Half the distance of the legs in mm, largest strain over the limit, and angle in degrees that
    /// the wire would keep if it were released.
    pub curve: Vec<[f64; 3]>,
    /// Half the distance of the legs in mm at which the strain reaches the limit.
    pub loop_radius_mm: f64,
    /// Angle in rad that the wire keeps after a loop half as large; `None` where its legs would touch
    /// before.
    pub set_rad: Option<f64>,
}

/// Length of wire in mm needed on each side of the loop's middle.
#[must_use]
pub fn half_length_mm(wire: &Wire, station_mm: f64) -> f64 {
    HALF_LENGTH * wire.core_radius(station_mm) / wire.strain_limit()
}

/// Lays a loop of wire, its middle `station_mm` behind the tip, between two smooth grooved plates
/// and brings them together until the core's strain reaches its limit, and on to half that distance
/// or until the legs would touch.
///
/// # Errors
/// [`AssayError`] where no equilibrium is found, or the limit is not reached before the wire's two
/// legs would touch.
pub fn loop_down(wire: &Wire, station_mm: f64) -> Result<Looped, AssayError> {
    let test = || format!("kink at {station_mm} mm");
    let round = wire.core_radius(station_mm) / wire.strain_limit();
    let half = HALF_LENGTH * round;
    let along = stations(station_mm - half, station_mm + half, half / EDGES);
    let mut radius = FIRST_LOOP * round;
    let nodes: Vec<_> = along
        .iter()
        .map(|s| u_shape(s - station_mm, radius))
        .collect();
    let stiffness = wire.bending_stiffness(station_mm);
    let scale = force_scale(stiffness, radius);
    let axial = 1e3 * scale;
    let mut state = rod(wire, &along, &nodes, axial, Vector3::y());
    // Plates that are indented by a thousandth of the loop's radius under its force.
    let wall = 1e2 * scale / (radius * radius);
    let surface = Surface {
        radius: wire.radius_mm(),
        friction: 0.0,
        wall: wall.into(),
        spacing: half / EDGES,
    };
    let middle = along.len() / 2;
    let mut newton = Newton::default();
    let mut options = NewtonOptions::with_tolerance(1e-7 * scale);
    options.max_iterations = 300;
    options.max_move = 0.2 * round;
    let mut curve: Vec<[f64; 3]> = Vec::new();
    let mut at_limit: Option<f64> = None;
    loop {
        let slot = Slot {
            half_mm: radius + wire.radius_mm(),
        };
        let contact = Contact::new(&slot, surface.clone(), &state, state.edges.len(), false);
        let mut body = Body::new(state).with_contact(contact);
        // Grooves keep the loop in its plane. Its middle is held level, so that a wire that grows
        // thicker does not slide round until the loop lies in its softest part.
        body.fixed = (0..along.len()).map(|i| 4 * i + 2).collect();
        body.fixed.extend([4 * middle - 3, 4 * middle + 5]);
        body.fix_rotation(middle);
        newton
            .equilibrate(&mut body, &options)
            .map_err(AssayError::solver(test()))?;
        body.settle();
        state = body.rod;
        let across = |i: usize| state.node(i).x;
        let (low, high) = (0..along.len())
            .map(across)
            .fold((0.0, 0.0), |(low, high): (f64, f64), x| {
                (low.min(x), high.max(x))
            });
        let width = 0.5 * (high - low);
        let ratio = (1..along.len() - 1)
            .map(|i| strain_ratio(wire, &state, i, along[i]))
            .fold(0.0, f64::max);
        let set = set_rad(&state);
        let last = curve.last().copied().unwrap_or([width, ratio, 0.0]);
        curve.push([width, ratio, set.to_degrees()]);
        if ratio >= 1.0 && at_limit.is_none() {
            let share = if ratio > last[1] {
                (1.0 - last[1]) / (ratio - last[1])
            } else {
                1.0
            };
            at_limit = Some(last[0] + share * (width - last[0]));
        }
        radius *= 1.0 - STEP;
        let touch = radius < wire.radius_mm();
        match at_limit {
            Some(loop_radius_mm) if touch || width <= LAST_LOOP * loop_radius_mm => {
                return Ok(Looped {
                    curve,
                    loop_radius_mm,
                    set_rad: (!touch).then_some(set),
                });
            }
            None if touch => {
                return Err(AssayError::Search {
                    test: test(),
                    wanted: "a loop small enough to reach the strain limit".into(),
                });
            }
            _ => {}
        }
    }
}

/// A half circle about the origin with straight legs downwards.
fn u_shape(s: f64, radius: f64) -> Vector3<f64> {
    let angle = s / radius;
    let quarter = std::f64::consts::FRAC_PI_2;
    let turned = angle.clamp(-quarter, quarter);
    Vector3::new(
        -radius * turned.sin(),
        radius * turned.cos() - (s.abs() - quarter * radius).max(0.0),
        0.0,
    )
}
