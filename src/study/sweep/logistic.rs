//! Logistic regression of success on the parameters.

use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

/// Confidence of the intervals.
const CONFIDENCE: f64 = 0.95;
/// Most iterations of Newton's method.
const MOST_ITERATIONS: u32 = 50;
/// Change of the deviance, relative to its size, at which the fit has converged.
const TOLERANCE: f64 = 1e-12;
/// Size of a standardised coefficient from which the data do not bound it: the odds change by
/// e^15 over one standard deviation.
const UNBOUNDED: f64 = 15.0;

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
    /// Its standard error.
    pub standard_error: f64,
    /// Factor on the odds for one unit.
    pub odds_ratio: f64,
    /// Wald's 95 % interval of the odds ratio, with the larger of the standard errors.
    pub odds_ratio_ci95: [f64; 2],
    /// Standard error that takes the trials with one draw as one cluster; `None` for fewer than
    /// two draws.
    pub standard_error_by_draw: Option<f64>,
    /// Two-sided p value of Wald's test, with the same standard error.
    pub p_wald: f64,
}

/// A fitted regression.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LogisticFit {
    /// Log odds where all covariates are 0.
    pub constant: f64,
    /// Its standard error.
    pub constant_standard_error: f64,
    /// The covariates.
    pub terms: Vec<Term>,
    /// Logarithm of the likelihood (Bernoulli, trial by trial).
    pub log_likelihood: f64,
    /// Trials.
    pub trials: f64,
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
    /// Some covariates tell success from failure without exception, so their odds ratio has no
    /// bound.
    Separated,
}

impl NotFitted {
    /// The reason in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::AllAlike => "every trial succeeded, or none did",
            Self::Dependent => "a parameter does not vary, or follows from the others",
            Self::Separated => {
                "a parameter tells success from failure without exception, so its odds ratio has \
                 no bound"
            }
        }
    }
}

/// Maximum likelihood by Newton's method (iteratively reweighted least squares). `pass` hands
/// every observation to its argument, the same ones in the same order at each call, so that they
/// need not be in memory.
///
/// Model: log(p/(1-p)) = b0 + b·x. Source: P. `McCullagh` and J. A. Nelder, *Generalized Linear
/// Models*, 2nd ed., 1989, chapter 4. Covariates are standardised inside, which changes the
/// numbers but not the fit. Standard errors come from the information matrix and take the trials
/// as independent. Where draws are shared between observations, a second standard error takes all
/// trials with one draw as a cluster: the sandwich estimate of K.-Y. Liang and S. L. Zeger,
/// Biometrika 73:13-22, 1986, times draws/(draws - 1).
///
/// # Errors
///
/// [`NotFitted`] inside; outside, what `pass` reports.
pub fn fit<E>(
    names: &[String],
    mut pass: impl FnMut(&mut dyn FnMut(&Observation)) -> Result<(), E>,
) -> Result<Result<LogisticFit, NotFitted>, E> {
    let count = names.len();
    let (mut trials, mut successes) = (0.0, 0.0);
    let mut sums = vec![0.0; count];
    let mut squares = vec![0.0; count];
    let mut lows = vec![f64::INFINITY; count];
    let mut highs = vec![f64::NEG_INFINITY; count];
    pass(&mut |o| {
        trials += o.trials;
        successes += o.successes;
        for (k, x) in o.x.iter().enumerate() {
            sums[k] += o.trials * x;
            lows[k] = lows[k].min(*x);
            highs[k] = highs[k].max(*x);
        }
    })?;
    if successes <= 0.0 || successes >= trials {
        return Ok(Err(NotFitted::AllAlike));
    }
    let means: Vec<f64> = sums.iter().map(|sum| sum / trials).collect();
    pass(&mut |o| {
        for (k, x) in o.x.iter().enumerate() {
            squares[k] += o.trials * (x - means[k]).powi(2);
        }
    })?;
    let scales: Vec<f64> = squares.iter().map(|s| (s / trials).sqrt()).collect();
    if (0..count).any(|k| lows[k] >= highs[k]) {
        return Ok(Err(NotFitted::Dependent));
    }
    let row = |o: &Observation| {
        DVector::from_fn(count + 1, |k, _| match k.checked_sub(1) {
            None => 1.0,
            Some(k) => (o.x[k] - means[k]) / scales[k],
        })
    };
    let mut coefficients = DVector::zeros(count + 1);
    let rate: f64 = successes / trials;
    coefficients[0] = (rate / (1.0 - rate)).ln();
    let mut before = f64::NEG_INFINITY;
    for iteration in 1..=MOST_ITERATIONS {
        let mut gradient = DVector::zeros(count + 1);
        let mut information = DMatrix::zeros(count + 1, count + 1);
        let mut log_likelihood = 0.0;
        pass(&mut |o| {
            let x = row(o);
            let eta: f64 = x.dot(&coefficients);
            let p = 1.0 / (1.0 + (-eta).exp());
            // log(1 + e^eta) without overflow.
            let softplus = eta.max(0.0) + (-eta.abs()).exp().ln_1p();
            log_likelihood += o.successes * eta - o.trials * softplus;
            gradient.axpy(o.successes - o.trials * p, &x, 1.0);
            information.ger(o.trials * p * (1.0 - p), &x, &x, 1.0);
        })?;
        let Some(cholesky) = information.clone().cholesky() else {
            let runaway = coefficients.iter().skip(1).any(|b| b.abs() > UNBOUNDED);
            return Ok(Err(if runaway {
                NotFitted::Separated
            } else {
                NotFitted::Dependent
            }));
        };
        let covariance = cholesky.inverse();
        let well_posed = information.clone().symmetric_eigenvalues();
        if well_posed.min() < 1e-10 * well_posed.max() {
            let runaway = coefficients
                .iter()
                .skip(1)
                .any(|b| b.abs() > UNBOUNDED / 2.0);
            return Ok(Err(if runaway {
                NotFitted::Separated
            } else {
                NotFitted::Dependent
            }));
        }
        if coefficients.iter().skip(1).any(|b| b.abs() > UNBOUNDED) {
            return Ok(Err(NotFitted::Separated));
        }
        if (log_likelihood - before).abs() <= TOLERANCE * (log_likelihood.abs() + 1.0) {
            let mut scores: Vec<DVector<f64>> = Vec::new();
            pass(&mut |o| {
                let x = row(o);
                let p = 1.0 / (1.0 + (-x.dot(&coefficients)).exp());
                if scores.len() < o.by_draw.len() {
                    scores.resize(o.by_draw.len(), DVector::zeros(count + 1));
                }
                for (score, success) in scores.iter_mut().zip(&o.by_draw) {
                    if let Some(success) = success {
                        score.axpy(f64::from(u8::from(*success)) - p, &x, 1.0);
                    }
                }
            })?;
            let scaled = Scaled {
                by_draw: sandwich(&covariance, &scores),
                names,
                means: &means,
                scales: &scales,
                coefficients: &coefficients,
                covariance: &covariance,
            };
            return Ok(Ok(scaled.back(log_likelihood, trials, iteration)));
        }
        before = log_likelihood;
        coefficients += cholesky.solve(&gradient);
    }
    Ok(Err(NotFitted::Separated))
}

