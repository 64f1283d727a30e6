//! Do the intervals of sweeps hold the coverage that they claim? Trials of known rates are made up
//! many times over, with few draws and with many, with draws that decide nothing to draws that decide
//! all, at one point and at many.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "where a helper fails the test has failed; helpers print what was measured"
)]

mod effects;
mod rates;

use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use statrs::distribution::{ContinuousCDF, Normal};

/// Coverage that 95 % intervals are to hold.
const BAND: [f64; 2] = [0.93, 0.97];
/// Made-up sweeps of a case.
const SWEEPS: u32 = 2500;
/// Three standard errors of a coverage of 0.95 found from so many sweeps.
const LUCK: f64 = 0.013;

/// What coverage a case can have.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Claim {
    /// Within the band.
    Within,
    /// Not below the band, and at most 99 %: the rate has few values, or the interval cannot claim
    /// more than independent trials would give.
    Above,
    /// Not below the band: fewer than five draws, or few trials in all, so that nearly every
    /// interval covers.
    Wide,
}

/// How draws and points make a trial succeed.
#[derive(Debug, Clone, Copy)]
enum Law {
    /// Log odds: middle + spread over the points + spread of the draws · z.
    Logit {
        middle: f64,
        points: f64,
        draws: f64,
    },
    /// This part of the draws succeeds nowhere, the others as the point says.
    Hard { part: f64 },
    /// Half of the points always succeed, the other half with this part of the draws.
    Half { part: f64 },
}

impl Law {
    fn log_odds(middle: f64, spread: f64, point: usize, points: usize) -> f64 {
        let place = if points > 1 {
            2.0 * point as f64 / (points - 1) as f64 - 1.0
        } else {
            0.0
        };
        middle + spread * place
    }

    /// Success rate at a point with a draw that has the part `u` of all draws below it.
    fn rate(&self, point: usize, points: usize, u: f64) -> f64 {
        let logistic = |x: f64| 1.0 / (1.0 + (-x).exp());
        match *self {
            Self::Logit {
                middle,
                points: spread,
                draws,
            } => {
                let z = Normal::standard().inverse_cdf(u);
                logistic(Self::log_odds(middle, spread, point, points) + draws * z)
            }
            Self::Hard { part } if u < part => 0.0,
            Self::Hard { .. } => logistic(Self::log_odds(1.0, 1.0, point, points)),
            Self::Half { part } => {
                let certain = 2 * point < points;
                f64::from(u8::from(certain || u < part))
            }
        }
    }

    /// Mean rate over all draws that there can be.
    fn truth(&self, points: usize) -> f64 {
        let steps = 2000;
        let at = |k: i32| (f64::from(k) + 0.5) / f64::from(steps);
        let rates = (0..points).flat_map(|p| (0..steps).map(move |k| self.rate(p, points, at(k))));
        rates.sum::<f64>() / (points as f64 * f64::from(steps))
    }

    /// A sweep: by point the success of every draw.
    fn sweep(&self, draws: usize, points: usize, rng: &mut ChaCha8Rng) -> Vec<Vec<Option<bool>>> {
        let drawn: Vec<f64> = (0..draws).map(|_| rng.random_range(0.0..1.0)).collect();
        (0..points)
            .map(|point| {
                let trial =
                    |&u: &f64| Some(rng.random_range(0.0..1.0) < self.rate(point, points, u));
                drawn.iter().map(trial).collect()
            })
            .collect()
    }
}

fn assert_claim(what: &str, coverage: f64, claim: Claim) {
    println!("{what}: {:.1} % ({claim:?})", 100.0 * coverage);
    assert!(coverage >= BAND[0] - LUCK, "{what}: {coverage}");
    match claim {
        Claim::Within => assert!(coverage <= BAND[1] + LUCK, "{what}: {coverage}"),
        Claim::Above => assert!(coverage <= 0.99 + LUCK / 2.0, "{what}: {coverage}"),
        Claim::Wide => {}
    }
}
