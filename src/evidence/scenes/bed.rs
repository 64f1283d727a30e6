//! A vessel on its bed without a device.

use nalgebra::{DMatrix, DVector, Matrix3, Vector3};

use crate::evidence::Broken;
use crate::scenario::model::{BranchSpec, PathSpec, Place, VesselSpec};
use crate::vessel::{GivingVessel, Tree};

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
    for _ in 0..20 {
        let mut gradient = vec![Vector3::zeros(); n];
        let mut matrix = DMatrix::<f64>::zeros(3 * n, 3 * n);
        let mut add = |i: usize, j: usize, block: &Matrix3<f64>| {
            for r in 0..3 {
                for c in 0..3 {
                    matrix[(3 * i + r, 3 * j + c)] += block[(r, c)];
                }
            }
        };
        vessel.add_derivatives(&moved, &[], &mut gradient, &mut add);
        act(&moved, &mut gradient, &mut add);
        for i in 0..n {
            if vessel.is_fixed(i) && !free_ends {
                gradient[i] = Vector3::zeros();
                for c in 0..3 {
                    matrix[(3 * i + c, 3 * i + c)] += 1e7;
                }
            }
        }
        let load = gradient.iter().flat_map(|g| [-g.x, -g.y, -g.z]);
        let step = matrix
            .lu()
            .solve(&DVector::from_iterator(3 * n, load))
            .ok_or_else(|| Broken("the vessel is not stable".into()))?;
        for (u, s) in moved.iter_mut().zip(step.as_slice().chunks(3)) {
            *u += Vector3::new(s[0], s[1], s[2]);
        }
        if step.iter().all(|s| s.abs() < 1e-12) {
            break;
        }
    }
    Ok(moved)
}
