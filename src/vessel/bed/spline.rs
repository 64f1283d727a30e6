//! Displacement along a branch: uniform cubic B-splines.
//!
//! Equation: `v(s) = sum_j N_j(s) v_j` over the four control values around the station.
//! Symbols: `s` station in mm, `v_j` control values, `N_j` the uniform cubic B-spline.
//! Source: de Boor, *A Practical Guide to Splines*, rev. ed. 2001, chapter IX (from memory). The curve has
//! two continuous derivatives, which bending energy and contact both need.

use nalgebra::Vector3;

/// Number of control values on which a station hangs.
pub const SUPPORT: usize = 4;

/// Control values at equal distances along a branch, and where they begin among those of all branches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Knots {
    /// Number of the branch's first control value among those of the tree.
    pub first: usize,
    /// Number of intervals, at least 1; there are three control values more.
    pub intervals: usize,
    /// Length of an interval in mm.
    pub spacing_mm: f64,
}

/// The four control values of a station, with value and derivatives of their functions there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Basis {
    /// Number of the first of the four control values.
    pub first: usize,
    /// Values.
    pub value: [f64; SUPPORT],
    /// First derivatives in 1/mm.
    pub slope: [f64; SUPPORT],
    /// Second derivatives in 1/mm².
    pub bend: [f64; SUPPORT],
}

impl Knots {
    /// Knots over `length_mm`, at most `spacing_mm` apart, whose control values begin at `first`.
    #[must_use]
    pub fn over(length_mm: f64, spacing_mm: f64, first: usize) -> Self {
        let intervals = super::super::path::whole((length_mm / spacing_mm).ceil()).max(1);
        Self {
            first,
            intervals,
            spacing_mm: length_mm / super::super::path::number(intervals),
        }
    }

    /// Number of control values.
    #[must_use]
    pub fn controls(&self) -> usize {
        self.intervals + SUPPORT - 1
    }

    /// Numbers of the branch's control values.
    #[must_use]
    pub fn range(&self) -> std::ops::Range<usize> {
        self.first..self.first + self.controls()
    }

    /// Station in mm at which the influence of a control value of the branch is greatest; those of the
    /// first and the last lie beyond the ends.
    #[must_use]
    pub fn middle_mm(&self, control: usize) -> f64 {
        (super::super::path::number(control - self.first) - 1.0) * self.spacing_mm
    }

    /// Stations in mm of the knots, at which [`Knots::through`] takes values.
    pub fn stations(&self) -> impl Iterator<Item = f64> + '_ {
        (0..=self.intervals).map(|i| super::super::path::number(i) * self.spacing_mm)
    }

    /// The control vectors of the curve through one vector at each knot, straight at both ends.
    ///
    /// # Panics
    /// If there are not as many vectors as knots.
    #[must_use]
    pub fn through(&self, values: &[Vector3<f64>]) -> Vec<Vector3<f64>> {
        let last = self.intervals;
        assert_eq!(values.len(), last + 1, "a vector at each knot");
        // (v[i-1] + 4 v[i] + v[i+1])/6 at each knot; without a second derivative at the ends v is the value.
        let mut inner = vec![Vector3::zeros(); last + 1];
        let mut factor = vec![0.0; last + 1];
        inner[0] = values[0];
        for i in 1..last {
            let pivot = 4.0 - factor[i - 1];
            factor[i] = 1.0 / pivot;
            inner[i] = (values[i] * 6.0 - inner[i - 1]) / pivot;
        }
        inner[last] = values[last];
        for i in (1..last).rev() {
            let next = inner[i + 1];
            inner[i] -= next * factor[i];
        }
        let mut out = Vec::with_capacity(self.controls());
        out.push(inner[0] * 2.0 - inner[1]);
        out.extend_from_slice(&inner);
        out.push(inner[last] * 2.0 - inner[last - 1]);
        out
    }

    /// The functions at a station in mm, which is taken at the nearer end where it lies off the branch.
    #[inline]
    #[must_use]
    pub fn basis(&self, station_mm: f64) -> Basis {
        let at = station_mm / self.spacing_mm;
        let interval = super::super::path::whole(at.max(0.0)).min(self.intervals - 1);
        let u = (at - super::super::path::number(interval)).clamp(0.0, 1.0);
        let h = 1.0 / self.spacing_mm;
        let v = 1.0 - u;
        let (uu, vv) = (u * u, v * v);
        Basis {
            first: self.first + interval,
            value: weights(u),
            slope: [
                -0.5 * vv * h,
                (1.5 * u - 2.0) * u * h,
                (2.0 - 1.5 * v) * v * h,
                0.5 * uu * h,
            ],
            bend: [
                v * h * h,
                (3.0 * u - 2.0) * h * h,
                (3.0 * v - 2.0) * h * h,
                u * h * h,
            ],
        }
    }
}

