//! A centreline as samples at equal arc length, before it has a radius.

use nalgebra::Vector3;

/// Largest distance between samples in mm.
pub(super) const SPACING_MM: f64 = 0.25;

/// One sample of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Knot {
    /// Position in mm.
    pub position: Vector3<f64>,
    /// Unit tangent.
    pub tangent: Vector3<f64>,
    /// Curvature vector in 1/mm.
    pub curvature: Vector3<f64>,
    /// Running normal.
    pub normal: Vector3<f64>,
}

/// A path sampled at equal arc length; at least two knots.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Path {
    /// Arc length between neighbouring knots in mm.
    pub spacing_mm: f64,
    /// Knots from start to end.
    pub knots: Vec<Knot>,
}

/// Number of equal intervals, none longer than [`SPACING_MM`], and their length in mm.
pub(super) fn intervals(length_mm: f64) -> (usize, f64) {
    let count = whole((length_mm / SPACING_MM).ceil()).max(1);
    (count, length_mm / number(count))
}

/// The whole part of a number that is 0 or more and below two thousand million.
#[expect(
    clippy::cast_possible_truncation,
    reason = "the cast saturates, and paths are limited in length"
)]
#[inline]
pub(super) fn whole(x: f64) -> usize {
    x as i32 as usize
}

/// A count as a number; counts stay far below 2^31, for paths are limited in length.
#[expect(
    clippy::cast_possible_truncation,
    reason = "paths are limited in length"
)]
#[inline]
pub(super) fn number(i: usize) -> f64 {
    f64::from(i as i32)
}
