//! Logistic regression of success on the parameters, penalised so that it always has an answer.

use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};

use super::profile;
use super::scaling::Scaling;
use super::separation::{Separation, Watch};
use crate::study::intervals::{normal_bound, student_bound, student_p};

/// Confidence of the intervals.
const CONFIDENCE: f64 = 0.95;
/// Most iterations of Newton's method.
const MOST_ITERATIONS: u32 = 100;
/// Longest step of a standardised coefficient.
const LONGEST_STEP: f64 = 5.0;
/// Step, in standardised coefficients, at which the fit has converged.
const TOLERANCE: f64 = 1e-9;
/// Part of the log likelihood that a step may lose by rounding.
const DOWN: f64 = 1e-13;
/// Draws below which their differences say nothing; see [`super::Tally`].
const FEWEST: f64 = 5.0;

/// Successes among trials at one setting of the covariates.
#[derive(Debug, Clone, PartialEq)]
pub struct Observation {
    /// Covariates, without the constant.
    pub x: Vec<f64>,
    /// Successes.
    pub successes: f64,
    /// Trials.
    pub trials: f64,
    /// Success of each trial by number of its draw, where draws are shared between observations;
    /// else empty.
    pub by_draw: Vec<Option<bool>>,
}

/// Coefficient of one covariate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Term {
    /// Name of the covariate.
    pub name: String,
    /// Change of the log odds for one unit.
    pub coefficient: f64,
    /// Its 95 % interval; see [`LogisticFit::interval`].
    pub ci95: [f64; 2],
    /// Its standard error with all trials independent.
    pub standard_error: f64,
    /// Factor on the odds for one unit.
    pub odds_ratio: f64,
    /// 95 % interval of the odds ratio.
    pub odds_ratio_ci95: [f64; 2],
    /// Standard error that takes the trials with one draw as one cluster; `None` for fewer than
    /// two draws.
    pub standard_error_by_draw: Option<f64>,
    /// Two-sided p value: of Wald's test, by Student's distribution where draws are the clusters; of
    /// the penalised likelihood ratio where the interval comes from it.
    pub p: f64,
    /// Whether without the penalty the data would set the coefficient no bound.
    pub unbounded: bool,
}

/// How the intervals of a fit were found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Interval {
    /// Coefficient ± bound times standard error: the wider of that with all trials independent,
    /// by the normal distribution, and that with the draws as clusters, by Student's.
    Wald,
    /// Profile of the penalised likelihood.
    Profile,
}

/// A fitted regression.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LogisticFit {
    /// Log odds where all covariates are 0.
    pub constant: f64,
    /// Its standard error with all trials independent.
    pub constant_standard_error: f64,
    /// The covariates.
    pub terms: Vec<Term>,
    /// Logarithm of the likelihood (Bernoulli, trial by trial), penalty included.
    pub penalised_log_likelihood: f64,
    /// Trials.
    pub trials: f64,
    /// Trials that are worth one: the counts of a fit to separated data are divided by it.
    pub trials_worth_one: f64,
    /// Whether covariates tell success from failure without exception.
    pub separation: Separation,
    /// How the intervals were found.
    pub interval: Interval,
    /// Iterations taken.
    pub iterations: u32,
}

/// Why there is no fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NotFitted {
    /// Every trial succeeded, or none did.
    AllAlike,
    /// A covariate does not vary, or is the sum of others.
    Dependent,
}

impl NotFitted {
    /// The reason in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::AllAlike => "every trial succeeded, or none did",
            Self::Dependent => "a parameter does not vary, or follows from the others",
        }
    }
}

