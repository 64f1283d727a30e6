//! The logistic regression of a sweep, on what is in the rows of `points.csv`.

use std::convert::Infallible;

use serde::{Deserialize, Serialize};
use toml::Value;

use super::successes::Successes;
use crate::scenario::sweep::model::{ParameterSpec, Values, number, shown};
use crate::study::StudySetup;
use crate::study::sweep::{
    LogisticFit, NotFitted, Observation, StrategyTotals, Term, fit_logistic, value_at,
};

/// The regression of one strategy's success on the parameters.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Regression {
    /// Name of the strategy.
    pub strategy: String,
    /// The fit, if there is one.
    pub fit: Option<LogisticFit>,
    /// Why there is none.
    pub not_fitted: Option<NotFitted>,
    /// Odds ratios over the whole of what each parameter varies.
    pub over_range: Vec<OverRange>,
}

/// Odds ratio between the two ends of what a parameter varies: its least and largest level, or
/// its 5th and 95th percentile; of a category, between one of its levels and the first of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OverRange {
    /// Name of the covariate.
    pub name: String,
    /// The ends; 0 and 1 for a level of a category.
    pub range: [f64; 2],
    /// The level of a category against which this one stands.
    pub reference: Option<String>,
    /// Factor on the odds from one end to the other.
    pub odds_ratio: f64,
    /// Its 95 % interval.
    pub ci95: [f64; 2],
    /// Two-sided p value.
    pub p: f64,
    /// Whether without the penalty the data would set it no bound.
    pub unbounded: bool,
}

impl OverRange {
    fn new(term: &Term, covariate: &Covariate, parameters: &[ParameterSpec]) -> Self {
        let spec = &parameters[covariate.parameter];
        let range = covariate.range(spec);
        let span = range[1] - range[0];
        let reference = covariate.level.is_some().then(|| {
            let first = spec.levels().and_then(<[_]>::first);
            format!("{} = {}", spec.column, first.map_or(String::new(), shown))
        });
        Self {
            name: term.name.clone(),
            range,
            reference,
            odds_ratio: (term.coefficient * span).exp(),
            ci95: term.ci95.map(|end| (end * span).exp()),
            p: term.p,
            unbounded: term.unbounded,
        }
    }
}

/// A covariate: a parameter as it is, or whether it has one of its levels.
struct Covariate {
    name: String,
    parameter: usize,
    level: Option<Value>,
}

impl Covariate {
    /// Not-a-number where the parameter has no such value.
    fn of(&self, values: &[Value]) -> f64 {
        match (&self.level, values.get(self.parameter)) {
            (Some(level), Some(value)) => f64::from(u8::from(value == level)),
            (None, Some(value)) => number(value).unwrap_or(f64::NAN),
            (_, None) => f64::NAN,
        }
    }

    fn range(&self, spec: &ParameterSpec) -> [f64; 2] {
        let values = &spec.values;
        if self.level.is_some() {
            return [0.0, 1.0];
        }
        match values {
            Values::Listed { levels, .. } => {
                let numbers = levels.iter().filter_map(number);
                [
                    numbers.clone().fold(f64::INFINITY, f64::min),
                    numbers.fold(f64::NEG_INFINITY, f64::max),
                ]
            }
            Values::Spread { .. } => {
                [0.05, 0.95].map(|u| number(&value_at(values, u)).unwrap_or(f64::NAN))
            }
        }
    }
}

/// Numbers enter as they are; names, and numbers that are names, as their levels against the first of
/// them. A parameter with one level does not vary and is left out; so is a category that has no list
/// of levels, such as the number of a drawn anatomy.
fn covariates(parameters: &[ParameterSpec]) -> Vec<Covariate> {
    let mut covariates = Vec::new();
    for (parameter, spec) in parameters.iter().enumerate() {
        match spec.levels() {
            Some([_]) => {}
            None if spec.is_category() => {}
            Some(levels) if spec.is_category() => {
                covariates.extend(levels.iter().skip(1).map(|level| Covariate {
                    name: format!("{} = {}", spec.column, shown(level)),
                    parameter,
                    level: Some(level.clone()),
                }));
            }
            _ => covariates.push(Covariate {
                name: spec.column.clone(),
                parameter,
                level: None,
            }),
        }
    }
    covariates
}

/// Fits the regression of every strategy; `totals` says how many trials of each are worth one.
#[must_use]
pub fn regressions(
    successes: &Successes,
    setup: &StudySetup,
    totals: &[StrategyTotals],
) -> Vec<Regression> {
    let covariates = covariates(&setup.design.parameters);
    let names: Vec<String> = covariates.iter().map(|c| c.name.clone()).collect();
    let mut found = Vec::new();
    for (strategy, label) in setup.strategies.iter().enumerate() {
        let worth = totals.get(strategy);
        let worth = worth.map_or(1.0, |t| t.trials as f64 / t.effective_trials.max(1.0));
        let Ok(fitted) = fit_logistic::<Infallible>(&names, worth, |take| {
            for (point, by_draw) in successes.of(strategy) {
                let values = setup.design.point(point);
                let x: Vec<f64> = covariates.iter().map(|c| c.of(&values)).collect();
                let results = by_draw.iter().flatten();
                let none = results.clone().next().is_none();
                if none || x.iter().any(|x| !x.is_finite()) {
                    continue;
                }
                take(&Observation {
                    x,
                    trials: results.clone().count() as f64,
                    successes: results.filter(|success| **success).count() as f64,
                    by_draw: by_draw.to_vec(),
                });
            }
            Ok(())
        });
        let (fit, not_fitted) = match fitted {
            Ok(fit) => (Some(fit), None),
            Err(reason) => (None, Some(reason)),
        };
        let terms = fit.iter().flat_map(|fit| &fit.terms);
        let over_range = terms
            .zip(&covariates)
            .map(|(term, c)| OverRange::new(term, c, &setup.design.parameters))
            .collect();
        found.push(Regression {
            over_range,
            strategy: label.name.clone(),
            fit,
            not_fitted,
        });
    }
    found
}
