//! One check against a value from outside: what it asks, what it measures, what rests on it.

use std::borrow::Cow;
use std::fmt;
use std::ops::Deref;
use std::time::Instant;

use serde::{Deserialize, Serialize};

use super::covered::Covered;

/// Where the value comes from with which a check compares.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Origin {
    /// A publication that is named.
    Published,
    /// A formula that can be derived.
    ClosedForm,
    /// Numbers that were computed independently of this project.
    Computed,
    /// The law itself, or a finer run, against which the same program is held.
    OwnLaw,
}

impl Origin {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Published => "published",
            Self::ClosedForm => "closed form",
            Self::Computed => "computed independently",
            Self::OwnLaw => "held against itself",
        }
    }
}

/// What a trial reports, and so may rest on a check.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Rests {
    /// Outcomes and success rates.
    Outcome,
    /// Force with which the hand pushes.
    Push,
    /// Force on the wall.
    Wall,
    /// Force on the tip.
    Tip,
    /// Torque of the hand, and how a turn arrives at the tip.
    Torque,
    /// Set that a core keeps.
    Set,
    /// How far a vessel gives way.
    Moved,
    /// Whatever a support catheter does.
    Catheter,
}

impl Rests {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Outcome => "outcomes and success rates",
            Self::Push => "push forces",
            Self::Wall => "wall forces",
            Self::Tip => "tip forces",
            Self::Torque => "torque and turning",
            Self::Set => "the set of a core",
            Self::Moved => "how far a vessel gives way",
            Self::Catheter => "what a support catheter does",
        }
    }
}

/// What a number of a check is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// The distance from the value from outside: at most the limit, by its magnitude.
    Error,
    /// A number that only has to stay below the limit, by its magnitude; how near it comes says nothing.
    Bound,
    /// An observed order of convergence: at least the limit.
    Order,
}

/// One number of a check with its limit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// What was measured.
    pub what: String,
    /// The value.
    pub measured: f64,
    /// Unit; empty for a ratio.
    pub unit: Cow<'static, str>,
    /// The limit.
    pub limit: f64,
    /// What it is, and so on which side of the limit it has to be.
    pub kind: Kind,
}

impl Reading {
    /// Whether it is an observed order of convergence.
    #[must_use]
    pub fn is_order(&self) -> bool {
        self.kind == Kind::Order
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

impl fmt::Display for Reading {
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
pub struct Readings(Vec<Reading>);

impl Readings {
    /// An error, which has to be `limit` at most by its magnitude.
    pub fn error(
        &mut self,
        what: impl Into<String>,
        measured: f64,
        unit: &'static str,
        limit: f64,
    ) {
        self.take(what.into(), measured, unit, limit, Kind::Error);
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
        self.take(what.into(), measured, unit, limit, Kind::Bound);
    }

    /// An observed order of convergence, which has to be `limit` or more.
    pub fn order(&mut self, what: impl Into<String>, measured: f64, limit: f64) {
        self.take(what.into(), measured, "", limit, Kind::Order);
    }

    fn take(&mut self, what: String, measured: f64, unit: &'static str, limit: f64, kind: Kind) {
        self.0.push(Reading {
            what,
            measured,
            unit: unit.into(),
            limit,
            kind,
        });
    }
}

/// Why a check could not be carried out; any error becomes one.
#[derive(Debug)]
pub struct Broken(pub String);

impl<E: std::error::Error> From<E> for Broken {
    fn from(error: E) -> Self {
        Self(error.to_string())
    }
}

/// Whether a check belongs to the set that always runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Set {
    /// Seconds.
    Short,
    /// Minutes; run where that is asked for.
    Long,
}

/// A check against a value from outside.
#[derive(Debug, Serialize)]
pub struct Check {
    /// Name: letters, digits and dashes.
    pub name: &'static str,
    /// The question that it answers.
    pub question: &'static str,
    /// Where its values come from.
    pub origin: Origin,
    /// The same with names, and whether it was read or is from memory.
    pub source: &'static str,
    /// The scene in words.
    pub scene: &'static str,
    /// What rests on it.
    pub carries: &'static [Rests],
    /// Which set it belongs to.
    pub set: Set,
    /// Ranges of the inputs in which it compares; those alone that act in its scene as they do in a trial.
    #[serde(skip)]
    pub covers: fn() -> Vec<Covered>,
    /// Measures.
    #[serde(skip)]
    pub measure: fn(&mut Readings) -> Result<(), Broken>,
}

/// What a check measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// The numbers with their limits.
    pub readings: Vec<Reading>,
    /// Why it could not be carried out to its end; empty where it was.
    pub broken: String,
    /// Time that it took in s.
    pub seconds: f64,
}

/// How a check ended; its description and what it measured can be read as its own.
#[derive(Debug, Serialize)]
pub struct Checked {
    /// The check.
    #[serde(flatten)]
    pub check: &'static Check,
    /// Ranges of the inputs in which it compares.
    pub covers: Vec<Covered>,
    /// What was measured.
    #[serde(flatten)]
    pub measured: Measured,
}

impl Deref for Checked {
    type Target = Check;