/// Maximum of the likelihood with Firth's penalty, by Newton's method. `pass` hands every
/// observation to its argument, the same ones in the same order at each call, so that they need not
/// be in memory. `trials_worth_one`, at least 1, says how many trials are worth one with a draw of
/// its own; it counts where data are separated.
///
/// Model: log(p/(1-p)) = b0 + b·x. Penalty: half the logarithm of the determinant of the information
/// matrix I, so that the score is Σ (s - n p + h (1/2 - p)) x with h the leverage of the observation,
/// n p (1-p) xᵀ I⁻¹ x. Source: D. Firth, Biometrika 80:27-38, 1993; for separated data G. Heinze and
/// M. Schemper, Stat Med 21:2409-2419, 2002. Covariates are standardised inside, which changes the
/// numbers but not the fit.
///
/// Standard errors come from the information matrix and take the trials as independent. Where
/// draws are shared between observations, a second standard error takes all trials with one draw as
/// a cluster: the sandwich estimate of K.-Y. Liang and S. L. Zeger, Biometrika 73:13-22, 1986, times
/// draws/(draws - 1); its interval uses Student's distribution with one degree of freedom less than
/// there are draws, since every draw meets the same points and so gives one estimate of its own. With
/// fewer than five draws the first counts `trials_worth_one` trials as one.
/// Where data are separated, neither says anything: counts are divided by `trials_worth_one` (the
/// design effect; J. N. K. Rao and A. J. Scott, Ann Stat 12:46-60, 1984) and the intervals are those of
/// the profile of the penalised likelihood.
///
/// # Errors
///
/// [`NotFitted`] inside; outside, what `pass` reports.
pub fn fit<E>(
    names: &[String],
    trials_worth_one: f64,
    mut pass: impl FnMut(&mut dyn FnMut(&Observation)) -> Result<(), E>,
) -> Result<Result<LogisticFit, NotFitted>, E> {
    let scaling = match Scaling::find(names.len(), &mut pass)? {
        Ok(scaling) => scaling,
        Err(reason) => return Ok(Err(reason)),
    };
    let separation = Watch::run(&scaling, &mut pass)?;
    let mut model = Model {
        scaling: &scaling,
        divisor: 1.0,
        held: None,
    };
    let worth = trials_worth_one.max(1.0);
    if separation.kind != Separation::None {
        model.divisor = worth;
        let mut rows: Vec<Observation> = Vec::new();
        pass(&mut |o| {
            rows.push(Observation {
                by_draw: Vec::new(),
                ..o.clone()
            });
        })?;
        return Ok(Ok(profile::fit(names, &model, &separation, &rows)));
    }
    let start = model.start();
    let found = model.climb(start, &mut pass)?;
    let by_draw = model.by_draw(&found, &mut pass)?;
    Ok(Ok(model.back(names, &found, by_draw.as_ref(), worth)))
}

/// What is maximised.
#[derive(Debug, Clone)]
pub(super) struct Model<'a> {
    pub scaling: &'a Scaling,
    /// Counts are divided by this.
    pub divisor: f64,
    /// A standardised coefficient that is held.
    pub held: Option<usize>,
}

/// A maximum, in standardised covariates.
#[derive(Debug, Clone)]
pub(super) struct Summit {
    pub coefficients: DVector<f64>,
    pub covariance: DMatrix<f64>,
    pub log_likelihood: f64,
    pub iterations: u32,
}

