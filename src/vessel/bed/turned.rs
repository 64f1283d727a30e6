//! The axis of a branch that is turned and bent without becoming longer.
//!
//! Equation: `t(s) = Q(s) t0(s)`, `Q' = Q [Ω]x`, `Ω = t0 x Δk`, `c(s) = c(0) + ∫ t ds`.
//! Symbols: `t0` tangent at rest, `Q` turn of the section at station `s`, `Δk` curvature that is added (1/mm), in
//! the section at rest. The new curvature vector is `Q (k0 + Δk)`: the added one as it stands, and no
//! stretch. Integrated by Simpson's rule.

use std::f64::consts::{FRAC_1_SQRT_2, PI, SQRT_2};

use nalgebra::{UnitQuaternion, Vector3};

use super::spline::Knots;
use crate::vessel::centreline::Centreline;
use crate::vessel::path::{number, whole};

/// Parts of an interval between two knots in which the axis is integrated.
const PARTS: usize = 4;
/// Places at which a mean over a branch is taken.
const PLACES: u32 = 400;

/// What is done to one branch beside what is done to its parent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Own {
    /// Nothing.
    Nothing,
    /// It swings about its start by a rotation vector in rad.
    Swung(Vector3<f64>),
    /// It is bent in waves.
    Waves(Waves),
}

/// Bends to alternate sides, across the plane in which a branch is bent most, by which it swings to either
/// side of where it lies at rest.
///
/// Equation: added curvature `a cos(√2 k s)` up to `s1 = pi/(√2 k)`, and `-a cos(k (s - s1))` behind that.
/// Symbols: `s` station in mm, `k = 2 pi/L`, `L` length of a wave in mm. A straight branch that begins at rest, in
/// place and direction, has gone `a/k²` aside at `s1`, and then swings that far to either side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Waves {
    /// Largest added curvature in 1/mm along the running normal and the binormal.
    most: [f64; 2],
    /// Length of a wave in mm, that is of two bends.
    wave_mm: f64,
}

impl Waves {
    /// Waves, with a bend every `bend_mm` and a whole wave at least, that raise the mean curvature of a
    /// branch by `gain_per_mm`.
    pub(super) fn raising(line: &Centreline, gain_per_mm: f64, bend_mm: f64) -> Self {
        let mut all = [0.0; 2];
        let wave_mm = (2.0 * bend_mm).min(line.length_mm());
        let places: Vec<_> = (0..PLACES)
            .map(|k| {
                let s = (f64::from(k) + 0.5) / f64::from(PLACES) * line.length_mm();
                let (n, b) = sides(line, s);
                let k = line.curvature(s);
                let k = [k.dot(&n), k.dot(&b)];
                all = [all[0] + k[0], all[1] + k[1]];
                (k, wave(s, wave_mm))
            })
            .collect();
        let bent = f64::hypot(all[0], all[1]);
        let across = if bent > 1e-9 * f64::from(PLACES) {
            [-all[1] / bent, all[0] / bent]
        } else {
            [0.0, 1.0]
        };
        let gain = |most: f64| {
            let gains = places.iter().map(|(k, wave)| {
                let added = most * wave;
                (k[0] + added * across[0]).hypot(k[1] + added * across[1]) - k[0].hypot(k[1])
            });
            gains.sum::<f64>() / f64::from(PLACES)
        };
        // The gain grows without end with the size of the waves, and is no more than that.
        let (mut low, mut high) = (0.0, 2.0 * gain_per_mm);
        while gain(high) < gain_per_mm {
            high *= 2.0;
        }
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if gain(middle) < gain_per_mm {
                low = middle;
            } else {
                high = middle;
            }
        }
        Self {
            most: across.map(|c| c * high),
            wave_mm,
        }
    }

    /// `Ω` at a station, in 1/mm.
    fn turning(&self, line: &Centreline, station_mm: f64) -> Vector3<f64> {
        let (n, b) = sides(line, station_mm);
        let added = (n * self.most[0] + b * self.most[1]) * wave(station_mm, self.wave_mm);
        line.tangent(station_mm).cross(&added)
    }
}

/// Added curvature over the largest one.
fn wave(station_mm: f64, wave_mm: f64) -> f64 {
    let angle = std::f64::consts::TAU * station_mm / wave_mm;
    let first = FRAC_1_SQRT_2 * PI;
    if angle < first {
        (SQRT_2 * angle).cos()
    } else {
        -(angle - first).cos()
    }
}

/// Running normal and binormal.
fn sides(line: &Centreline, station_mm: f64) -> (Vector3<f64>, Vector3<f64>) {
    let n = line.normal(station_mm);
    (n, line.tangent(station_mm).cross(&n))
}

/// A turned axis: displacement in mm and turn of the section, at equal distances along the branch.
#[derive(Debug, Clone)]
pub(super) struct Turned {
    step_mm: f64,
    at: Vec<(Vector3<f64>, UnitQuaternion<f64>)>,
}

impl Turned {
    /// The share `share` of what is done to a branch, whose start is displaced and turned as `start` says.
    pub(super) fn of(
        line: &Centreline,
        knots: &Knots,
        own: &Own,
        share: f64,
        (moved, turn): (Vector3<f64>, UnitQuaternion<f64>),
    ) -> Self {
        let steps = PARTS * knots.intervals;
        let step_mm = line.length_mm() / number(steps);
        let turn = match own {
            Own::Swung(by) => turn * UnitQuaternion::from_scaled_axis(by * share),
            Own::Nothing | Own::Waves(_) => turn,
        };
        let mut here = (moved, turn);
        let mut at = vec![here];
        for k in 0..steps {
            let s = step_mm * number(k);
            let (middle, end) = (s + 0.5 * step_mm, s + step_mm);
            let turned = |from: f64, by: f64| match own {
                Own::Waves(waves) => {
                    let turning = waves.turning(line, from);
                    UnitQuaternion::from_scaled_axis(turning * (share * by))
                }
                Own::Nothing | Own::Swung(_) => UnitQuaternion::identity(),
            };
            let half = here.1 * turned(s + 0.25 * step_mm, 0.5 * step_mm);
            let next = here.1 * turned(middle, step_mm);
            let slope = |turn: &UnitQuaternion<f64>, s: f64| {
                let tangent = line.tangent(s);
                turn * tangent - tangent
            };
            let way = slope(&here.1, s) + slope(&half, middle) * 4.0 + slope(&next, end);
            here = (here.0 + way * (step_mm / 6.0), next);
            at.push(here);
        }
        Self { step_mm, at }
    }

    /// Displacement and turn at a station in mm.
    pub(super) fn at(&self, station_mm: f64) -> (Vector3<f64>, UnitQuaternion<f64>) {
        let at = (station_mm / self.step_mm).clamp(0.0, number(self.at.len() - 1));
        let k = whole(at).min(self.at.len() - 2);
        let share = at - number(k);
        let (a, b) = (&self.at[k], &self.at[k + 1]);
        (a.0.lerp(&b.0, share), a.1.nlerp(&b.1, share))
    }

    /// Displacement in mm and turn of what hangs on a station, `arm` mm away at rest.
    pub(super) fn carried(
        &self,
        station_mm: f64,
        arm: &Vector3<f64>,
    ) -> (Vector3<f64>, UnitQuaternion<f64>) {
        let (moved, turn) = self.at(station_mm);
        (moved + turn * arm - arm, turn)
    }

    /// Displacements in mm at the knots.
    pub(super) fn at_knots(&self) -> Vec<Vector3<f64>> {
        self.at.iter().step_by(PARTS).map(|at| at.0).collect()
    }
}
