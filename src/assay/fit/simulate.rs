//! The simulated tests of a fit.

use super::Curve;
use crate::assay::flexibility::{self, SideForce};
use crate::assay::{AssayError, three_point, tip_load};
use crate::device::Wire;
use crate::scenario::bench::{AssaySpec, FitSpec, MeasuredTipLoad};
use crate::scenario::model::EndCondition;

/// Travel of the chuck over the held length in the simulated tip load.
const TIP_LOAD_TRAVEL: f64 = 0.03;
/// Least friction of the plate that counts as pinning the tip: with it the largest load of a
/// uniform tip is that of a pinned column within 2 %.
const LEAST_PINNED_FRICTION: f64 = 0.03;

/// Loads in mN that the simulated tests give where the curves were measured, curve after curve in
/// the order of their rows, the tip load last if one was measured.
///
/// # Errors
/// [`AssayError`] where no equilibrium is found.
pub fn predict(
    wire: &Wire,
    fit: &FitSpec,
    curves: &[Curve],
    assay: &AssaySpec,
) -> Result<Vec<f64>, AssayError> {
    let mut loads = Vec::new();
    for (spec, curve) in fit.curves.iter().zip(curves) {
        match curve {
            Curve::ThreePoint(rows) => {
                for &[station, deflection, _] in rows {
                    let pressed = three_point::press(wire, station, spec.span_mm, deflection, 1)?;
                    loads.extend(pressed.curve.last().map(|reading| reading[1]));
                }
            }
            Curve::Flexibility(rows) => {
                for same in rows.chunk_by(|a, b| a[0].total_cmp(&b[0]).is_eq()) {
                    loads.extend(side_forces(wire, fit, same, assay.edge_mm)?);
                }
            }
        }
    }
    if let Some(measured) = &fit.tip_load {
        loads.push(plate_load(wire, measured, assay)?);
    }
    Ok(loads)
}

/// Side forces in mN at the angles of `rows`, which share a held length.
fn side_forces(
    wire: &Wire,
    fit: &FitSpec,
    rows: &[[f64; 3]],
    edge_mm: f64,
) -> Result<Vec<f64>, AssayError> {
    let angles: Vec<f64> = rows.iter().map(|row| row[1]).collect();
    let held = rows[0][0];
    let forces = flexibility::forces(wire, held, &angles, SideForce::SquareToTip, edge_mm)?;
    let found = forces.into_iter().zip(angles).map(|(force, angle)| {
        force.ok_or_else(|| AssayError::Search {
            test: format!("fit {}, held {held} mm", fit.name),
            wanted: format!("the tip to {:.1} degrees", angle.to_degrees()),
        })
    });
    found.collect()
}

/// Largest load in mN of the straight tip on a plate: a smooth one where the tip was free, one on
/// which it does not slide where it was pinned.
fn plate_load(
    wire: &Wire,
    measured: &MeasuredTipLoad,
    assay: &AssaySpec,
) -> Result<f64, AssayError> {
    let test = &assay.tip_load;
    let friction = match measured.end_condition {
        EndCondition::FixedFree => 0.0,
        EndCondition::FixedPinned => test
            .plate_friction
            .unwrap_or(wire.friction())
            .max(LEAST_PINNED_FRICTION),
    };
    let straight = wire.with_bend_factor(0.0);
    let travel = TIP_LOAD_TRAVEL * test.held_mm;
    let driven = tip_load::drive(&straight, test.held_mm, travel, friction, assay.edge_mm)?;
    Ok(driven.tip_load_mn)
}