/// Values of the four functions at a share `u` of an interval, 0 to 1.
#[inline]
pub(super) fn weights(u: f64) -> [f64; SUPPORT] {
    let v = 1.0 - u;
    let (uu, vv) = (u * u, v * v);
    [
        vv * v / 6.0,
        2.0 / 3.0 - uu * (1.0 - 0.5 * u),
        2.0 / 3.0 - vv * (1.0 - 0.5 * v),
        uu * u / 6.0,
    ]
}

impl Basis {
    /// Value, first and second derivative along the station of the control vectors `of`.
    #[inline]
    #[must_use]
    pub fn jet(&self, of: &[Vector3<f64>]) -> [Vector3<f64>; 3] {
        let mut out = [Vector3::zeros(); 3];
        for k in 0..SUPPORT {
            let control = of[self.first + k];
            out[0] += control * self.value[k];
            out[1] += control * self.slope[k];
            out[2] += control * self.bend[k];
        }
        out
    }

    /// Value of the control vectors `of`.
    #[inline]
    #[must_use]
    pub fn at(&self, of: &[Vector3<f64>]) -> Vector3<f64> {
        (0..SUPPORT)
            .map(|k| of[self.first + k] * self.value[k])
            .sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn functions_sum_to_one_and_their_derivatives_are_those_of_differences() {
        let knots = Knots::over(10.0, 1.7, 5);
        assert_eq!((knots.intervals, knots.controls()), (6, 9));
        for k in 1..100 {
            let s = 0.1 * f64::from(k);
            let at = knots.basis(s);
            approx::assert_relative_eq!(at.value.iter().sum::<f64>(), 1.0, epsilon = 1e-14);
            let h = 1e-5;
            let (a, b) = (knots.basis(s - h), knots.basis(s + h));
            if a.first != b.first {
                continue;
            }
            for j in 0..SUPPORT {
                let slope = (b.value[j] - a.value[j]) / (2.0 * h);
                approx::assert_relative_eq!(slope, at.slope[j], epsilon = 1e-8);
                let bend = (b.slope[j] - a.slope[j]) / (2.0 * h);
                approx::assert_relative_eq!(bend, at.bend[j], epsilon = 1e-8);
            }
        }
    }

    #[test]
    fn a_curve_goes_through_its_values() {
        let knots = Knots::over(9.0, 1.0, 0);
        let wave = |s: f64| Vector3::new((0.7 * s).sin(), s * s, 1.0);
        let values: Vec<_> = knots.stations().map(wave).collect();
        let of = knots.through(&values);
        assert_eq!(of.len(), knots.controls());
        for (s, value) in knots.stations().zip(values) {
            approx::assert_relative_eq!(knots.basis(s).at(&of), value, epsilon = 1e-9);
        }
    }

    /// Control values on a straight line give that line: the middles are where they belong.
    #[test]
    fn linear_control_values_give_a_linear_displacement() {
        let knots = Knots::over(12.0, 2.0, 0);
        let of: Vec<_> = knots
            .range()
            .map(|j| Vector3::new(1.0, 2.0, -0.5) * knots.middle_mm(j))
            .collect();
        for k in 0..=60 {
            let s = 0.2 * f64::from(k);
            let [value, slope, bend] = knots.basis(s).jet(&of);
            approx::assert_relative_eq!(value, Vector3::new(1.0, 2.0, -0.5) * s, epsilon = 1e-12);
            approx::assert_relative_eq!(slope, Vector3::new(1.0, 2.0, -0.5), epsilon = 1e-12);
            approx::assert_relative_eq!(bend, Vector3::zeros(), epsilon = 1e-12);
        }
    }
}
