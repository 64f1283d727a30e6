//! Stretch of an edge.

use nalgebra::{Matrix3, Vector3};

use super::state::Edge;
use crate::products::outer;

/// Stretch energy of an edge in mN mm.
///
/// Equation: `E = EA/2 (|e|/l - 1)² l`.
/// Symbols: `EA` axial stiffness in mN, `e` edge vector, `l` rest length in mm.
/// Source: Bergou et al. 2010, section 3 (stretching).
#[inline]
pub(super) fn energy(edge: &Edge, length: f64) -> f64 {
    let strain = length / edge.rest_length - 1.0;
    0.5 * edge.axial_stiffness * strain * strain * edge.rest_length
}

/// Derivative of the stretch energy with respect to the rest length, in mN.
pub(super) fn rate(edge: &Edge, length: f64) -> f64 {
    let strain = length / edge.rest_length - 1.0;
    -edge.axial_stiffness * strain * (1.0 + 0.5 * strain)
}

/// Gradient (mN) and Hessian (mN/mm) of the stretch energy with respect to the edge vector.
#[inline]
pub(super) fn derivatives(
    edge: &Edge,
    length: f64,
    tangent: &Vector3<f64>,
) -> (Vector3<f64>, Matrix3<f64>) {
    let tension = edge.axial_stiffness * (length / edge.rest_length - 1.0);
    let across = tension / length;
    let along = edge.axial_stiffness / edge.rest_length;
    let hessian = outer(tangent, tangent) * (along - across) + Matrix3::identity() * across;
    (tangent * tension, hessian)
}
