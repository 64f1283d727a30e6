//! Bending stiffness along the wire.

use std::f64::consts::PI;

/// Bending stiffness against distance from the tip.
///
/// Between neighbouring stations the stiffness follows one of two laws; outside them it is
/// constant.
///
/// Equation:  a ground core: `B(s) = (p + q s)^4`; a list of stiffness values:
/// `B(s) = exp(p + q s)`
///
/// Symbols:   `B` bending stiffness (mN mm²), `s` distance from the tip (mm), `p`, `q` constants
/// of the stretch between two stations. A round core has `B = E pi d^4 / 64`, so that the first
/// law is a diameter that runs linearly; the second one is a stiffness that changes by the same
/// factor over equal lengths
///
/// Two stations at the same place make a step; the stiffness there is that of the part behind.
#[derive(Debug, Clone, PartialEq)]
pub struct StiffnessProfile {
    /// Stations in mm from the tip, never falling.
    stations: Vec<f64>,
    /// What runs linearly between stations, at each of them.
    values: Vec<f64>,
    law: Law,
}

/// What runs linearly between two stations.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Law {
    /// The diameter of a round core: the fourth root of the stiffness.
    Diameter,
    /// The logarithm of the stiffness.
    Logarithm,
}

impl Law {
    fn value(self, stiffness: f64) -> f64 {
        match self {
            Self::Diameter => stiffness.sqrt().sqrt(),
            Self::Logarithm => stiffness.ln(),
        }
    }

    fn stiffness(self, value: f64) -> f64 {
        match self {
            Self::Diameter => value.powi(4),
            Self::Logarithm => value.exp(),
        }
    }

    /// Mean of `1 / B` over a stretch with the values `v0` and `v1` at its ends. Both forms lose
    /// no digits where the stiffness does not change.
    ///
    /// Equation:  diameter: `(v0² + v0 v1 + v1²) / (3 v0³ v1³)`; logarithm:
    /// `exp(-v0) (1 - exp(-d)) / d` with `d = v1 - v0`
    fn mean_compliance(self, v0: f64, v1: f64) -> f64 {
        match self {
            Self::Diameter => (v0 * v0 + v0 * v1 + v1 * v1) / (3.0 * (v0 * v1).powi(3)),
            Self::Logarithm => {
                let d = v1 - v0;
                let share = if d.abs() < f64::EPSILON {
                    1.0
                } else {
                    -(-d).exp_m1() / d
                };
                (-v0).exp() * share
            }
        }
    }
}

impl StiffnessProfile {
    /// Profile of a ground core through (distance from tip in mm, bending stiffness in mN mm²):
    /// the core's diameter runs linearly between stations.
    ///
    /// The caller has checked the values: at least one, distances never falling, stiffness above
    /// 0 and finite.
    #[must_use]
    pub(super) fn ground(values: &[(f64, f64)]) -> Self {
        Self::new(values, Law::Diameter)
    }

    /// Profile through listed stiffness values: the logarithm of the stiffness runs linearly
    /// between stations. The same must hold for the values as for [`StiffnessProfile::ground`].
    #[must_use]
    pub(super) fn listed(values: &[(f64, f64)]) -> Self {
        Self::new(values, Law::Logarithm)
    }

    fn new(values: &[(f64, f64)], law: Law) -> Self {
        Self {
            stations: values.iter().map(|&(s, _)| s).collect(),
            values: values.iter().map(|&(_, b)| law.value(b)).collect(),
            law,
        }
    }

    /// Bending stiffness in mN mm² at `s` mm from the tip.
    #[must_use]
    pub fn at(&self, s: f64) -> f64 {
        let piece = self.stations.partition_point(|&k| k <= s);
        self.law.stiffness(self.value_in(piece, s))
    }

    /// Integral of `ds / B` over `[a, b]` in 1/(mN mm), in closed form; negative where `b < a`.
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
            let (v0, v1) = (self.value_in(piece, from), self.value_in(piece, to));
            sum += (to - from) * self.law.mean_compliance(v0, v1);
            from = to;
        }
        sum
    }

    /// Smallest and largest stiffness in mN mm² between the tip and `length_mm`.
    #[must_use]
    pub fn range_to(&self, length_mm: f64) -> (f64, f64) {
        let inside = self.stations.iter().zip(&self.values);
        inside
            .filter(|&(&s, _)| s > 0.0 && s < length_mm)
            .map(|(_, &v)| self.law.stiffness(v))
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

    /// What runs linearly, at `s`, taken on the piece that ends at station number `piece`; piece
    /// 0 lies before the first station.
    fn value_in(&self, piece: usize, s: f64) -> f64 {
        if piece == 0 {
            return self.values[0];
        }
        let Some(&end) = self.stations.get(piece) else {
            return self.values[piece - 1];
        };
        let start = self.stations[piece - 1];
        if end <= start {
            return self.values[piece];
        }
        let t = (s - start) / (end - start);
        self.values[piece - 1] * (1.0 - t) + self.values[piece] * t
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
    const VALUES: [(f64, f64); 5] = [
        (10.0, 15.0),
        (30.0, 900.0),
        (60.0, 20e3),
        (60.0, 30e3),
        (300.0, 150e3),
    ];

    fn both() -> [StiffnessProfile; 2] {
        [
            StiffnessProfile::ground(&VALUES),
            StiffnessProfile::listed(&VALUES),
        ]
    }

    #[test]
    fn the_compliance_integral_equals_a_midpoint_sum() {
        for (profile, (a, b)) in both().iter().flat_map(|profile| {
            [
                (-3.0, 400.0),
                (0.0, 5.0),
                (12.0, 13.0),
                (59.0, 61.0),
                (60.0, 70.0),
            ]
            .map(|ends| (profile, ends))
        }) {
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
    fn a_ground_core_has_a_linear_diameter_between_stations() {
        let e = 200e6;
        let middle = round_core_diameter(StiffnessProfile::ground(&VALUES).at(20.0), e);
        let ends = round_core_diameter(15.0, e) + round_core_diameter(900.0, e);
        assert_relative_eq!(middle, ends / 2.0, max_relative = 1e-14);
    }

    #[test]
    fn a_listed_stiffness_is_the_geometric_mean_halfway_between_stations() {
        let middle = StiffnessProfile::listed(&VALUES).at(20.0);
        assert_relative_eq!(middle, (15.0f64 * 900.0).sqrt(), max_relative = 1e-14);
    }

    #[test]
    fn a_listed_stiffness_that_hardly_changes_has_the_compliance_of_a_constant_one() {
        for change in [0.0, 1e-15, 1e-12, 1e-9] {
            let profile = StiffnessProfile::listed(&[(0.0, 50.0), (20.0, 50.0 * (1.0 + change))]);
            // The mean of 1/B differs from 1/50 by half the change.
            assert_relative_eq!(
                profile.compliance_between(0.0, 20.0),
                20.0 / 50.0 * (1.0 - 0.5 * change),
                max_relative = 4.0 * f64::EPSILON
            );
        }
    }

    #[test]
    fn the_part_behind_rules_at_a_step() {
        for profile in both() {
            assert_relative_eq!(profile.at(60.0), 30e3, max_relative = 1e-14);
            assert_relative_eq!(profile.at(60.0 - 1e-9), 20e3, max_relative = 1e-8);
        }
    }
}
