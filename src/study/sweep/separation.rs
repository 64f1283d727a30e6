//! Do covariates tell success from failure without exception?

use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};

use super::logistic::Observation;
use super::scaling::Scaling;

/// Most iterations in which the likelihood of separated data is followed outwards.
const MOST_ITERATIONS: u32 = 40;
/// Iterations before a direction is looked at: before, Newton's method is still on its way.
const FIRST_LOOK: u32 = 6;
/// Part of the largest share that counts as nothing.
const NOTHING: f64 = 1e-4;
/// Step, in standardised coefficients, at which a maximum is found and nothing is separated.
const TOLERANCE: f64 = 1e-8;

/// Whether covariates tell success from failure without exception.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Separation {
    /// They do not: the likelihood has a maximum.
    #[default]
    None,
    /// At a part of the observations all trials end alike, and a direction in the covariates sets
    /// them apart from the others.
    QuasiComplete,
    /// A direction in the covariates has all successes on one side and all failures on the other.
    Complete,
}

impl Separation {
    /// In words; nothing where there is none.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::None => "",
            Self::QuasiComplete => "quasi-complete separation",
            Self::Complete => "complete separation",
        }
    }
}

/// What was found.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Found {
    pub kind: Separation,
    /// By covariate: +1 or -1 where success becomes certain as its coefficient grows or falls, 0
    /// where the data bound it.
    pub unbounded: Vec<f64>,
}

/// Follows the likelihood without a penalty outwards.
///
/// Data are separated where a direction d has x·d at least 0 at observations without failures, at
/// most 0 at those without successes, 0 at all others, and not 0 at all of them; then the likelihood
/// grows along d without end (A. Albert and J. A. Anderson, Biometrika 71:1-10, 1984). Newton's steps
/// turn into such a direction, because the weight of what d separates falls by e with each step
/// and the rest comes to its maximum; the conditions are then checked at every observation.
pub(super) struct Watch<'a> {
    scaling: &'a Scaling,
    coefficients: DVector<f64>,
    step: DVector<f64>,
}

/// How the observations lie along a direction.
#[derive(Debug, Clone, Copy)]
struct Sides {
    /// Largest x·d of any observation.
    largest: f64,
    /// Largest share on the wrong side.
    wrong: f64,
    /// Least share on the right side.
    right: f64,
}

impl<'a> Watch<'a> {
    pub fn run<E>(
        scaling: &'a Scaling,
        pass: &mut impl FnMut(&mut dyn FnMut(&Observation)) -> Result<(), E>,
    ) -> Result<Found, E> {
        let count = scaling.means.len();
        let none = Found {
            kind: Separation::None,
            unbounded: vec![0.0; count],
        };
        let mut watch = Self {
            scaling,
            coefficients: DVector::zeros(count + 1),
            step: DVector::zeros(count + 1),
        };
        watch.coefficients[0] = (scaling.rate / (1.0 - scaling.rate)).ln();
        for iteration in 1..=MOST_ITERATIONS {
            let (sides, step) = watch.look(pass)?;
            if iteration > FIRST_LOOK && sides.wrong <= NOTHING * sides.largest {
                return Ok(watch.found(sides));
            }
            match step {
                Some(step) if step.amax() > TOLERANCE => {
                    watch.coefficients += &step;
                    watch.step = step;
                }
                _ => return Ok(none),
            }
        }
        Ok(none)
    }

    /// Goes through the observations: how they lie along the last step, and the next one.
    fn look<E>(
        &self,
        pass: &mut impl FnMut(&mut dyn FnMut(&Observation)) -> Result<(), E>,
    ) -> Result<(Sides, Option<DVector<f64>>), E> {
        let count = self.coefficients.len();
        let mut gradient = DVector::zeros(count);
        let mut information = DMatrix::zeros(count, count);
        let mut sides = Sides {
            largest: 0.0,
            wrong: 0.0,
            right: f64::INFINITY,
        };
        pass(&mut |o| {
            let x = self.scaling.row(o);
            let p = 1.0 / (1.0 + (-x.dot(&self.coefficients)).exp());
            gradient.axpy(o.successes - o.trials * p, &x, 1.0);
            information.ger(o.trials * p * (1.0 - p), &x, &x, 1.0);
            let along = x.dot(&self.step);
            let share = if o.successes <= 0.0 {
                -along
            } else if o.successes >= o.trials {
                along
            } else {
                -along.abs()
            };
            sides.largest = sides.largest.max(along.abs());
            sides.wrong = sides.wrong.max(-share);
            sides.right = sides.right.min(share);
        })?;
        let step = information.cholesky().map(|c| c.solve(&gradient));
        Ok((sides, step))
    }

    fn found(&self, sides: Sides) -> Found {
        let unbounded = |step: &f64| {
            let counts = step.abs() > NOTHING.sqrt() * self.step.amax();
            if counts { step.signum() } else { 0.0 }
        };
        Found {
            kind: if sides.right > NOTHING * sides.largest {
                Separation::Complete
            } else {
                Separation::QuasiComplete
            },
            unbounded: self.step.iter().skip(1).map(unbounded).collect(),
        }
    }
}
