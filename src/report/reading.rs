//! What several figures read from a record.

use nalgebra::Vector3;

use crate::trial::result::{TraceRow, WireShape};

/// Where the tip lies at a recorded step, in mm.
#[must_use]
pub fn tip(row: &TraceRow) -> Vector3<f64> {
    Vector3::new(row.tip_x_mm, row.tip_y_mm, row.tip_z_mm)
}

/// How many nodes of a shape, from its first, a catheter covers.
#[must_use]
pub fn covered(shape: &WireShape, wire_diameter_mm: f64) -> usize {
    let thicker = |d: &&f64| **d > 1.001 * wire_diameter_mm;
    shape.diameter_mm.iter().take_while(thicker).count()
}
