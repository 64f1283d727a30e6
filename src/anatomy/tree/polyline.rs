//! A line of samples at even distances: resampling, smoothing, bends.

use nalgebra::Vector3;

/// Largest distance between samples while a tree is made, in mm.
pub(super) const FINE_MM: f64 = 0.2;
/// Distance in mm to the two neighbours through which the circle of a bend is laid.
const BEND_CHORD_MM: f64 = 0.6;
/// Where the kernel of smoothing ends, in standard deviations.
const KERNEL_REACH: f64 = 4.0;
/// Distance of a neighbour in standard deviations beyond which a sample stays: the parabola then goes
/// through it and two others, and what the rest would change is below 1e-9 of that distance. At an end,
/// where the scale is twice as long, the second neighbour has 1e-6 of the weight of the first; much less
/// would be lost in rounding.
const FARTHEST_NEIGHBOUR: f64 = 6.0;

/// Samples at even distances along a line.
#[derive(Debug, Clone, PartialEq, Default)]
pub(in crate::anatomy) struct Polyline {
    /// Positions in mm.
    pub points: Vec<Vector3<f64>>,
    /// Lumen radius in mm at each.
    pub radii: Vec<f64>,
}

impl Polyline {
    /// Station of every sample in mm.
    pub(in crate::anatomy) fn stations(&self) -> Vec<f64> {
        let mut station = 0.0;
        let mut stations = Vec::with_capacity(self.points.len());
        for (i, p) in self.points.iter().enumerate() {
            if i > 0 {
                station += (p - self.points[i - 1]).norm();
            }
            stations.push(station);
        }
        stations
    }

    /// Length in mm.
    pub(in crate::anatomy) fn length(&self) -> f64 {
        let pairs = self.points.windows(2);
        pairs.map(|p| (p[1] - p[0]).norm()).sum()
    }

    /// The samples of a range.
    pub(super) fn part(&self, range: std::ops::RangeInclusive<usize>) -> Self {
        Self {
            points: self.points[range.clone()].to_vec(),
            radii: self.radii[range].to_vec(),
        }
    }

    /// The line at places between its samples: whole parts are their numbers.
    pub(super) fn at_places(&self, places: &[f64]) -> Self {
        let last = self.points.len() - 1;
        let mut out = Self::default();
        for place in places {
            let i = count_of(place.floor() + 1.0) - 1;
            let (i, next) = (i.min(last), (i + 1).min(last));
            let t = place - i as f64;
            out.points
                .push(self.points[i] * (1.0 - t) + self.points[next] * t);
            out.radii
                .push(self.radii[i] * (1.0 - t) + self.radii[next] * t);
        }
        out
    }

    /// The same line from its end to its start.
    pub(super) fn reversed(mut self) -> Self {
        self.points.reverse();
        self.radii.reverse();
        self
    }

    /// Samples at even distances of at most `spacing_mm` along the curve through the points: a
    /// cubic between neighbours with the tangents of the parabola through three points
    /// (Catmull and Rom, A class of local interpolating splines, 1974, with chord lengths as
    /// parameter). The radius is linear.
    pub(in crate::anatomy) fn resampled(&self, spacing_mm: f64) -> Self {
        let n = self.points.len();
        let tangents: Vec<Vector3<f64>> = (0..n).map(|i| self.slope_at(i)).collect();
        // Each chord in parts fine enough that arc length is linear within one.
        let mut fine = Self::default();
        for i in 0..n - 1 {
            let (a, b) = (self.points[i], self.points[i + 1]);
            let chord = (b - a).norm();
            let parts = count_of((chord / (0.25 * spacing_mm)).ceil());
            for k in 0..parts {
                let t = k as f64 / parts as f64;
                let (t2, t3) = (t * t, t * t * t);
                fine.points.push(
                    a * (2.0 * t3 - 3.0 * t2 + 1.0)
                        + tangents[i] * (chord * (t3 - 2.0 * t2 + t))
                        + b * (3.0 * t2 - 2.0 * t3)
                        + tangents[i + 1] * (chord * (t3 - t2)),
                );
                fine.radii
                    .push(self.radii[i] * (1.0 - t) + self.radii[i + 1] * t);
            }
        }
        fine.points.push(self.points[n - 1]);
        fine.radii.push(self.radii[n - 1]);
        fine.at_even_distances(spacing_mm)
    }

