//! What a trial draws: a counter-based generator keyed by study seed, trial and stream.
//!
//! ChaCha is a generator in counter mode (Bernstein, *ChaCha, a variant of Salsa20*, 2008): a
//! key, a stream number and a position give the random words, whatever was drawn before. The
//! same trial number therefore draws the same variation for every strategy, on any thread.

use std::f64::consts::PI;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use crate::hands::Turns;
use crate::scenario::model::VariationSpec;

/// What is drawn from which stream; the numbers are part of the meaning of a seed.
#[derive(Debug, Clone, Copy)]
pub(super) enum Stream {
    Roll = 0,
    Friction = 1,
    Diameter = 2,
    Bend = 3,
    Hand = 4,
    CatheterRoll = 16,
    Reading = 64,
}

pub(super) fn generator(seed: u64, trial: u32, stream: Stream) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream((u64::from(trial) << 8) | stream as u64);
    rng
}

/// The variation of one trial.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Variation {
    /// Roll of the wire at the start in rad.
    pub roll_rad: f64,
    /// Roll of a support catheter at the start in rad, drawn from the whole circle.
    pub catheter_roll_rad: f64,
    /// Factor on the friction coefficient, mean 1.
    pub friction_factor: f64,
    /// Factor on every lumen diameter, mean 1.
    pub diameter_factor: f64,
    /// Factor on the angles of the tip's bends, mean 1.
    pub bend_factor: f64,
}

impl Variation {
    /// The variation of trial `trial` of a study with this seed.
    #[must_use]
    pub fn draw(spec: &VariationSpec, seed: u64, trial: u32) -> Self {
        let normal = |stream| -> f64 { StandardNormal.sample(&mut generator(seed, trial, stream)) };
        let uniform: f64 = generator(seed, trial, Stream::Roll).random_range(-1.0..1.0);
        Self {
            roll_rad: spec.roll_middle_rad + spec.roll_half_width_rad * uniform,
            catheter_roll_rad: generator(seed, trial, Stream::CatheterRoll).random_range(-PI..PI),
            friction_factor: log_normal(spec.friction_cv, normal(Stream::Friction)),
            diameter_factor: log_normal(spec.diameter_cv, normal(Stream::Diameter)),
            bend_factor: (1.0 + spec.bend_cv * normal(Stream::Bend)).max(0.0),
        }
    }
}

/// Log-normal factor of mean 1 and coefficient of variation `cv` for a standard normal `z`.
fn log_normal(cv: f64, z: f64) -> f64 {
    let variance = (cv * cv).ln_1p();
    (variance.sqrt() * z - 0.5 * variance).exp()
}

/// The turns of one trial's hand.
pub(super) struct HandTurns {
    rng: ChaCha8Rng,
    sd_rad: f64,
}

impl HandTurns {
    pub(super) fn new(spec: &VariationSpec, seed: u64, trial: u32) -> Self {
        Self {
            rng: generator(seed, trial, Stream::Hand),
            sd_rad: spec.turn_sd_rad,
        }
    }
}

impl Turns for HandTurns {
    fn turn(&mut self, wanted: Option<f64>) -> f64 {
        let aim = wanted.unwrap_or_else(|| self.rng.random_range(-PI..PI));
        let noise: f64 = StandardNormal.sample(&mut self.rng);
        aim + self.sd_rad * noise
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SPEC: VariationSpec = VariationSpec {
        roll_half_width_rad: PI,
        roll_middle_rad: 0.0,
        friction_cv: 0.3,
        turn_sd_rad: 0.1,
        diameter_cv: 0.1,
        bend_cv: 0.05,
    };

    #[test]
    fn a_trial_draws_the_same_whatever_was_drawn_before() {
        let late = Variation::draw(&SPEC, 7, 17);
        let all: Vec<_> = (0..18).map(|t| Variation::draw(&SPEC, 7, t)).collect();
        assert_eq!(late, all[17]);
        assert_ne!(all[16], all[17]);
    }

    #[test]
    fn factors_have_mean_one_and_the_stated_variation() {
        let n = 4000;
        let factors: Vec<f64> = (0..n)
            .map(|t| Variation::draw(&SPEC, 3, t).friction_factor)
            .collect();
        let mean = factors.iter().sum::<f64>() / f64::from(n);
        let sd = (factors.iter().map(|f| (f - mean).powi(2)).sum::<f64>() / f64::from(n)).sqrt();
        // Three standard errors of mean and standard deviation for this sample size.
        assert!((mean - 1.0).abs() < 0.015, "mean {mean}");
        assert!((sd - 0.3).abs() < 0.03, "standard deviation {sd}");
    }
}
