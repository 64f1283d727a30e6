//! Intervals of a regression of separated data: the profile of the penalised likelihood.

use std::convert::Infallible;

use nalgebra::DVector;
use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::logistic::{Interval, LogisticFit, Model, Observation, Summit, Term};
use super::separation::Found;
use crate::study::intervals::normal_bound;

/// Confidence of the intervals.
const CONFIDENCE: f64 = 0.95;
/// Farthest end, in standardised coefficients: odds that change by e^100 over one standard deviation
/// are without bound.
const FARTHEST: f64 = 100.0;
/// Halvings of the stretch in which an end lies.
const HALVINGS: u32 = 40;
/// Length of that stretch, in standardised coefficients, at which the end is found.
const CLOSE: f64 = 1e-7;

/// Fits separated data, which are in `rows`, and finds the intervals.
///
/// An end of the interval of a coefficient is where twice the penalised log likelihood, maximised
/// over all other coefficients, lies below its maximum by the 95 % point of χ² with one degree of
/// freedom. Source: G. Heinze and M. Schemper, Stat Med 21:2409-2419, 2002, section 2.
pub(super) fn fit(
    names: &[String],
    model: &Model<'_>,
    separation: &Found,
    rows: &[Observation],
) -> LogisticFit {
    let top = climb(model, model.start(), rows);
    let scales = &model.scaling.scales;
    let term = |(k, name): (usize, &String)| {
        let profile = Profile {
            model: Model {
                held: Some(k + 1),
                ..model.clone()
            },
            rows,
            top: &top,
            k: k + 1,
        };
        let ci95 = [-1.0, 1.0].map(|side| profile.end(side) / scales[k]);
        let coefficient = top.coefficients[k + 1] / scales[k];
        Term {
            name: name.clone(),
            coefficient,
            ci95,
            standard_error: top.covariance[(k + 1, k + 1)].sqrt() / scales[k],
            odds_ratio: coefficient.exp(),
            odds_ratio_ci95: ci95.map(f64::exp),
            standard_error_by_draw: None,
            p: profile.p(),
            unbounded: separation.unbounded[k] != 0.0,
        }
    };
    LogisticFit {
        terms: names.iter().enumerate().map(term).collect(),
        separation: separation.kind,
        interval: Interval::Profile,
        ..model.frame(&top)
    }
}

fn climb(model: &Model<'_>, start: DVector<f64>, rows: &[Observation]) -> Summit {
    let climbed = model.climb(start, &mut |take: &mut dyn FnMut(&Observation)| {
        rows.iter().for_each(take);
        Ok::<(), Infallible>(())
    });
    match climbed {
        Ok(summit) => summit,
        Err(never) => match never {},
    }
}

/// The profile of one coefficient.
struct Profile<'a> {
    model: Model<'a>,
    rows: &'a [Observation],
    top: &'a Summit,
    k: usize,
}

impl Profile<'_> {
    /// Twice what the penalised log likelihood loses where the coefficient is held at `value`, and
    /// the other coefficients there, found from `near`.
    fn loss(&self, value: f64, near: &DVector<f64>) -> (f64, DVector<f64>) {
        let mut start = near.clone();
        start[self.k] = value;
        let held = climb(&self.model, start, self.rows);
        let loss = 2.0 * (self.top.log_likelihood - held.log_likelihood);
        (loss, held.coefficients)
    }

    /// The end on one side, in the standardised coefficient; infinite beyond the farthest.
    fn end(&self, side: f64) -> f64 {
        let allowed = normal_bound(CONFIDENCE).powi(2);
        let middle = self.top.coefficients[self.k];
        let (mut inside, mut near) = (middle, self.top.coefficients.clone());
        let mut reach = 2.0 * self.top.covariance[(self.k, self.k)].sqrt();
        let mut outside = loop {
            let value = middle + side * reach;
            let (loss, there) = self.loss(value, &near);
            if loss > allowed {
                break value;
            }
            if reach > FARTHEST || !loss.is_finite() {
                return side * f64::INFINITY;
            }
            (inside, near) = (value, there);
            reach *= 1.6;
        };
        for _ in 0..HALVINGS {
            if (outside - inside).abs() <= CLOSE {
                break;
            }
            let value = 0.5 * (inside + outside);
            let (loss, there) = self.loss(value, &near);
            if loss > allowed {
                outside = value;
            } else {
                (inside, near) = (value, there);
            }
        }
        0.5 * (inside + outside)
    }

    /// p value of the penalised likelihood ratio against a coefficient of 0.
    fn p(&self) -> f64 {
        let (loss, _) = self.loss(0.0, &self.top.coefficients);
        match ChiSquared::new(1.0) {
            Ok(chi) if loss.is_finite() => chi.sf(loss.max(0.0)),
            _ => 1.0,
        }
    }
}
