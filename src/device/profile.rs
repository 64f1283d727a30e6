//! Bending stiffness along the wire.

use std::f64::consts::PI;

/// Bending stiffness against distance from the tip.
///
/// Between two stations the equivalent core diameter runs linearly, so the stiffness is the
/// fourth power of a line:
///
/// Equation:  `B(s) = (p + q s)^4` between neighbouring stations, constant outside them
///
/// Symbols:   `B` bending stiffness (mN mm²), `s` distance from the tip (mm), `p + q s` its
/// fourth root, proportional to the diameter of a round core, `B = E pi d^4 / 64`
///
/// Two stations at the same place make a step; the stiffness there is that of the part behind.
#[derive(Debug, Clone, PartialEq)]
pub struct StiffnessProfile {
    /// Stations in mm from the tip, never falling.
    stations: Vec<f64>,
    /// Fourth root of the stiffness at each station, above 0.
    roots: Vec<f64>,
}

impl StiffnessProfile {
    /// Profile through (distance from tip in mm, bending stiffness in mN mm²).
    ///
    /// The caller has checked the values: at least one, distances never falling, stiffness above
    /// 0 and finite.
    #[must_use]
    pub(super) fn new(values: &[(f64, f64)]) -> Self {
        Self {
            stations: values.iter().map(|&(s, _)| s).collect(),
            roots: values.iter().map(|&(_, b)| b.sqrt().sqrt()).collect(),
        }
    }

    /// Bending stiffness in mN mm² at `s` mm from the tip.
    #[must_use]
    pub fn at(&self, s: f64) -> f64 {
        self.root_in(self.stations.partition_point(|&k| k <= s), s)
            .powi(4)
    }

    /// Integral of `ds / B` over `[a, b]` in 1/(mN mm); negative where `b < a`.
    ///
    /// Over a stretch of length `h` in which the fourth root `r` runs linearly from `r0` to `r1`
    /// the integral is `h (r0² + r0 r1 + r1²) / (3 r0³ r1³)`, which loses no digits where the
    /// taper vanishes.
    #[must_use]
    pub fn compliance_between(&self, a: f64, b: f64) -> f64 {
        if b < a {
            return -self.compliance_between(b, a);
        }
        let (first, last) = (
            self.stations.partition_point(|&k| k <= a),
            self.stations.partition_point(|&k| k < b),
        );
        let mut sum = 0.0;
        let mut from = a;
        for piece in first..=last.max(first) {
            let to = self.stations.get(piece).map_or(b, |&k| k.min(b));
            let (r0, r1) = (self.root_in(piece, from), self.root_in(piece, to));
            sum += (to - from) * (r0 * r0 + r0 * r1 + r1 * r1) / (3.0 * (r0 * r1).powi(3));
            from = to;
        }
        sum
    }

    /// Smallest and largest stiffness in mN mm² between the tip and `length_mm`.
    #[must_use]
    pub fn range_to(&self, length_mm: f64) -> (f64, f64) {
        let inside = self.stations.iter().zip(&self.roots);
        inside
            .filter(|&(&s, _)| s > 0.0 && s < length_mm)
            .map(|(_, r)| r.powi(4))
            .chain([self.at(0.0), self.at(length_mm)])
            .fold((f64::INFINITY, 0.0), |(low, high), b| {
                (low.min(b), high.max(b))
            })
    }

    /// Stations in mm at which the taper changes.
    #[must_use]
    pub fn stations(&self) -> &[f64] {
        &self.stations
    }

    /// Fourth root of the stiffness at `s`, taken on the piece that ends at station number
    /// `piece`; piece 0 lies before the first station.
    fn root_in(&self, piece: usize, s: f64) -> f64 {
        if piece == 0 {
            return self.roots[0];
        }
        let Some(&end) = self.stations.get(piece) else {
            return self.roots[piece - 1];
        };
        let start = self.stations[piece - 1];
        if end <= start {
            return self.roots[piece];
        }
        let t = (s - start) / (end - start);
        self.roots[piece - 1] * (1.0 - t) + self.roots[piece] * t
    }
}

/// Bending stiffness of a round core: `B = E pi d^4 / 64`, in mN mm².
#[must_use]
pub fn round_core_stiffness(diameter_mm: f64, modulus_mn_per_mm2: f64) -> f64 {
    modulus_mn_per_mm2 * PI * diameter_mm.powi(4) / 64.0
}

/// Diameter in mm of the round core of the given bending stiffness (mN mm²) and Young's modulus
/// (mN/mm²): `d = (64 B / (pi E))^(1/4)`.
#[must_use]
pub fn round_core_diameter(stiffness: f64, modulus_mn_per_mm2: f64) -> f64 {
    (64.0 * stiffness / (PI * modulus_mn_per_mm2)).sqrt().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Four orders of magnitude, with a step at 60 mm.
    fn profile() -> StiffnessProfile {
        StiffnessProfile::new(&[
            (10.0, 15.0),
            (30.0, 900.0),
            (60.0, 20e3),
            (60.0, 30e3),
            (300.0, 150e3),
        ])
    }

    #[test]
    fn the_compliance_integral_equals_a_midpoint_sum() {
        let profile = profile();
        for (a, b) in [
            (-3.0, 400.0),
            (0.0, 5.0),
            (12.0, 13.0),
            (59.0, 61.0),
            (60.0, 70.0),
        ] {
            let n = 400_000_u32;
            let h = (b - a) / f64::from(n);
            let sum: f64 = (0..n)
                .map(|i| h / profile.at(a + h * (f64::from(i) + 0.5)))
                .sum();
            // Error of the midpoint rule at this h, in the stretch that holds the step: h times
            // the jump of 1/B over the sum, below 1e-7.
            assert_relative_eq!(profile.compliance_between(a, b), sum, max_relative = 1e-7);
            assert_relative_eq!(profile.compliance_between(b, a), -sum, max_relative = 1e-7);
        }
    }

    #[test]
    fn the_equivalent_diameter_is_linear_between_stations() {
        let e = 200e6;
        let middle = round_core_diameter(profile().at(20.0), e);
        let ends = round_core_diameter(15.0, e) + round_core_diameter(900.0, e);
        assert_relative_eq!(middle, ends / 2.0, max_relative = 1e-14);
    }

    #[test]
    fn the_part_behind_rules_at_a_step() {
        assert_relative_eq!(profile().at(60.0), 30e3, max_relative = 1e-14);
        assert_relative_eq!(profile().at(60.0 - 1e-9), 20e3, max_relative = 1e-8);
    }
}
