//! One check against a value from outside: what it asks, what it measures, what rests on it.

use std::fmt;
use std::time::Instant;

use serde::Serialize;

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
            Self::OwnLaw => "the law itself",
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

/// One number of a check with its limit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reading {
    /// What was measured.
    pub what: String,
    /// The value.
    pub measured: f64,
    /// Unit; empty for a ratio.
    pub unit: &'static str,
    /// The limit.
    pub limit: f64,
    /// Whether the value is an observed order of convergence, which has to be at the limit or above; any
    /// other has to be at the limit or below, by its magnitude.
    pub is_order: bool,
}

impl Reading {
    /// Whether the limit is kept; what is no number keeps none.
    #[must_use]
    pub fn holds(&self) -> bool {
        if self.is_order {
            self.measured >= self.limit
        } else {
            self.measured.abs() <= self.limit
        }
    }

    /// The share of the limit that is used up; above 1 where it is not kept.
    #[must_use]
    pub fn used(&self) -> f64 {
        if self.is_order {
            self.limit / self.measured.max(f64::MIN_POSITIVE)
        } else {
            self.measured.abs() / self.limit
        }
    }
}

impl fmt::Display for Reading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (what, unit) = (&self.what, self.unit);
        let (measured, limit) = (short(self.measured), short(self.limit));
        let space = if unit.is_empty() { "" } else { " " };
        if self.is_order {
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
        self.take(what.into(), measured, unit, limit, false);
    }

    /// A relative error, given as a share of one and read in per cent.
    pub fn share(&mut self, what: impl Into<String>, measured: f64, limit: f64) {
        self.error(what, 100.0 * measured, "%", 100.0 * limit);
    }

    /// An observed order of convergence, which has to be `limit` or more.
    pub fn order(&mut self, what: impl Into<String>, measured: f64, limit: f64) {
        self.take(what.into(), measured, "", limit, true);
    }

    fn take(
        &mut self,
        what: String,
        measured: f64,
        unit: &'static str,
        limit: f64,
        is_order: bool,
    ) {
        self.0.push(Reading {
            what,
            measured,
            unit,
            limit,
            is_order,
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
#[derive(Debug)]
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
    /// Ranges of the inputs in which it compares.
    pub covers: fn() -> Vec<Covered>,
    /// Measures.
    pub measure: fn(&mut Readings) -> Result<(), Broken>,
}

/// How a check ended.
#[derive(Debug, Serialize)]
pub struct Checked {
    /// Name of the check.
    pub name: &'static str,
    /// The question that it answers.
    pub question: &'static str,
    /// Where its values come from.
    pub origin: Origin,
    /// The same with names.
    pub source: &'static str,
    /// The scene in words.
    pub scene: &'static str,
    /// What rests on it.
    pub carries: &'static [Rests],
    /// What was measured.
    pub readings: Vec<Reading>,
    /// Why it could not be carried out to its end; empty where it was.
    pub broken: String,
    /// Ranges of the inputs in which it compares.
    pub covers: Vec<Covered>,
    /// Time that it took in s.
    pub seconds: f64,
}

impl Check {
    /// Carries the check out.
    #[must_use]
    pub fn run(&self) -> Checked {
        let begun = Instant::now();
        let mut readings = Readings::default();
        let broken = (self.measure)(&mut readings).err();
        Checked {
            name: self.name,
            question: self.question,
            origin: self.origin,
            source: self.source,
            scene: self.scene,
            carries: self.carries,
            readings: readings.0,
            broken: broken.map_or(String::new(), |broken| broken.0),
            covers: (self.covers)(),
            seconds: begun.elapsed().as_secs_f64(),
        }
    }
}

impl Checked {
    /// Whether it was carried out and every limit is kept.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.broken.is_empty()
            && !self.readings.is_empty()
            && self.readings.iter().all(Reading::holds)
    }

    /// The reading that uses up most of its limit.
    #[must_use]
    pub fn tightest(&self) -> Option<&Reading> {
        let errors = || self.readings.iter().filter(|reading| !reading.is_order);
        let all = || self.readings.iter();
        let missed = all().find(|reading| !reading.holds());
        missed
            .or_else(|| errors().max_by(|a, b| a.used().total_cmp(&b.used())))
            .or_else(|| all().max_by(|a, b| a.used().total_cmp(&b.used())))
    }

    /// The smallest observed order of convergence, where one was measured.
    #[must_use]
    pub fn order(&self) -> Option<f64> {
        let orders = self.readings.iter().filter(|reading| reading.is_order);
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
        if !self.broken.is_empty() {
            return format!("could not be carried out: {}", self.broken);
        }
        let missed = self.readings.iter().filter(|reading| !reading.holds());
        let missed: Vec<String> = missed.map(ToString::to_string).collect();
        missed.join("; ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(measured: f64, limit: f64, is_order: bool) -> Reading {
        Reading {
            what: String::new(),
            measured,
            unit: "",
            limit,
            is_order,
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
        assert!(reading(-0.5, 1.0, false).holds() && !reading(-1.5, 1.0, false).holds());
        assert!(reading(2.0, 1.8, true).holds() && !reading(1.7, 1.8, true).holds());
        assert!(!reading(f64::NAN, 1.0, false).holds() && !reading(f64::NAN, 1.0, true).holds());
    }
}