    /// Derivative by chord length at a point.
    fn slope_at(&self, i: usize) -> Vector3<f64> {
        let n = self.points.len();
        let chord = |a: usize, b: usize| {
            let c = self.points[b] - self.points[a];
            let length = c.norm();
            (c / length, length)
        };
        if n == 2 {
            return chord(0, 1).0;
        }
        let middle = i.clamp(1, n - 2);
        let ((before, h0), (after, h1)) = (chord(middle - 1, middle), chord(middle, middle + 1));
        let centre = (before * h1 + after * h0) / (h0 + h1);
        match i {
            0 => before * 2.0 - centre,
            i if i == n - 1 => after * 2.0 - centre,
            _ => centre,
        }
    }

    /// Points at even distances of at most `spacing_mm` along the chords; both ends stay.
    pub(in crate::anatomy) fn at_even_distances(&self, spacing_mm: f64) -> Self {
        let stations = self.stations();
        let length = stations.last().copied().unwrap_or(0.0);
        let parts = count_of((length / spacing_mm).ceil());
        let mut out = Self::default();
        let mut at = 0;
        for k in 0..=parts {
            let s = length * k as f64 / parts as f64;
            while at + 2 < stations.len() && stations[at + 1] <= s {
                at += 1;
            }
            let next = (at + 1).min(stations.len() - 1);
            let span = stations[next] - stations[at];
            let t = if span > 0.0 {
                ((s - stations[at]) / span).clamp(0.0, 1.0)
            } else {
                0.0
            };
            out.points
                .push(self.points[at] * (1.0 - t) + self.points[next] * t);
            out.radii
                .push(self.radii[at] * (1.0 - t) + self.radii[next] * t);
        }
        out
    }

    /// Path and radius smoothed to a scale of `sigma_mm`; the samples stay one for one.
    ///
    /// Every sample becomes the value there of the parabola along the line that fits the samples
    /// around it best, weighted by a Gaussian of standard deviation sigma. A parabola stays as it
    /// is, also at the ends, so bends and narrowings wider than the scale keep their place and
    /// depth, which the Gaussian mean would shrink by sigma²/2 times the curvature.
    /// Source: W. S. Cleveland, Robust locally weighted regression and smoothing scatterplots, J
    /// Am Stat Assoc 74:829-836, 1979; local quadratic, not robust.
    pub(in crate::anatomy) fn smoothed(&self, sigma_mm: f64) -> Self {
        self.smoothed_by(&vec![sigma_mm; self.points.len()])
    }

    /// The same with a scale of its own at each sample; a sample stays whose scale is 0 or very small
    /// beside the distance of its neighbours.
    pub(super) fn smoothed_by(&self, scales_mm: &[f64]) -> Self {
        let n = self.points.len();
        let spacing = self.length() / (n - 1) as f64;
        if n < 4 || spacing <= 0.0 {
            return self.clone();
        }
        let mut out = Self::default();
        let mut weights = Vec::new();
        for i in 0..n {
            let sigma_mm = scales_mm[i];
            if sigma_mm * FARTHEST_NEIGHBOUR < spacing {
                out.points.push(self.points[i]);
                out.radii.push(self.radii[i]);
                continue;
            }
            // Samples on one side only say less: at an end the scale is twice as long.
            let from_end = i.min(n - 1 - i) as f64 * spacing;
            let sigma_mm = sigma_mm * (1.0 + (1.0 - 0.5 * from_end / sigma_mm).max(0.0));
            let reach = count_of((KERNEL_REACH * sigma_mm / spacing).ceil()).max(2);
            let range = i.saturating_sub(reach)..=(i + reach).min(n - 1);
            // Place along the line in standard deviations.
            let place = |j: usize| (j as f64 - i as f64) * spacing / sigma_mm;
            weights.clear();
            weights.extend(range.clone().map(|j| (-0.5 * place(j) * place(j)).exp()));
            let mut moments = [0.0; 5];
            for (j, weight) in range.clone().zip(&weights) {
                let (x, mut power) = (place(j), *weight);
                for moment in &mut moments {
                    *moment += power;
                    power *= x;
                }
            }
            let [m0, m1, m2, m3, m4] = moments;
            // First row of the inverse of the matrix of moments, without its determinant, which
            // the division by the sum of the weights takes out.
            let row = [m2 * m4 - m3 * m3, m2 * m3 - m1 * m4, m1 * m3 - m2 * m2];
            let determinant = m0 * row[0] + m1 * row[1] + m2 * row[2];
            let mut point = Vector3::zeros();
            let mut radius = 0.0;
            for (j, weight) in range.zip(&weights) {
                let x = place(j);
                let w = weight * (row[0] + row[1] * x + row[2] * x * x) / determinant;
                point += self.points[j] * w;
                radius += self.radii[j] * w;
            }
            out.points.push(point);
            out.radii.push(radius);
        }
        // At an end the parabola may fall below all samples.
        let floor = self.narrowest();
        for r in &mut out.radii {
            *r = r.max(floor);
        }
        out
    }

