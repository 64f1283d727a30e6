//! Intervals of what the parameters do: odds ratios and sensitivity indices.

use std::convert::Infallible;

use bendwise::study::sweep::{GridVariance, Observation, PickFreeze, Tally, fit_logistic};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use statrs::distribution::{ContinuousCDF, Normal};

use super::{BAND, Claim, Law, SWEEPS, assert_claim};

/// Twelve points in a row; the true coefficient is that of the fit to the rates themselves.
#[test]
fn odds_ratios_lie_in_their_intervals_as_often_as_stated() {
    use Claim::{Above, Wide, Within};
    let points = 12;
    let name = ["x".to_owned()];
    for (spread, effect, draws, claim) in [
        (1.0, 0.0, 8, Above),
        (1.0, 1.0, 8, Above),
        (1.0, 3.0, 8, Above),
        (2.0, 3.0, 16, Within),
        (1.0, 1.0, 40, Within),
        (3.0, 2.0, 4, Wide),
    ] {
        let law = Law::Logit {
            middle: 0.3,
            points: spread,
            draws: effect,
        };
        let observe =
            |point: usize, successes: f64, trials: f64, by_draw: Vec<Option<bool>>| Observation {
                x: vec![point as f64],
                successes,
                trials,
                by_draw,
            };
        let mean = |point: usize| {
            let steps = 2000;
            let at = |k: i32| law.rate(point, points, (f64::from(k) + 0.5) / f64::from(steps));
            (0..steps).map(at).sum::<f64>() / f64::from(steps)
        };
        let exact = fit_logistic::<Infallible>(&name, 1.0, |take| {
            (0..points).for_each(|p| take(&observe(p, 1e9 * mean(p), 1e9, Vec::new())));
            Ok(())
        });
        let truth = exact.unwrap().unwrap().terms[0].coefficient;
        let mut rng = ChaCha8Rng::seed_from_u64(29);
        let (mut covered, mut separated) = (0, 0);
        for _ in 0..SWEEPS {
            let sweep = law.sweep(draws, points, &mut rng);
            let mut tally = Tally::default();
            sweep.iter().for_each(|results| tally.add(results, 0));
            let worth = tally.trials() as f64 / tally.effective();
            let fit = fit_logistic::<Infallible>(&name, worth, |take| {
                for (point, results) in sweep.iter().enumerate() {
                    let reached = results.iter().filter(|r| **r == Some(true)).count() as f64;
                    take(&observe(point, reached, draws as f64, results.clone()));
                }
                Ok(())
            });
            // A sweep whose trials are all alike has no interval, which promises nothing.
            let Ok(fit) = fit.unwrap() else {
                covered += 1;
                continue;
            };
            separated += u32::from(fit.terms[0].unbounded);
            let [low, high] = fit.terms[0].ci95;
            covered += u32::from(low <= truth && truth <= high);
        }
        let coverage = f64::from(covered) / f64::from(SWEEPS);
        let what = format!(
            "{draws} draws of spread {effect}, coefficient {truth:.3}, {separated} separated"
        );
        assert_claim(&what, coverage, claim);
    }
}

