//! The covariates of a regression on one scale.

use nalgebra::{DMatrix, DVector};

use super::logistic::{NotFitted, Observation};

/// Smallest eigenvalue of the correlations of the covariates, below which they depend on each
/// other.
const DEPENDENT: f64 = 1e-9;

/// Means and spreads of the covariates.
#[derive(Debug, Clone)]
pub(super) struct Scaling {
    pub means: Vec<f64>,
    pub scales: Vec<f64>,
    pub trials: f64,
    pub rate: f64,
}

impl Scaling {
    /// Finds them, and refuses data that cannot be fitted.
    pub fn find<E>(
        count: usize,
        pass: &mut impl FnMut(&mut dyn FnMut(&Observation)) -> Result<(), E>,
    ) -> Result<Result<Self, NotFitted>, E> {
        let (mut trials, mut successes) = (0.0, 0.0);
        let mut sums = DVector::<f64>::zeros(count);
        pass(&mut |o| {
            trials += o.trials;
            successes += o.successes;
            for (sum, x) in sums.iter_mut().zip(&o.x) {
                *sum += o.trials * x;
            }
        })?;
        if successes <= 0.0 || successes >= trials {
            return Ok(Err(NotFitted::AllAlike));
        }
        let means = sums / trials;
        let mut products = DMatrix::<f64>::zeros(count, count);
        pass(&mut |o| {
            let x = DVector::from_fn(count, |k, _| o.x[k] - means[k]);
            products.ger(o.trials / trials, &x, &x, 1.0);
        })?;
        let scales: Vec<f64> = products.diagonal().iter().map(|v| v.sqrt()).collect();
        if scales
            .iter()
            .zip(&means)
            .any(|(s, m)| *s <= 1e-12 * m.abs())
        {
            return Ok(Err(NotFitted::Dependent));
        }
        let correlation = DMatrix::from_fn(count, count, |i, j| {
            products[(i, j)] / scales[i] / scales[j]
        });
        if count > 0 && correlation.symmetric_eigenvalues().min() < DEPENDENT {
            return Ok(Err(NotFitted::Dependent));
        }
        Ok(Ok(Self {
            means: means.iter().copied().collect(),
            scales,
            trials,
            rate: successes / trials,
        }))
    }

    /// The covariates of an observation, standardised, with the constant.
    pub fn row(&self, o: &Observation) -> DVector<f64> {
        DVector::from_fn(self.means.len() + 1, |k, _| match k.checked_sub(1) {
            None => 1.0,
            Some(k) => (o.x[k] - self.means[k]) / self.scales[k],
        })
    }
}
