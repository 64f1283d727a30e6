//! A smooth path through points.

use super::frame;
use super::path::{Knot, Path, intervals, number, whole};
use nalgebra::Vector3;

/// Nodes and weights of Gauss-Legendre quadrature with three points on [0, 1].
const GAUSS: [(f64, f64); 3] = [
    (0.112_701_665_379_258_3, 5.0 / 18.0),
    (0.5, 8.0 / 18.0),
    (0.887_298_334_620_741_7, 5.0 / 18.0),
];

/// Longest stretch in mm over which the arc length is integrated in one go.
const STRETCH_MM: f64 = 0.1;

/// The path along the interpolating cubic spline through `points` (at least two, neighbours
/// apart), resampled by arc length.
///
/// The spline is parameterised by chord length and twice continuously differentiable; its second
/// derivative is constant over the first and over the last interval. Two points give a straight
/// line.
pub(super) fn through(points: &[Vector3<f64>]) -> Path {
    let spline = Spline::new(points);
    let lengths = spline.lengths();
    let total = lengths.last().map_or(0.0, |l| l.1);
    let (count, spacing_mm) = intervals(total);
    let mut knots: Vec<Knot> = Vec::with_capacity(count + 1);
    for i in 0..=count {
        let x = spline.parameter_at(&lengths, spacing_mm * number(i));
        let [position, first, second] = spline.at(x);
        let speed = first.norm();
        let tangent = first / speed;
        let curvature = (second - tangent * second.dot(&tangent)) / (speed * speed);
        let normal = knots.last().map_or_else(
            || frame::start_normal(&tangent),
            |k| frame::transport(&k.normal, (&k.position, &k.tangent), (&position, &tangent)),
        );
        knots.push(Knot {
            position,
            tangent,
            curvature,
            normal,
        });
    }
    Path { spacing_mm, knots }
}

/// A cubic spline: values and second derivatives at its knots.
struct Spline<'a> {
    points: &'a [Vector3<f64>],
    parameters: Vec<f64>,
    second: Vec<Vector3<f64>>,
}

impl<'a> Spline<'a> {
    fn new(points: &'a [Vector3<f64>]) -> Self {
        let mut parameters = vec![0.0];
        let mut chords = Vec::with_capacity(points.len());
        let mut x = 0.0;
        for pair in points.windows(2) {
            let chord = (pair[1] - pair[0]).norm();
            x += chord;
            chords.push(chord);
            parameters.push(x);
        }
        let second = second_derivatives(points, &chords);
        Self {
            points,
            parameters,
            second,
        }
    }

    /// Position and its first two derivatives at parameter `x`.
    fn at(&self, x: f64) -> [Vector3<f64>; 3] {
        let last = self.points.len() - 2;
        let i = self
            .parameters
            .partition_point(|&k| k <= x)
            .saturating_sub(1)
            .min(last);
        let chord = self.parameters[i + 1] - self.parameters[i];
        let b = (x - self.parameters[i]) / chord;
        let a = 1.0 - b;
        let (m0, m1) = (self.second[i], self.second[i + 1]);
        let (p0, p1) = (self.points[i], self.points[i + 1]);
        let sixth = chord * chord / 6.0;
        [
            p0 * a + p1 * b + (m0 * (a * a * a - a) + m1 * (b * b * b - b)) * sixth,
            (p1 - p0) / chord
                + (m1 * (3.0 * b * b - 1.0) - m0 * (3.0 * a * a - 1.0)) * (chord / 6.0),
            m0 * a + m1 * b,
        ]
    }

    /// Arc length between two parameters of one interval that lie close together.
    fn length_between(&self, from: f64, to: f64) -> f64 {
        GAUSS
            .iter()
            .map(|(node, weight)| weight * self.at(from + node * (to - from))[1].norm())
            .sum::<f64>()
            * (to - from)
    }

    /// Parameter against arc length, densely.
    fn lengths(&self) -> Vec<(f64, f64)> {
        let mut table = vec![(0.0, 0.0)];
        let mut sum = 0.0;
        for pair in self.parameters.windows(2) {
            let parts = whole(((pair[1] - pair[0]) / STRETCH_MM).ceil()).max(8);
            let mut from = pair[0];
            for i in 1..=parts {
                let to = pair[0] + (pair[1] - pair[0]) * number(i) / number(parts);
                sum += self.length_between(from, to);
                table.push((to, sum));
                from = to;
            }
        }
        table
    }

    /// Parameter at arc length `station`.
    fn parameter_at(&self, table: &[(f64, f64)], station: f64) -> f64 {
        let i = table
            .partition_point(|e| e.1 <= station)
            .clamp(1, table.len() - 1);
        let ((x0, s0), (x1, s1)) = (table[i - 1], table[i]);
        let mut x = x0 + (x1 - x0) * ((station - s0) / (s1 - s0)).clamp(0.0, 1.0);
        for _ in 0..4 {
            let speed = self.at(x)[1].norm();
            x = (x + (station - s0 - self.length_between(x0, x)) / speed).clamp(x0, x1);
        }
        x
    }
}

/// Second derivatives of the interpolating cubic spline (de Boor, A Practical Guide to Splines,
/// chapter IV), with the first two and the last two equal.
fn second_derivatives(points: &[Vector3<f64>], chords: &[f64]) -> Vec<Vector3<f64>> {
    let n = points.len();
    let mut second = vec![Vector3::zeros(); n];
    if n < 3 {
        return second;
    }
    let mut diagonal = vec![0.0; n];
    let mut right = vec![Vector3::zeros(); n];
    for i in 1..n - 1 {
        diagonal[i] = 2.0 * (chords[i - 1] + chords[i]);
        right[i] = ((points[i + 1] - points[i]) / chords[i]
            - (points[i] - points[i - 1]) / chords[i - 1])
            * 6.0;
    }
    diagonal[1] += chords[0];
    diagonal[n - 2] += chords[n - 2];
    for i in 2..n - 1 {
        let factor = chords[i - 1] / diagonal[i - 1];
        diagonal[i] -= factor * chords[i - 1];
        let carried = right[i - 1] * factor;
        right[i] -= carried;
    }
    for i in (1..n - 1).rev() {
        let next = if i + 1 < n - 1 {
            second[i + 1] * chords[i]
        } else {
            Vector3::zeros()
        };
        second[i] = (right[i] - next) / diagonal[i];
    }
    second[0] = second[1];
    second[n - 1] = second[n - 2];
    second
}