/// Indices of x1 + x2²/2 + x1 x3 over the unit cube, from rows drawn anew.
#[test]
fn sensitivity_indices_lie_in_their_intervals_as_often_as_stated() {
    let f = |x: [f64; 3]| x[0] + 0.5 * x[1] * x[1] + x[0] * x[2];
    // Variances: of x1 · 3/2: 9/4 · 1/12; of x2²/2: 1/4 · 4/45; of x3/2: 1/4 · 1/12; of
    // (x1-1/2)(x3-1/2): 1/144.
    let parts = [9.0 / 48.0, 1.0 / 45.0, 1.0 / 48.0];
    let both = 1.0 / 144.0;
    let variance: f64 = parts.iter().sum::<f64>() + both;
    let truth: [(f64, f64); 3] = [0, 1, 2].map(|k: usize| {
        let shared = if k == 1 { 0.0 } else { both };
        (parts[k] / variance, (parts[k] + shared) / variance)
    });
    let (designs, rows) = (2000_u32, 128);
    let mut covered = [[0_u32; 2]; 3];
    let mut rng = ChaCha8Rng::seed_from_u64(31);
    for design in 0..designs {
        let mut sums = PickFreeze::new(3, u64::from(design));
        for _ in 0..rows {
            let mut draw = || [0; 3].map(|_| rng.random_range(0.0..1.0));
            let (first, second): ([f64; 3], [f64; 3]) = (draw(), draw());
            let mixed: Vec<f64> = (0..3)
                .map(|k| {
                    let mut x = first;
                    x[k] = second[k];
                    f(x)
                })
                .collect();
            sums.add(f(first), f(second), &mixed);
        }
        for (k, (first, total)) in sums.indices().unwrap().iter().enumerate() {
            for (way, (index, truth)) in [(first, truth[k].0), (total, truth[k].1)]
                .into_iter()
                .enumerate()
            {
                covered[k][way] += u32::from(index.ci95[0] <= truth && truth <= index.ci95[1]);
            }
        }
    }
    for (k, ways) in covered.iter().enumerate() {
        for (way, count) in ways.iter().enumerate() {
            let coverage = f64::from(*count) / f64::from(designs);
            println!("parameter {k}, {}: {coverage:.3}", ["alone", "total"][way]);
            assert!((BAND[0]..=BAND[1]).contains(&coverage));
        }
    }
}

/// A grid of four by three points; log odds rise along both, and draws move them all.
#[test]
fn indices_over_a_grid_lie_in_their_intervals_as_often_as_stated() {
    use Claim::{Above, Wide};
    let [columns, rows] = [4, 3];
    let logistic = |x: f64| 1.0 / (1.0 + (-x).exp());
    let law = |a: usize, b: usize, draws: f64, u: f64| {
        let z = Normal::standard().inverse_cdf(u);
        logistic(1.2 * (a as f64 - 1.5) + 0.8 * (b as f64 - 1.0) + draws * z)
    };
    for (draws, spread, claim) in [
        (8, 0.0, Above),
        (8, 1.0, Above),
        (16, 2.0, Above),
        (4, 1.0, Wide),
    ] {
        let mean = |a: usize, b: usize| {
            let steps = 2000;
            let at = |k: i32| law(a, b, spread, (f64::from(k) + 0.5) / f64::from(steps));
            (0..steps).map(at).sum::<f64>() / f64::from(steps)
        };
        let rates: Vec<Vec<f64>> = (0..columns)
            .map(|a| (0..rows).map(|b| mean(a, b)).collect())
            .collect();
        let variance = |values: &[f64]| {
            let mean = values.iter().sum::<f64>() / values.len() as f64;
            values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / values.len() as f64
        };
        let of_columns: Vec<f64> = (rates.iter())
            .map(|column| column.iter().sum::<f64>() / rows as f64)
            .collect();
        let truth = variance(&of_columns) / variance(&rates.concat());
        let mut rng = ChaCha8Rng::seed_from_u64(37);
        let covered = (0..SWEEPS).filter(|_| {
            let drawn: Vec<f64> = (0..draws).map(|_| rng.random_range(0.0..1.0)).collect();
            let mut grid = GridVariance::new(&[columns, rows], draws);
            for a in 0..columns {
                for b in 0..rows {
                    let trial = |&u: &f64| Some(rng.random_range(0.0..1.0) < law(a, b, spread, u));
                    grid.add(&[a, b], &drawn.iter().map(trial).collect::<Vec<_>>());
                }
            }
            // Where the draws hide that the rate varies, nothing is claimed.
            grid.indices().is_none_or(|indices| {
                let [low, high] = indices[0].ci95;
                low <= truth && truth <= high
            })
        });
        let coverage = covered.count() as f64 / f64::from(SWEEPS);
        let what = format!("{draws} draws of spread {spread}, index {truth:.3}");
        assert_claim(&what, coverage, claim);
    }
}
