//! The numbers of a check with their limits.

use std::borrow::Cow;
use std::fmt;

use serde::{Deserialize, Serialize};

/// What a number of a check is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NumberKind {
    /// The distance from the value from outside: at most the limit, by its magnitude.
    Error,
    /// A number that only has to stay below the limit, by its magnitude; how near it comes says nothing.
    Bound,
    /// An observed order of convergence: at least the limit.
    Order,
}

/// One number of a check with its limit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CheckReading {
    /// What was measured.
    pub what: String,
    /// The value.
    pub measured: f64,
    /// Unit; empty for a ratio.
    pub unit: Cow<'static, str>,
    /// The limit.
    pub limit: f64,
    /// What it is, and so on which side of the limit it has to be.
    pub kind: NumberKind,
}

impl CheckReading {
    /// Whether it is an observed order of convergence.
    #[must_use]
    pub fn is_order(&self) -> bool {
        self.kind == NumberKind::Order
    }

    /// Whether the limit is kept; what is no number keeps none.
    #[must_use]
    pub fn holds(&self) -> bool {
        if self.is_order() {
            self.measured >= self.limit
        } else {
            self.measured.abs() <= self.limit
        }
    }

    /// The share of the limit that is used up; above 1 where it is not kept.
    #[must_use]
    pub fn used(&self) -> f64 {
        if self.is_order() {
            self.limit / self.measured.max(f64::MIN_POSITIVE)
        } else if self.measured.abs() <= 0.0 {
            0.0
        } else {
            self.measured.abs() / self.limit
        }
    }
}

impl fmt::Display for CheckReading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (what, unit) = (&self.what, &self.unit);
        let (measured, limit) = (short(self.measured), short(self.limit));
        let space = if unit.is_empty() { "" } else { " " };
        if self.is_order() {
            return write!(f, "{what}, order {measured}, at least {limit}");
        }
        write!(
            f,
            "{what}: {measured}{space}{unit}, at most {limit}{space}{unit}"
        )
    }
}

/// A number with the digits that matter.
fn short(value: f64) -> String {
    if value.abs() >= 1e-3 {
        let text = format!("{value:.4}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else if value.abs() > 0.0 {
        format!("{value:.1e}")
    } else {
        value.to_string()
    }
}

/// Takes down what a check measures.
#[derive(Debug, Default)]
pub struct Readings(pub(super) Vec<CheckReading>);

impl Readings {
    /// An error, which has to be `limit` at most by its magnitude.
    pub fn error(
        &mut self,
        what: impl Into<String>,
        measured: f64,
        unit: &'static str,
        limit: f64,
    ) {
        self.take(what.into(), measured, unit, limit, NumberKind::Error);
    }

    /// A relative error, given as a share of one and read in per cent.
    pub fn share(&mut self, what: impl Into<String>, measured: f64, limit: f64) {
        self.error(what, 100.0 * measured, "%", 100.0 * limit);
    }

    /// A number that has to stay below `limit` by its magnitude, and that is no error of a value from outside.
    pub fn bound(
        &mut self,
        what: impl Into<String>,
        measured: f64,
        unit: &'static str,
        limit: f64,
    ) {
        self.take(what.into(), measured, unit, limit, NumberKind::Bound);
    }

    /// An observed order of convergence, which has to be `limit` or more.
    pub fn order(&mut self, what: impl Into<String>, measured: f64, limit: f64) {
        self.take(what.into(), measured, "", limit, NumberKind::Order);
    }

    fn take(
        &mut self,
        what: String,
        measured: f64,
        unit: &'static str,
        limit: f64,
        kind: NumberKind,
    ) {
        self.0.push(CheckReading {
            what,
            measured,
            unit: unit.into(),
            limit,
            kind,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(measured: f64, limit: f64, kind: NumberKind) -> CheckReading {
        CheckReading {
            what: String::new(),
            measured,
            unit: "".into(),
            limit,
            kind,
        }
    }

    #[test]
    fn numbers_are_shown_with_the_digits_that_matter() {
        assert_eq!(
            [0.25, 2.0, 0.0, 1e-7, f64::NAN].map(short),
            ["0.25", "2", "0", "1.0e-7", "NaN"]
        );
    }

    #[test]
    fn what_is_no_number_keeps_no_limit() {
        assert!(
            reading(-0.5, 1.0, NumberKind::Error).holds()
                && !reading(-1.5, 1.0, NumberKind::Error).holds()
        );
        assert!(
            reading(2.0, 1.8, NumberKind::Order).holds()
                && !reading(1.7, 1.8, NumberKind::Order).holds()
        );
        assert!(
            !reading(f64::NAN, 1.0, NumberKind::Error).holds()
                && !reading(f64::NAN, 1.0, NumberKind::Order).holds()
        );
    }
}
