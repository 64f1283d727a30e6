//! The logistic regression of a sweep, on the rows of `points.csv`.

use std::path::Path;

use serde::{Deserialize, Serialize};
use toml::Value;

use super::points::read_points;
use crate::scenario::sweep::model::{ParameterSpec, Values, number, shown};
use crate::study::KeepError;
use crate::study::sweep::{
    LogisticFit, NotFitted, Observation, SweepPlan, Term, fit_logistic, value_at,
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
/// its 5th and 95th percentile.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OverRange {
    /// Name of the covariate.
    pub name: String,
    /// The ends.
    pub range: [f64; 2],
    /// Factor on the odds from one end to the other.
    pub odds_ratio: f64,
    /// Wald's 95 % interval.
    pub ci95: [f64; 2],
    /// Two-sided p value of Wald's test.
    pub p_wald: f64,
}

impl OverRange {
    fn new(term: &Term, range: [f64; 2]) -> Self {
        let span = range[1] - range[0];
        Self {
            name: term.name.clone(),
            range,
            odds_ratio: (term.coefficient * span).exp(),
            ci95: term.odds_ratio_ci95.map(|end| end.powf(span)),
            p_wald: term.p_wald,
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
    fn of(&self, values: &[Value]) -> f64 {
        match (&self.level, values.get(self.parameter)) {
            (Some(level), value) => f64::from(u8::from(value == Some(level))),
            (None, Some(value)) => number(value).unwrap_or(0.0),
            (None, None) => 0.0,
        }
    }

    fn range(&self, parameters: &[ParameterSpec]) -> [f64; 2] {
        let values = &parameters[self.parameter].values;
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
                [0.05, 0.95].map(|u| number(&value_at(values, u)).unwrap_or(0.0))
            }
        }
    }
}

/// Numbers enter as they are; texts as their levels, against the first of them. A parameter with
/// one level does not vary and is left out; so is the number of a drawn anatomy, which is a name.
fn covariates(parameters: &[ParameterSpec]) -> Vec<Covariate> {
    let mut covariates = Vec::new();
    for (parameter, spec) in parameters.iter().enumerate() {
        let is_draw = spec.targets.iter().any(|t| t.path == "anatomy.draw");
        match spec.levels() {
            _ if is_draw => {}
            Some([_]) => {}
            Some(levels) if !spec.is_number() => {
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

/// Fits the regression of every strategy, reading `points.csv` once for each step of the fit.
///
/// # Errors
///
/// Where the table cannot be read.
pub fn regressions(points: &Path, plan: &SweepPlan) -> Result<Vec<Regression>, KeepError> {
    let covariates = covariates(&plan.design.parameters);
    let names: Vec<String> = covariates.iter().map(|c| c.name.clone()).collect();
    let mut found = Vec::new();
    for (strategy, label) in plan.strategies.iter().enumerate() {
        let fitted = fit_logistic(&names, |take: &mut dyn FnMut(&Observation)| {
            read_points(points, |row| {
                if row.strategy != strategy || row.by_draw.is_empty() {
                    return;
                }
                let values = plan.design.point(row.point);
                let results = row.by_draw.iter().flatten();
                take(&Observation {
                    x: covariates.iter().map(|c| c.of(&values)).collect(),
                    trials: results.clone().count() as f64,
                    successes: results.filter(|success| **success).count() as f64,
                    by_draw: row.by_draw,
                });
            })
        })?;
        let (fit, not_fitted) = match fitted {
            Ok(fit) => (Some(fit), None),
            Err(reason) => (None, Some(reason)),
        };
        let terms = fit.iter().flat_map(|fit| &fit.terms);
        let over_range = terms
            .zip(&covariates)
            .map(|(term, c)| OverRange::new(term, c.range(&plan.design.parameters)))
            .collect();
        found.push(Regression {
            over_range,
            strategy: label.name.clone(),
            fit,
            not_fitted,
        });
    }
    Ok(found)
}
