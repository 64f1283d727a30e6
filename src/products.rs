//! Products of small vectors that the library of linear algebra forms by its general product of matrices,
//! which is slower.

use nalgebra::{Matrix3, Vector3};

/// The outer product `a bᵀ`.
#[inline]
pub(crate) fn outer(a: &Vector3<f64>, b: &Vector3<f64>) -> Matrix3<f64> {
    Matrix3::from_columns(&[a * b.x, a * b.y, a * b.z])
}
