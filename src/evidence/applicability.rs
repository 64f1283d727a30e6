//! Which inputs of a scenario lie in the ranges in which the checks compare with values from outside.

use serde::Serialize;

use super::check::Checked;
use super::covered::{Covered, Input};
use super::own_inputs::own_inputs;
use super::validation::Compared;
use crate::trial::Prepared;
use crate::trial::result::TrialRow;

/// Where a range of a scenario lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Where {
    /// Between the smallest and the largest value at which checks compare with values from outside.
    Inside,
    /// Reaches beyond them.
    Outside,
    /// No check against a value from outside compares at two values of it.
    Unchecked,
}

impl Where {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Inside => "inside",
            Self::Outside => "outside",
            Self::Unchecked => "no check of these varies it",
        }
    }
}

/// The range of one check or experiment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RangeOf {
    /// Its name.
    pub name: &'static str,
    /// Smallest value of the input.
    pub low: f64,
    /// Largest value.
    pub high: f64,
}

/// One input of a scenario against the checks.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Scope {
    /// The input.
    pub input: Input,
    /// Its smallest value in the scenario.
    pub low: f64,
    /// Its largest value.
    pub high: f64,
    /// Smallest and largest value at which a check that holds compares with a value from outside.
    pub checked: Option<[f64; 2]>,
    /// These checks: against closed forms, publications, independent computations.
    pub outside: Vec<RangeOf>,
    /// Checks in which the program is held against itself; they do not decide where the input lies.
    pub own: Vec<RangeOf>,
    /// Published experiments that vary the input; they do not decide either.
    pub experiments: Vec<RangeOf>,
    /// Where it lies.
    pub lies: Where,
}

/// Rounding, as a share of a value.
const ROUNDING: f64 = 1e-9;

/// The inputs of a scenario, of which `rows` are trials, against those of the checks that hold and of the
/// experiments that were simulated.
#[must_use]
pub fn scopes(
    prepared: &Prepared,
    rows: &[Vec<TrialRow>],
    checks: &[Checked],
    experiments: &[Compared],
) -> Vec<Scope> {
    let holding = |is_outside: bool| {
        let holding = checks.iter().filter(|check| check.holds());
        let held = holding.filter(move |check| check.is_outside() == is_outside);
        held.map(|check| (check.name, &check.covers))
    };
    let simulated = || {
        let simulated = experiments.iter().filter(|of| !of.pairs.is_empty());
        simulated.map(|of| (of.name, &of.covers))
    };
    let scope = |own: Covered| Scope {
        own: ranges(own.input, holding(false)),
        experiments: ranges(own.input, simulated()),
        ..against(own, ranges(own.input, holding(true)))
    };
    own_inputs(prepared, rows).into_iter().map(scope).collect()
}

/// Ranges in which these vary an input or hold it at a value.
fn ranges<'a>(
    input: Input,
    of: impl Iterator<Item = (&'static str, &'a Vec<Covered>)>,
) -> Vec<RangeOf> {
    let range = |(name, covers): (&'static str, &Vec<Covered>)| {
        let covered = covers.iter().find(|covered| covered.input == input)?;
        Some(RangeOf {
            name,
            low: covered.low,
            high: covered.high,
        })
    };
    of.filter_map(range).collect()
}

/// An input against the ranges of the checks against values from outside.
fn against(own: Covered, outside: Vec<RangeOf>) -> Scope {
    let ends: Vec<f64> = outside.iter().flat_map(|r| [r.low, r.high]).collect();
    let all = (!ends.is_empty()).then(|| Covered::over(own.input, &ends));
    let lies = match all {
        Some(all) if all.high > all.low * (1.0 + ROUNDING) => {
            let is_inside =
                own.low >= all.low * (1.0 - ROUNDING) && own.high <= all.high * (1.0 + ROUNDING);
            if is_inside {
                Where::Inside
            } else {
                Where::Outside
            }
        }
        _ => Where::Unchecked,
    };
    Scope {
        input: own.input,
        low: own.low,
        high: own.high,
        checked: all.map(|all| [all.low, all.high]),
        outside,
        own: Vec::new(),
        experiments: Vec::new(),
        lies,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(low: f64, high: f64, ranges: &[[f64; 2]]) -> Where {
        let range = |&[low, high]: &[f64; 2]| RangeOf {
            name: "made up",
            low,
            high,
        };
        let own = Covered::over(Input::Friction, &[low, high]);
        against(own, ranges.iter().map(range).collect()).lies
    }

    #[test]
    fn one_value_is_no_range() {
        assert_eq!(of(0.1, 0.2, &[[0.0, 0.1], [0.3, 0.3]]), Where::Inside);
        assert_eq!(of(0.1, 0.4, &[[0.0, 0.1], [0.3, 0.3]]), Where::Outside);
        assert_eq!(of(0.1, 0.1, &[[0.1, 0.1], [0.1, 0.1]]), Where::Unchecked);
        assert_eq!(of(0.1, 0.1, &[]), Where::Unchecked);
    }
}
