//! Three-point bending: the wire lies on two supports and is pressed down between them.

use nalgebra::Vector3;
use std::f64::consts::PI;

use super::AssayError;
use super::piece::{force_scale, rod, stations};
use crate::device::Wire;
use crate::scenario::bench::OVERHANG_OVER_SPAN;
use crate::solve::{Body, Newton, NewtonOptions};

/// Edges over the span.
const EDGES: f64 = 100.0;
/// Load against deflection at one station.
#[derive(Debug, Clone, PartialEq)]
pub struct StationCurve {
    /// Deflection under the load in mm, and load in mN.
    pub curve: Vec<[f64; 2]>,
    /// Flexural stiffness in mN mm²: `F L³ / (48 d)` from the first reading's load and
    /// deflection, as a laboratory reduces the test (ASTM D790 and textbooks: beam on two
    /// supports, small deflection).
    pub stiffness: f64,
}

impl StationCurve {
    /// Apparent modulus in mN/mm² of a solid round wire of the given diameter and this stiffness:
    /// `64 EI / (pi d⁴)`.
    #[must_use]
    pub fn apparent_modulus(&self, diameter_mm: f64) -> f64 {
        64.0 * self.stiffness / (PI * diameter_mm.powi(4))
    }
}

/// Presses the wire down by `deflection_mm` at `station_mm` behind its tip, in `readings` equal
/// steps, between two supports `span_mm` apart that hold it up and let it slide and tilt.
///
/// # Errors
/// [`AssayError`] where no equilibrium is found.
pub fn press(
    wire: &Wire,
    station_mm: f64,
    span_mm: f64,
    deflection_mm: f64,
    readings: u32,
) -> Result<StationCurve, AssayError> {
    let half = 0.5 * span_mm;
    let edge = span_mm / EDGES;
    let arm = stations(0.0, half, edge);
    let over = stations(0.0, OVERHANG_OVER_SPAN * span_mm, edge);
    let from_load: Vec<f64> = arm
        .iter()
        .copied()
        .chain(over[1..].iter().map(|s| half + s))
        .collect();
    let along: Vec<f64> = from_load[1..]
        .iter()
        .rev()
        .map(|s| station_mm - s)
        .chain(from_load.iter().map(|s| station_mm + s))
        .collect();
    let (load, support) = (from_load.len() - 1, over.len() - 1);
    let supports = [support, along.len() - 1 - support];
    let nodes: Vec<_> = along
        .iter()
        .map(|s| Vector3::x() * (station_mm - s))
        .collect();
    let scale = force_scale(wire.bending_stiffness(station_mm), span_mm);
    let axial = 1e3 * scale;
    let mut body = Body::new(rod(wire, &along, &nodes, axial, Vector3::y()));
    // The load holds the wire along its axis and in its plane; each support holds it up.
    body.fix_node(load);
    body.fix_rotation(load);
    for node in supports {
        body.fixed.extend([4 * node + 1, 4 * node + 2]);
    }
    body.fixed.sort_unstable();
    let mut newton = Newton::default();
    let options = NewtonOptions::with_tolerance(1e-9 * scale);
    let mut curve = vec![[0.0, 0.0]];
    for reading in 1..=readings {
        let depth = deflection_mm * f64::from(reading) / f64::from(readings);
        let mut at = body.rod.node(load);
        at.y = -depth;
        body.rod.set_node(load, &at);
        body.rod.refresh();
        newton
            .equilibrate(&mut body, &options)
            .map_err(AssayError::solver(format!(
                "three-point bending at {station_mm} mm"
            )))?;
        curve.push([depth, -newton.gradient[4 * load + 1]]);
    }
    let [deflection, force] = curve[1];
    Ok(StationCurve {
        stiffness: force * span_mm.powi(3) / (48.0 * deflection),
        curve,
    })
}
