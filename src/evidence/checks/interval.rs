//! Whether the interval that is reported for a number of a finite mesh holds the true one: a wire fed round a
//! bend, of which the exact solution is known.

use super::bend_without_friction::{BEND_10, at_row};
use crate::evidence::convergence::{Estimate, RATIO};
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};

/// Meshes of which the error is estimated, and how many times the coarsest is halved below the finest of them.
const MESHES: usize = 5;
const HALVED: usize = 2;
/// Longest edge at the tip in mm; that of each further mesh is shorter by the root of [`RATIO`].
const COARSEST_MM: f64 = 0.25;
/// By how much the two methods that computed the exact energy and push force differ, per unit stiffness.
const REFERENCE: [f64; 2] = [1.1e-7, 1.5e-6];
/// Rows of the table: with the tip on the wall alone, near the peak of the push force, and beyond it.
const ROWS: [usize; 3] = [4, 9, 14];

pub const CHECK: Check = Check {
    name: "interval",
    question: "Does the interval that is reported for the error of a mesh hold the true error?",
    origin: Origin::Computed,
    source: "exact solution as in bend-without-friction; Richardson's extrapolation and Roache's grid convergence \
             index (from memory)",
    scene: "A straight wire fed into a quarter circle of 10 mm radius, edges of 0.25 to 0.0625 mm in five meshes, \
            each halved twice; the exact wall is rigid, so that of a mesh is stiffer by the square of its fineness",
    carries: &[Rests::Push, Rests::Wall, Rests::Tip],
    set: Set::Short,
    covers: || vec![Covered::over(Input::Turn, &[90.0])],
    measure,
};

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    // Every second mesh halves the spacing.
    let mut meshes = Vec::new();
    for k in 0..MESHES + 2 * HALVED {
        let edge_mm = COARSEST_MM / RATIO.powf(0.5 * k as f64);
        meshes.push((edge_mm, at_rows(edge_mm)?));
    }
    for (name, column) in [("energy", 0), ("push force", 1)] {
        for mesh in 0..MESHES {
            let mut most: f64 = 0.0;
            for row in 0..ROWS.len() {
                let at = |k: usize| meshes[k].1[row][column];
                let estimate = Estimate::of([at(mesh), at(mesh + 2), at(mesh + 4)]);
                let exact = [BEND_10[ROWS[row]][1], BEND_10[ROWS[row]][2]][column];
                let known = estimate.half_width + REFERENCE[column];
                most = most.max((estimate.value - exact).abs() / known);
            }
            let edge_mm = meshes[mesh].0;
            readings.error(
                format!("edges of {edge_mm:.3} mm, {name}: true error over half the interval"),
                most,
                "",
                1.0,
            );
        }
    }
    Ok(())
}

/// Energy and push force at the rows with that edge, per unit stiffness. What a wall that gives way changes falls
/// with the square of the edge, as the error of the mesh does.
fn at_rows(edge_mm: f64) -> Result<[[f64; 2]; ROWS.len()], Broken> {
    let stiffer = (COARSEST_MM / edge_mm).powi(2);
    at_row(edge_mm, stiffer, &ROWS.map(|row| BEND_10[row][0]))?
        .try_into()
        .map_err(|_| Broken("a row is missing".into()))
}
