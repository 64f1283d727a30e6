//! A vessel on its bed without a device.

use nalgebra::{Matrix3, Vector3};

use crate::evidence::Broken;
use crate::scenario::model::{BranchSpec, PathSpec, Place, VesselSpec};
use crate::solve::{Banded, Factor};
use crate::vessel::{GivingVessel, Tree};

/// Unknowns that a knot of one axis is coupled with, its own among them: four neighbouring control vectors.
const WIDTH: usize = 12;

/// A vessel through points (mm) with a diameter in mm.
///
/// # Errors
///
/// Where it cannot be built.
pub fn vessel_through(points: Vec<Vector3<f64>>, diameter: f64) -> Result<Tree, Broken> {
    Ok(Tree::build(&VesselSpec::new(vec![BranchSpec {
        name: "vessel".into(),
        attached: None,
        path: PathSpec::Points(points),
        diameters: vec![(0.0, diameter)],
        place: Place::default(),
    }]))?)
}

/// The equilibrium that the vessel finds by Newton's method with what else acts on it; a vessel with free
/// ends is not held at its inlet.
///
/// # Errors
///
/// Where its stiffness is not positive.
pub fn equilibrium_from(
    vessel: &GivingVessel,
    mut moved: Vec<Vector3<f64>>,
    act: impl Fn(&[Vector3<f64>], &mut [Vector3<f64>], &mut dyn FnMut(usize, usize, &Matrix3<f64>)),
    free_ends: bool,
) -> Result<Vec<Vector3<f64>>, Broken> {
    let n = vessel.controls();
    let mut matrix = Banded::<WIDTH>::empty();
    let mut factor = Factor::<WIDTH>::empty();
    for _ in 0..20 {
        let mut gradient = vec![Vector3::zeros(); n];
        matrix.reset(3 * n);
        let mut add = |i: usize, j: usize, block: &Matrix3<f64>| {
            for r in 0..3 {
                for c in 0..3 {
                    let (row, column) = (3 * i + r, 3 * j + c);
                    // The lower triangle; the matrix is symmetric.
                    if row >= column {
                        matrix.add(row, column, block[(r, c)]);
                    }
                }
            }
        };
        vessel.add_derivatives(&moved, &[], &mut gradient, &mut add);
        act(&moved, &mut gradient, &mut add);
        for i in 0..n {
            if vessel.is_fixed(i) && !free_ends {
                gradient[i] = Vector3::zeros();
                for c in 0..3 {
                    matrix.add(3 * i + c, 3 * i + c, 1e7);
                }
            }
        }
        let mut step: Vec<f64> = gradient.iter().flat_map(|g| [-g.x, -g.y, -g.z]).collect();
        if !matrix.factorise(0.0, &mut factor) {
            return Err(Broken("the vessel is not stable".into()));
        }
        factor.solve(&mut step);
        for (u, s) in moved.iter_mut().zip(step.chunks(3)) {
            *u += Vector3::new(s[0], s[1], s[2]);
        }
        if step.iter().all(|s| s.abs() < 1e-12) {
            break;
        }
    }
    Ok(moved)
}