    fn deref(&self) -> &Check {
        self.check
    }
}

impl Check {
    /// Carries the check out.
    #[must_use]
    pub fn run(&'static self) -> Checked {
        let begun = Instant::now();
        let mut readings = Readings::default();
        let broken = (self.measure)(&mut readings).err();
        self.checked(Measured {
            readings: readings.0,
            broken: broken.map_or(String::new(), |broken| broken.0),
            seconds: begun.elapsed().as_secs_f64(),
        })
    }

    /// The check with what was measured.
    #[must_use]
    pub fn checked(&'static self, measured: Measured) -> Checked {
        Checked {
            check: self,
            covers: (self.covers)(),
            measured,
        }
    }
}

impl Checked {
    /// Whether it was carried out and every limit is kept.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.measured.broken.is_empty()
            && !self.measured.readings.is_empty()
            && self.measured.readings.iter().all(Reading::holds)
    }

    /// Whether it compares with a value from outside, and not the program with itself.
    #[must_use]
    pub fn is_outside(&self) -> bool {
        self.origin != Origin::OwnLaw
    }

    /// The numbers that it measured.
    #[must_use]
    pub fn readings(&self) -> &[Reading] {
        &self.measured.readings
    }

    /// A reading that does not hold; else the error that uses up most of its limit; else any such reading.
    #[must_use]
    pub fn tightest(&self) -> Option<&Reading> {
        let errors = || {
            self.measured
                .readings
                .iter()
                .filter(|reading| reading.kind == Kind::Error)
        };
        let all = || self.measured.readings.iter();
        let missed = all().find(|reading| !reading.holds());
        missed
            .or_else(|| errors().max_by(|a, b| a.used().total_cmp(&b.used())))
            .or_else(|| all().max_by(|a, b| a.used().total_cmp(&b.used())))
    }

    /// The smallest observed order of convergence, where one was measured.
    #[must_use]
    pub fn order(&self) -> Option<f64> {
        let orders = self
            .measured
            .readings
            .iter()
            .filter(|reading| reading.is_order());
        orders
            .map(|reading| reading.measured)
            .min_by(f64::total_cmp)
    }

    /// What rests on it, in words.
    #[must_use]
    pub fn carries_words(&self) -> String {
        let words: Vec<&str> = self.carries.iter().map(|result| result.words()).collect();
        words.join(", ")
    }

    /// What is wrong with it, in words; empty where it holds.
    #[must_use]
    pub fn fault(&self) -> String {
        if !self.measured.broken.is_empty() {
            return format!("could not be carried out: {}", self.measured.broken);
        }
        let missed = self
            .measured
            .readings
            .iter()
            .filter(|reading| !reading.holds());
        let missed: Vec<String> = missed.map(ToString::to_string).collect();
        missed.join("; ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(measured: f64, limit: f64, kind: Kind) -> Reading {
        Reading {
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
            reading(-0.5, 1.0, Kind::Error).holds() && !reading(-1.5, 1.0, Kind::Error).holds()
        );
        assert!(reading(2.0, 1.8, Kind::Order).holds() && !reading(1.7, 1.8, Kind::Order).holds());
        assert!(
            !reading(f64::NAN, 1.0, Kind::Error).holds()
                && !reading(f64::NAN, 1.0, Kind::Order).holds()
        );
    }
}
