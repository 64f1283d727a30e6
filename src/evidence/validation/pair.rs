//! A published and a simulated value side by side, and what they say of each other.

use std::fmt;

use serde::{Deserialize, Serialize};

/// What a pair of values says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Says {
    /// The simulated value lies in the range of the published one.
    Agrees,
    /// The two ranges have nothing in common.
    Disagrees,
    /// The ranges overlap, and the simulated value lies beside the published range.
    CannotTell,
}

impl Says {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Agrees => "agrees",
            Self::Disagrees => "disagrees",
            Self::CannotTell => "cannot be told",
        }
    }
}

/// A value with the range in which it may lie.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Value {
    /// The value in words where a number alone does not say it; else empty.
    pub words: String,
    /// The value.
    pub value: f64,
    /// Low end of its range.
    pub low: f64,
    /// High end of its range.
    pub high: f64,
}

impl Value {
    /// A value with an uncertainty to either side.
    pub fn about(value: f64, uncertainty: f64) -> Self {
        Self {
            words: String::new(),
            value,
            low: value - uncertainty,
            high: value + uncertainty,
        }
    }

    /// A range without a middle of its own.
    pub fn between(low: f64, high: f64) -> Self {
        Self {
            words: String::new(),
            value: 0.5 * (low + high),
            low,
            high,
        }
    }

    /// The same, said in words.
    pub fn said(self, words: impl Into<String>) -> Self {
        Self {
            words: words.into(),
            ..self
        }
    }
}

impl fmt::Display for Value {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.words.is_empty() {
            write!(f, "{:.2}", self.value)?;
        } else {
            write!(f, "{}", self.words)?;
        }
        write!(f, " ({:.2} to {:.2})", self.low, self.high)
    }
}

/// A published and a simulated value side by side.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pair {
    /// What was measured, with the unit.
    pub what: String,
    /// The published value.
    pub published: Value,
    /// The simulated value.
    pub simulated: Value,
    /// What they say of each other.
    pub says: Says,
}

impl Pair {
    /// Holds the two against each other.
    pub fn new(what: impl Into<String>, published: Value, simulated: Value) -> Self {
        let inside = published.low <= simulated.value && simulated.value <= published.high;
        let apart = simulated.high < published.low || simulated.low > published.high;
        let says = match (inside, apart) {
            (true, _) => Says::Agrees,
            (false, true) => Says::Disagrees,
            // What is no number is nowhere.
            (false, false) => Says::CannotTell,
        };
        Self {
            what: what.into(),
            published,
            simulated,
            says,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_beside_the_published_range_agrees_no_more() {
        let says = |value: f64| {
            let published = Value::between(1.0, 2.0);
            Pair::new("made up", published, Value::about(value, 0.3)).says
        };
        assert_eq!(
            [1.5, 2.0, 2.2, 2.4, 0.6, f64::NAN].map(says),
            [
                Says::Agrees,
                Says::Agrees,
                Says::CannotTell,
                Says::Disagrees,
                Says::Disagrees,
                Says::CannotTell
            ]
        );
    }
}
