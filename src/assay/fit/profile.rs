//! The profile of a fitted wire: between its knots where the readings reach, elsewhere that of the
//! wire as it was described.

use super::reach::Reach;
use crate::device::Wire;

/// Length in mm over which the two stiffnesses meet at an end of the reach: a list needs stations
/// that rise.
const STEP_MM: f64 = 0.01;
/// How far a list may lie from the described stiffness between its stations, relative.
const LIST_TOLERANCE: f64 = 2e-3;
/// Most halvings of a stretch of the described profile.
const HALVINGS: u32 = 8;

/// A station of a fitted profile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Station {
    /// Distance from the tip in mm.
    pub station_mm: f64,
    /// Bending stiffness in mN mm².
    pub stiffness: f64,
    /// Whether the readings say it; the described wire does elsewhere.
    pub reached: bool,
}

/// Shares of the knots in the logarithm of the stiffness at `s`: linear between knots, constant
/// outside the first and the last.
#[must_use]
pub fn shares(knots_mm: &[f64], s: f64) -> Vec<f64> {
    let mut shares = vec![0.0; knots_mm.len()];
    let behind = knots_mm.partition_point(|&knot| knot <= s);
    if behind == 0 {
        shares[0] = 1.0;
    } else if behind == knots_mm.len() {
        shares[behind - 1] = 1.0;
    } else {
        let (from, to) = (knots_mm[behind - 1], knots_mm[behind]);
        let share = (s - from) / (to - from);
        shares[behind - 1] = 1.0 - share;
        shares[behind] = share;
    }
    shares
}

/// The fitted stiffness in mN mm² at `s`, from the logarithms at the knots.
#[must_use]
pub fn fitted_at(knots_mm: &[f64], logarithms: &[f64], s: f64) -> f64 {
    let shares = shares(knots_mm, s);
    let sum: f64 = shares.iter().zip(logarithms).map(|(w, u)| w * u).sum();
    sum.exp()
}

/// The stations of the whole wire. `described_to` is the end of its description in mm.
#[must_use]
pub fn stations(
    knots_mm: &[f64],
    logarithms: &[f64],
    reach: &Reach,
    described: &Wire,
    described_to: f64,
) -> Vec<Station> {
    let mut list = Vec::new();
    let end = reach.stretches.last().map_or(0.0, |&(_, to)| to);
    let of_wire = |from: f64, to: f64, list: &mut Vec<Station>| {
        for station_mm in sampled(described, from, to) {
            list.push(Station {
                station_mm,
                stiffness: described.bending_stiffness(station_mm),
                reached: false,
            });
        }
    };
    let mut from = 0.0;
    for &(begin, to) in &reach.stretches {
        if begin > from + 2.0 * STEP_MM {
            let after_step = if from > 0.0 { from + STEP_MM } else { 0.0 };
            of_wire(after_step, begin - STEP_MM, &mut list);
        }
        let inner = knots_mm.iter().copied().filter(|&k| k > begin && k < to);
        for station_mm in std::iter::once(begin).chain(inner).chain([to]) {
            list.push(Station {
                station_mm,
                stiffness: fitted_at(knots_mm, logarithms, station_mm),
                reached: true,
            });
        }
        from = to;
    }
    of_wire(end + STEP_MM, described_to.max(end + STEP_MM), &mut list);
    list
}

/// Stations between `from` and `to` through which a list follows the described stiffness.
fn sampled(wire: &Wire, from: f64, to: f64) -> Vec<f64> {
    let features = wire.features_mm();
    let inner = features.iter().copied().filter(|&s| s > from && s < to);
    let ends: Vec<f64> = std::iter::once(from).chain(inner).collect();
    let mut stations = vec![from];
    for (i, &a) in ends.iter().enumerate() {
        let b = ends.get(i + 1).copied().unwrap_or(to);
        if b > a {
            halved(wire, a, b, HALVINGS, &mut stations);
            stations.push(b);
        }
    }
    stations
}

/// Adds the stations inside `(a, b)` that the list needs.
fn halved(wire: &Wire, a: f64, b: f64, left: u32, stations: &mut Vec<f64>) {
    // Just before a station, where a step may lie, the profile is that of this stretch.
    let near_b = b - 1e-9 * (b - a);
    let middle = 0.5 * (a + b);
    let listed = (wire.bending_stiffness(a) * wire.bending_stiffness(near_b)).sqrt();
    let off = (wire.bending_stiffness(middle) / listed - 1.0).abs();
    if off > LIST_TOLERANCE && left > 0 {
        halved(wire, a, middle, left - 1, stations);
        stations.push(middle);
        halved(wire, middle, b, left - 1, stations);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_linear_between_knots_and_constant_outside() {
        let knots = [10.0, 20.0, 60.0];
        for (s, wanted) in [
            (0.0, [1.0, 0.0, 0.0]),
            (10.0, [1.0, 0.0, 0.0]),
            (15.0, [0.5, 0.5, 0.0]),
            (30.0, [0.0, 0.75, 0.25]),
            (60.0, [0.0, 0.0, 1.0]),
            (99.0, [0.0, 0.0, 1.0]),
        ] {
            for (share, wanted) in shares(&knots, s).into_iter().zip(wanted) {
                approx::assert_relative_eq!(share, wanted, max_relative = 1e-14);
            }
        }
    }
}
