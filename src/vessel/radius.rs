//! Lumen radius along a branch.

use super::centreline::cubic;
use super::monotone;
use super::path::SPACING_MM;
use std::f64::consts::{PI, TAU};

/// A narrowing: middle, whole length and smallest diameter, in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Narrowing {
    pub station_mm: f64,
    pub length_mm: f64,
    pub diameter_mm: f64,
}

/// Radius against station: the shape-preserving cubics of [`super::monotone`] through the given
/// diameters, constant before the first and behind the last, averaged over a short window, and with
/// the narrowings taken out.
///
/// The average keeps the shape too. It makes the slope continuous where a table ends and bounds it
/// where two stations nearly coincide; elsewhere it moves the radius at a station by its second
/// derivative times the window's square over 24, some micrometres.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct RadiusProfile {
    /// In rising order of station.
    stations: Vec<Station>,
    narrowings: Vec<Narrowing>,
    /// Half the length over which the radius is averaged, in mm: half the smallest lumen radius; or
    /// half the largest distance between two stations, if that is less; but half the spacing of a
    /// path's samples at least, since nothing finer is seen by them.
    half_window_mm: f64,
}

/// A given radius, and the profile from there to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Station {
    at_mm: f64,
    /// Polynomial of the distance from here; a constant behind the last station.
    cubic: [f64; 4],
    /// Integral of the profile from the first station to here.
    before: f64,
}

impl Station {
    fn radius(&self, station: f64) -> f64 {
        let t = station - self.at_mm;
        let [a, b, c, d] = self.cubic;
        a + (b + (c + d * t) * t) * t
    }

    fn integral(&self, station: f64) -> f64 {
        let t = station - self.at_mm;
        let [a, b, c, d] = self.cubic;
        self.before + (a + (b / 2.0 + (c / 3.0 + d / 4.0 * t) * t) * t) * t
    }
}

impl RadiusProfile {
    /// From diameters (at least one, above 0, stations rising).
    pub(super) fn new(diameters: &[(f64, f64)], narrowings: Vec<Narrowing>) -> Self {
        let radii: Vec<_> = diameters.iter().map(|&(s, d)| (s, 0.5 * d)).collect();
        let smallest = radii.iter().fold(f64::INFINITY, |m, r| m.min(r.1));
        let gaps = radii.windows(2).map(|pair| pair[1].0 - pair[0].0);
        let widest_gap = gaps.reduce(f64::max).unwrap_or(f64::INFINITY);
        let slopes = monotone::slopes(&radii);
        let mut stations: Vec<Station> = Vec::with_capacity(radii.len());
        for (i, &(at_mm, radius)) in radii.iter().enumerate() {
            let before = stations.last().map_or(0.0, |last| last.integral(at_mm));
            let cubic = match radii.get(i + 1) {
                Some(&(end, next)) => {
                    cubic((radius, slopes[i]), (next, slopes[i + 1]), end - at_mm)
                }
                None => [radius, 0.0, 0.0, 0.0],
            };
            stations.push(Station {
                at_mm,
                cubic,
                before,
            });
        }
        Self {
            stations,
            narrowings,
            half_window_mm: 0.5 * smallest.min(widest_gap).max(SPACING_MM),
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

    /// The mean of the profile over the window, and its slope.
    pub(super) fn without_narrowings(&self, station: f64) -> (f64, f64) {
        let (from, to) = (station - self.half_window_mm, station + self.half_window_mm);
        let width = 2.0 * self.half_window_mm;
        let radius = (self.integral(to) - self.integral(from)) / width;
        (radius, (self.given(to) - self.given(from)) / width)
    }

    /// The profile through the given radii.
    fn given(&self, station: f64) -> f64 {
        match self.before(station) {
            Some(begin) => begin.radius(station),
            None => self.stations[0].cubic[0],
        }
    }

    /// Integral of the profile from its first station.
    fn integral(&self, station: f64) -> f64 {
        match self.before(station) {
            Some(begin) => begin.integral(station),
            None => self.stations[0].cubic[0] * (station - self.stations[0].at_mm),
        }
    }

    /// The last station that does not lie behind a place.
    fn before(&self, station: f64) -> Option<&Station> {
        let behind = self.stations.partition_point(|s| s.at_mm <= station);
        self.stations[..behind].last()
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

    /// Two stations that nearly coincide, at any place: the radius stays within the range of the
    /// table, and its slope within that of a change over one spacing of the samples.
    #[test]
    fn a_sudden_change_of_diameter_does_not_overshoot() {
        for (table, low, high) in [
            (vec![(30.0, 2.0), (30.001, 1.9)], 0.95, 1.0),
            (
                vec![(0.0, 4.0), (30.0, 4.0), (30.001, 1.0), (60.0, 1.0)],
                0.5,
                2.0,
            ),
        ] {
            let p = RadiusProfile::new(&table, Vec::new());
            for i in 0..60_000 {
                let (radius, slope) = p.at(f64::from(i) * 1e-3);
                assert!(radius >= low - 1e-9 && radius <= high + 1e-9, "{radius}");
                assert!(slope.abs() <= (high - low) / SPACING_MM + 1e-9, "{slope}");
            }
        }
    }

    /// Away from steps the radius at a station is the one given there, to a few micrometres.
    #[test]
    fn the_given_diameters_are_met_at_their_stations() {
        let table: Vec<(f64, f64)> = [3.7, 3.7, 3.6, 3.5, 2.9, 2.5, 2.3, 2.0, 1.7]
            .iter()
            .enumerate()
            .map(|(i, d)| (10.0 * i as f64, *d))
            .collect();
        let p = RadiusProfile::new(&table, Vec::new());
        for &(station, diameter) in &table[1..8] {
            assert_relative_eq!(p.at(station).0, 0.5 * diameter, epsilon = 2e-3);
        }
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