/// A fit in standardised covariates.
struct Scaled<'a> {
    names: &'a [String],
    means: &'a [f64],
    scales: &'a [f64],
    coefficients: &'a DVector<f64>,
    covariance: &'a DMatrix<f64>,
    by_draw: Option<DMatrix<f64>>,
}

/// Covariance that takes every score as one independent contribution.
fn sandwich(bread: &DMatrix<f64>, scores: &[DVector<f64>]) -> Option<DMatrix<f64>> {
    let draws = scores.len() as f64;
    if draws < 2.0 {
        return None;
    }
    let mut meat = DMatrix::zeros(bread.nrows(), bread.ncols());
    for score in scores {
        meat.ger(draws / (draws - 1.0), score, score, 1.0);
    }
    Some(bread * meat * bread)
}

impl Scaled<'_> {
    /// The same fit in the covariates as they were given.
    fn back(&self, log_likelihood: f64, trials: f64, iterations: u32) -> LogisticFit {
        let normal = Normal::standard();
        let z = normal.inverse_cdf(0.5 + 0.5 * CONFIDENCE);
        let term = |(k, name): (usize, &String)| {
            let coefficient = self.coefficients[k + 1] / self.scales[k];
            let error = |covariance: &DMatrix<f64>| {
                covariance[(k + 1, k + 1)].max(0.0).sqrt() / self.scales[k]
            };
            let standard_error = error(self.covariance);
            let standard_error_by_draw = self.by_draw.as_ref().map(error);
            let used = standard_error_by_draw.unwrap_or(0.0).max(standard_error);
            Term {
                name: name.clone(),
                coefficient,
                standard_error,
                odds_ratio: coefficient.exp(),
                odds_ratio_ci95: [
                    (coefficient - z * used).exp(),
                    (coefficient + z * used).exp(),
                ],
                standard_error_by_draw,
                p_wald: 2.0 * normal.sf((coefficient / used).abs()),
            }
        };
        // The constant is linear in the standardised coefficients: 1 and -mean/scale.
        let weights = DVector::from_fn(self.names.len() + 1, |k, _| match k.checked_sub(1) {
            None => 1.0,
            Some(k) => -self.means[k] / self.scales[k],
        });
        let variance = weights.dot(&(self.covariance * &weights));
        LogisticFit {
            constant: weights.dot(self.coefficients),
            constant_standard_error: variance.sqrt(),
            terms: self.names.iter().enumerate().map(term).collect(),
            log_likelihood,
            trials,
            iterations,
        }
    }
}
