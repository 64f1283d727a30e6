//! A vessel that moves by itself: with the heart, and with the breath.

use std::f64::consts::TAU;

use nalgebra::Vector3;

/// Share of a beat in which the heart contracts, and in which it relaxes again; the rest is a pause.
///
/// From end diastole to end systole about 0.35 of a beat at rest, relaxation about as long (from memory).
const CONTRACTION: f64 = 0.35;
const RELAXATION: f64 = 0.35;

/// A displacement of a vessel's axes that comes and goes with the heart, and one with the breath.
///
/// Control vectors are those of the displacements of a [`super::GivingVessel`].
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Motion {
    /// Length of a beat in s, above 0, and the control vectors at end systole against end diastole, in mm.
    pub heart: Option<(f64, Vec<Vector3<f64>>)>,
    /// Length of a breath in s, above 0, and the control vectors when breathed in against breathed out, in
    /// mm.
    pub breath: Option<(f64, Vec<Vector3<f64>>)>,
}

/// How far systole has gone at a share of the beat, from 0 at end diastole to 1: twice continuously
/// differentiable.
fn systole(share: f64) -> f64 {
    let rising = |x: f64| x * x * x * (10.0 - 15.0 * x + 6.0 * x * x);
    if share < CONTRACTION {
        rising(share / CONTRACTION)
    } else if share < CONTRACTION + RELAXATION {
        1.0 - rising((share - CONTRACTION) / RELAXATION)
    } else {
        0.0
    }
}

/// Largest slope of [`systole`]: 15/8 over the shorter of its ramps.
const STEEPEST: f64 = 1.875 / 0.35;

impl Motion {
    /// Control vectors at a time in s, put into `out`, which has their number.
    pub fn at(&self, time_s: f64, out: &mut [Vector3<f64>]) {
        out.fill(Vector3::zeros());
        let mut add = |of: &[Vector3<f64>], share: f64| {
            for (out, of) in out.iter_mut().zip(of) {
                *out += of * share;
            }
        };
        if let Some((beat_s, of)) = &self.heart {
            add(of, systole((time_s / beat_s).rem_euclid(1.0)));
        }
        if let Some((breath_s, of)) = &self.breath {
            add(of, 0.5 - 0.5 * (TAU * time_s / breath_s).cos());
        }
    }

    /// Upper bound of the speed of any control vector in mm/s.
    #[must_use]
    pub fn top_speed_mm_per_s(&self) -> f64 {
        let farthest = |of: &[Vector3<f64>]| of.iter().map(|v| v.norm()).fold(0.0, f64::max);
        let heart = self.heart.as_ref();
        let breath = self.breath.as_ref();
        heart.map_or(0.0, |(s, of)| STEEPEST * farthest(of) / s)
            + breath.map_or(0.0, |(s, of)| 0.5 * TAU * farthest(of) / s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_beat_comes_back_and_is_never_faster_than_said() {
        let motion = Motion {
            heart: Some((0.9, vec![Vector3::new(6.0, 0.0, 0.0)])),
            breath: Some((4.0, vec![Vector3::new(0.0, 5.0, 0.0)])),
        };
        let at = |t: f64| {
            let mut out = [Vector3::zeros()];
            motion.at(t, &mut out);
            out[0]
        };
        // Nine beats are two breaths and a fortieth.
        approx::assert_relative_eq!(at(0.0), at(36.0), epsilon = 1e-9);
        let mut fastest: f64 = 0.0;
        for k in 0..8000 {
            let t = 0.001 * f64::from(k);
            fastest = fastest.max((at(t + 5e-4) - at(t)).norm() / 5e-4);
        }
        let bound = motion.top_speed_mm_per_s();
        assert!(
            fastest <= bound && fastest > 0.8 * bound,
            "{fastest} of {bound}"
        );
        approx::assert_relative_eq!(at(0.35 * 0.9).x, 6.0, epsilon = 1e-9);
    }
}
