//! One check against a value from outside: what it asks, what it measures, what rests on it.

use std::ops::Deref;
use std::time::Instant;

use serde::{Deserialize, Serialize};

use super::covered::Covered;
use super::readings::{CheckReading, NumberKind, Readings};

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
pub struct MeasuredCheck {
    /// The numbers with their limits.
    pub readings: Vec<CheckReading>,
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
    pub measured: MeasuredCheck,
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
        self.checked(MeasuredCheck {
            readings: readings.0,
            broken: broken.map_or(String::new(), |broken| broken.0),
            seconds: begun.elapsed().as_secs_f64(),
        })
    }

    /// The check with what was measured.
    #[must_use]
    pub fn checked(&'static self, measured: MeasuredCheck) -> Checked {
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
            && self.measured.readings.iter().all(CheckReading::holds)
    }

    /// Whether it compares with a value from outside, and not the program with itself.
    #[must_use]
    pub fn is_outside(&self) -> bool {
        self.origin != Origin::OwnLaw
    }

    /// The numbers that it measured.
    #[must_use]
    pub fn readings(&self) -> &[CheckReading] {
        &self.measured.readings
    }

    /// A reading that does not hold; else the error that uses up most of its limit; else any such reading.
    #[must_use]
    pub fn tightest(&self) -> Option<&CheckReading> {
        let errors = || {
            self.measured
                .readings
                .iter()
                .filter(|reading| reading.kind == NumberKind::Error)
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
