//! Lumen radius along a branch.

use std::f64::consts::{PI, TAU};

/// A narrowing: middle, whole length and smallest diameter, in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Narrowing {
    pub station_mm: f64,
    pub length_mm: f64,
    pub diameter_mm: f64,
}

/// Radius against station: linear between the given diameters, with corners rounded, and with
/// the narrowings taken out.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct RadiusProfile {
    /// (station, radius) in rising order of station.
    radii: Vec<(f64, f64)>,
    narrowings: Vec<Narrowing>,
    /// Half the length over which the radius is averaged, in mm: a quarter of the smallest
    /// diameter, so that corners of the profile are rounded over one lumen radius; or half the
    /// largest distance between two stations, if that is less.
    half_window_mm: f64,
}

impl RadiusProfile {
    /// From diameters (at least one, above 0, stations rising).
    pub(super) fn new(diameters: &[(f64, f64)], narrowings: Vec<Narrowing>) -> Self {
        let radii: Vec<_> = diameters.iter().map(|&(s, d)| (s, 0.5 * d)).collect();
        let smallest = radii.iter().fold(f64::INFINITY, |m, r| m.min(r.1));
        let gaps = radii.windows(2).map(|pair| pair[1].0 - pair[0].0);
        let widest_gap = gaps.reduce(f64::max).unwrap_or(f64::INFINITY);
        Self {
            radii,
            narrowings,
            half_window_mm: 0.5 * smallest.min(widest_gap),
        }
    }

    /// Radius in mm and its slope at `station`.
    pub(super) fn at(&self, station: f64) -> (f64, f64) {
        let (mut radius, mut slope) = self.without_narrowings(station);
        for n in &self.narrowings {
            let from_middle = station - n.station_mm;
            if from_middle.abs() < 0.5 * n.length_mm {
                let phase = TAU * from_middle / n.length_mm;
                let share = 0.5 * (1.0 + phase.cos());
                let share_slope = -PI / n.length_mm * phase.sin();
                let depth = radius - 0.5 * n.diameter_mm;
                slope -= slope * share + depth * share_slope;
                radius -= depth * share;
            }
        }
        (radius, slope)
    }

    /// The rounded profile: the mean of the linear one over the window, which is the linear one
    /// itself away from its corners.
    pub(super) fn without_narrowings(&self, station: f64) -> (f64, f64) {
        let (from, to) = (station - self.half_window_mm, station + self.half_window_mm);
        let width = 2.0 * self.half_window_mm;
        let radius = (self.integral(to) - self.integral(from)) / width;
        (radius, (self.linear(to) - self.linear(from)) / width)
    }

    fn linear(&self, station: f64) -> f64 {
        let i = self.radii.partition_point(|r| r.0 <= station);
        if i == 0 {
            return self.radii[0].1;
        }
        let (s0, r0) = self.radii[i - 1];
        self.radii
            .get(i)
            .map_or(r0, |&(s1, r1)| r0 + (r1 - r0) * (station - s0) / (s1 - s0))
    }

    /// Integral of the linear profile from its first station.
    fn integral(&self, station: f64) -> f64 {
        let (first, radius) = self.radii[0];
        if station <= first {
            return radius * (station - first);
        }
        let mut sum = 0.0;
        let mut at = (first, radius);
        for &(s1, r1) in &self.radii[1..] {
            if station <= s1 {
                break;
            }
            sum += 0.5 * (at.1 + r1) * (s1 - at.0);
            at = (s1, r1);
        }
        sum + 0.5 * (at.1 + self.linear(station)) * (station - at.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn the_radius_is_linear_between_stations_and_constant_outside() {
        let p = RadiusProfile::new(&[(10.0, 4.0), (30.0, 2.0)], Vec::new());
        assert_relative_eq!(p.at(0.0).0, 2.0, epsilon = 1e-12);
        assert_relative_eq!(p.at(20.0).0, 1.5, epsilon = 1e-12);
        assert_relative_eq!(p.at(20.0).1, -0.05, epsilon = 1e-12);
        assert_relative_eq!(p.at(50.0).0, 1.0, epsilon = 1e-12);
    }

    #[test]
    fn a_narrowing_has_its_diameter_in_the_middle_and_none_beyond_its_length() {
        let narrowing = Narrowing {
            station_mm: 20.0,
            length_mm: 6.0,
            diameter_mm: 1.2,
        };
        let p = RadiusProfile::new(&[(0.0, 3.0)], vec![narrowing]);
        assert_relative_eq!(p.at(20.0).0, 0.6, epsilon = 1e-12);
        assert_relative_eq!(p.at(18.5).0, 1.05, epsilon = 1e-12);
        assert_relative_eq!(p.at(16.9).0, 1.5, epsilon = 1e-12);
    }

    #[test]
    fn the_slope_is_the_derivative_of_the_radius() {
        let narrowing = Narrowing {
            station_mm: 12.0,
            length_mm: 8.0,
            diameter_mm: 1.0,
        };
        let p = RadiusProfile::new(&[(0.0, 3.0), (10.0, 3.5), (14.0, 2.0)], vec![narrowing]);
        for i in 0..200 {
            let s = f64::from(i) * 0.1 + 0.013;
            let numeric = (p.at(s + 1e-5).0 - p.at(s - 1e-5).0) / 2e-5;
            assert_relative_eq!(p.at(s).1, numeric, epsilon = 1e-5);
        }
    }
}