    /// Radius of the tightest bend in mm and the sample where it is; infinite if straight.
    pub(in crate::anatomy) fn tightest_bend(&self) -> (f64, usize) {
        let mut tightest = (f64::INFINITY, 0);
        for i in 0..self.points.len() {
            let radius = self.bend_radius(i);
            if radius < tightest.0 {
                tightest = (radius, i);
            }
        }
        tightest
    }

    /// Radius of the circle through a sample and its neighbours about 0.6 mm away.
    pub(super) fn bend_radius(&self, i: usize) -> f64 {
        let n = self.points.len();
        let spacing = self.length_between_first_two();
        let step = count_of((BEND_CHORD_MM / spacing).round()).max(1);
        if i < step || i + step >= n {
            return f64::INFINITY;
        }
        let (a, b, c) = (self.points[i - step], self.points[i], self.points[i + step]);
        let cross = (b - a).cross(&(c - b)).norm();
        let product = (b - a).norm() * (c - b).norm() * (c - a).norm();
        if cross > 1e-12 * product {
            product / (2.0 * cross)
        } else {
            f64::INFINITY
        }
    }

    /// Lumen radius over bend radius at a sample: at 1 the wall on the inner side of the bend is a
    /// point.
    pub(super) fn tightness(&self, i: usize) -> f64 {
        self.radii[i] / self.bend_radius(i)
    }

    fn length_between_first_two(&self) -> f64 {
        (self.points[1] - self.points[0]).norm().max(1e-9)
    }

    /// Smallest radius.
    pub(super) fn narrowest(&self) -> f64 {
        self.radii.iter().copied().fold(f64::INFINITY, f64::min)
    }
}

/// A small count that was computed as a number; at least 1.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates, and lines are limited in length"
)]
pub(super) fn count_of(x: f64) -> usize {
    (x as usize).max(1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn circle(bend: f64, spacing: f64) -> Polyline {
        let n = count_of(bend * std::f64::consts::PI / spacing);
        let points = (0..=n)
            .map(|i| {
                let a = std::f64::consts::PI * i as f64 / n as f64;
                Vector3::new(bend * a.cos(), bend * a.sin(), 0.0)
            })
            .collect();
        Polyline {
            points,
            radii: vec![1.0; n + 1],
        }
    }

    /// In the middle of a line the weights are (3 - x²)/2 times the Gaussian, whose answer to a
    /// circle is (1 + u) exp(-u) with u = sigma²/(2 R²).
    #[test]
    fn smoothing_shrinks_a_circle_in_the_fourth_order_only() {
        let (bend, sigma) = (5.0, 1.0);
        let smooth = circle(bend, 0.1).smoothed(sigma);
        let u: f64 = sigma * sigma / (2.0 * bend * bend);
        let expected = bend * (1.0 + u) * (-u).exp();
        let middle = smooth.points[smooth.points.len() / 2];
        assert_relative_eq!(middle.norm(), expected, max_relative = 1e-5);
        assert!(bend - expected < 0.002);
    }

    #[test]
    fn the_bend_of_a_circle_is_its_radius() {
        let (radius, _) = circle(4.0, 0.2).tightest_bend();
        assert_relative_eq!(radius, 4.0, max_relative = 1e-3);
    }

    #[test]
    fn resampling_a_coarse_circle_stays_on_it() {
        let fine = circle(5.0, 1.0).resampled(0.1);
        for p in &fine.points {
            assert_relative_eq!(p.norm(), 5.0, max_relative = 2e-3);
        }
    }

    #[test]
    fn a_scale_far_below_the_distance_of_samples_moves_none() {
        let line = circle(5.0, 1.0).resampled(0.2);
        for scale in [1e-300, 1e-9, 1e-4, 0.009, 0.033, 0.035] {
            let smoothed = line.smoothed(scale);
            for (a, b) in line.points.iter().zip(&smoothed.points) {
                // The third neighbour of an end has 1e-9 of the weight of the second.
                assert!((a - b).norm() < 1e-9, "{scale}: {a} {b}");
            }
        }
    }
}