impl Model<'_> {
    /// The fit of the constant alone.
    pub fn start(&self) -> DVector<f64> {
        let rate = self.scaling.rate;
        let mut start = DVector::zeros(self.scaling.means.len() + 1);
        start[0] = (rate / (1.0 - rate)).ln();
        start
    }

    /// Climbs from `start` to the maximum.
    pub fn climb<E>(
        &self,
        start: DVector<f64>,
        pass: &mut impl FnMut(&mut dyn FnMut(&Observation)) -> Result<(), E>,
    ) -> Result<Summit, E> {
        let count = start.len();
        let mut coefficients = start;
        let mut summit: Option<Summit> = None;
        let mut step = DVector::zeros(count);
        for iteration in 1..=MOST_ITERATIONS {
            let mut information = DMatrix::zeros(count, count);
            let mut log_likelihood = 0.0;
            pass(&mut |o| {
                let x = self.scaling.row(o);
                let eta: f64 = x.dot(&coefficients);
                let p = 1.0 / (1.0 + (-eta).exp());
                // log(1 + e^eta) without overflow.
                let softplus = eta.max(0.0) + (-eta.abs()).exp().ln_1p();
                log_likelihood += (o.successes * eta - o.trials * softplus) / self.divisor;
                information.ger(o.trials / self.divisor * p * (1.0 - p), &x, &x, 1.0);
            })?;
            let cholesky = information.cholesky();
            if let Some(cholesky) = &cholesky {
                let roots = cholesky.l_dirty().diagonal();
                log_likelihood += roots.iter().map(|root| root.ln()).sum::<f64>();
            }
            // A step that went down, or to where nothing is known, was too long.
            let risen = summit.as_ref().is_none_or(|last| {
                log_likelihood >= last.log_likelihood - DOWN * last.log_likelihood.abs()
            });
            let (Some(cholesky), true) = (cholesky, risen) else {
                let Some(last) = &summit else {
                    break;
                };
                step *= 0.5;
                coefficients = &last.coefficients + &step;
                if step.amax() <= TOLERANCE {
                    break;
                }
                continue;
            };
            let covariance = cholesky.inverse();
            let mut gradient = DVector::zeros(count);
            pass(&mut |o| {
                let x = self.scaling.row(o);
                let p = 1.0 / (1.0 + (-x.dot(&coefficients)).exp());
                let n = o.trials / self.divisor;
                let leverage = n * p * (1.0 - p) * x.dot(&(&covariance * &x));
                let score = o.successes / self.divisor - n * p + leverage * (0.5 - p);
                gradient.axpy(score, &x, 1.0);
            })?;
            step = &covariance * &gradient;
            if let Some(held) = self.held {
                // Newton's step among those that leave the held coefficient as it is.
                let part = step[held] / covariance[(held, held)];
                step -= covariance.column(held) * part;
                step[held] = 0.0;
            }
            let longest = step.amax();
            summit = Some(Summit {
                coefficients: coefficients.clone(),
                covariance,
                log_likelihood,
                iterations: iteration,
            });
            if longest <= TOLERANCE {
                break;
            }
            step *= (LONGEST_STEP / longest).min(1.0);
            coefficients += &step;
        }
        Ok(summit.unwrap_or_else(|| Summit {
            covariance: DMatrix::from_element(count, count, f64::NAN),
            coefficients: DVector::from_element(count, f64::NAN),
            log_likelihood: f64::NAN,
            iterations: 0,
        }))
    }

    /// Covariance that takes all trials with one draw as one contribution, and how many draws
    /// there are.
    fn by_draw<E>(
        &self,
        found: &Summit,
        pass: &mut impl FnMut(&mut dyn FnMut(&Observation)) -> Result<(), E>,
    ) -> Result<Option<(DMatrix<f64>, f64)>, E> {
        let count = found.coefficients.len();
        let mut scores: Vec<(DVector<f64>, f64)> = Vec::new();
        pass(&mut |o| {
            let x = self.scaling.row(o);
            let p = 1.0 / (1.0 + (-x.dot(&found.coefficients)).exp());
            if scores.len() < o.by_draw.len() {
                scores.resize(o.by_draw.len(), (DVector::zeros(count), 0.0));
            }
            for ((score, met), success) in scores.iter_mut().zip(&o.by_draw) {
                if let Some(success) = success {
                    score.axpy(f64::from(u8::from(*success)) - p, &x, 1.0);
                    *met += 1.0;
                }
            }
        })?;
        let met: f64 = scores.iter().map(|(_, met)| met).sum();
        let squares: f64 = scores.iter().map(|(_, met)| met * met).sum();
        let draws = met * met / squares.max(1.0);
        if draws < 2.0 - 1e-9 {
            return Ok(None);
        }
        let mut meat = DMatrix::zeros(count, count);
        for (score, _) in &scores {
            meat.ger(draws / (draws - 1.0), score, score, 1.0);
        }
        Ok(Some((&found.covariance * meat * &found.covariance, draws)))
    }

    /// The fit in the covariates as they were given.
    fn back(
        &self,
        names: &[String],
        found: &Summit,
        by_draw: Option<&(DMatrix<f64>, f64)>,
        worth: f64,
    ) -> LogisticFit {
        let scales = &self.scaling.scales;
        // Few draws that happen to agree do not make their trials independent.
        let few = by_draw.is_some_and(|(_, draws)| *draws < FEWEST - 1e-9);
        let wider = if few { worth.sqrt() } else { 1.0 };
        let term = |(k, name): (usize, &String)| {
            let coefficient = found.coefficients[k + 1] / scales[k];
            let error =
                |covariance: &DMatrix<f64>| covariance[(k + 1, k + 1)].max(0.0).sqrt() / scales[k];
            let standard_error = error(&found.covariance);
            let clusters = by_draw.map(|(c, draws)| (error(c), draws - 1.0));
            let alone = normal_bound(CONFIDENCE) * standard_error * wider;
            let half = clusters.map_or(alone, |(error, freedom)| {
                alone.max(student_bound(freedom, CONFIDENCE) * error)
            });
            let p = clusters.map_or(0.0, |(error, freedom)| {
                student_p(coefficient / error, freedom)
            });
            let ci95 = [coefficient - half, coefficient + half];
            Term {
                name: name.clone(),
                coefficient,
                ci95,
                standard_error,
                odds_ratio: coefficient.exp(),
                odds_ratio_ci95: ci95.map(f64::exp),
                standard_error_by_draw: clusters.map(|(error, _)| error),
                p: p.max(student_p(
                    coefficient / standard_error / wider,
                    f64::INFINITY,
                )),
                unbounded: false,
            }
        };
        LogisticFit {
            terms: names.iter().enumerate().map(term).collect(),
            ..self.frame(found)
        }
    }

    /// The fit without its terms.
    pub fn frame(&self, found: &Summit) -> LogisticFit {
        // The constant is linear in the standardised coefficients: 1 and -mean/scale.
        let weights = DVector::from_fn(found.coefficients.len(), |k, _| match k.checked_sub(1) {
            None => 1.0,
            Some(k) => -self.scaling.means[k] / self.scaling.scales[k],
        });
        let variance = weights.dot(&(&found.covariance * &weights));
        // The determinant in the covariates as they were given.
        let stretch: f64 = self.scaling.scales.iter().map(|s| s.ln()).sum();
        LogisticFit {
            constant: weights.dot(&found.coefficients),
            constant_standard_error: variance.sqrt(),
            terms: Vec::new(),
            penalised_log_likelihood: found.log_likelihood + stretch,
            trials: self.scaling.trials,
            trials_worth_one: self.divisor,
            separation: Separation::None,
            interval: Interval::Wald,
            iterations: found.iterations,
        }
    }
}
