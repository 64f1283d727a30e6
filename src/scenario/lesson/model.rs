//! The checked lesson: what a lesson file says after validation.

use std::path::PathBuf;

use super::opening::Opening;
use super::text::{Expression, Text};
use crate::scenario::sweep::model::SetSpec;
use crate::schema::Place;

/// A complete checked lesson.
#[derive(Debug, Clone, PartialEq)]
pub struct LessonSpec {
    /// Short name; letters, digits and dashes.
    pub name: String,
    /// What it is called.
    pub title: String,
    /// What it teaches.
    pub description: String,
    /// The scenario of which each page changes one thing.
    pub scenario: PathBuf,
    /// Where it is named.
    pub scenario_place: Place,
    /// Trials of each page, at least 1.
    pub trials: u32,
    /// Trials of each page that can be played, from trial 0.
    pub recorded: u32,
    /// Seed of the draws; `None` for the scenario's.
    pub seed: Option<u64>,
    /// Technique of the first page; `None` for the scenario's first.
    pub technique: Option<String>,
    /// Wire of the first page; `None` for the scenario's first.
    pub wire: Option<String>,
    /// Paths taken out of the scenario before the first page.
    pub removed: Vec<(String, Place)>,
    /// Values set before the first page.
    pub set: Vec<SetSpec>,
    /// The pages, at least one.
    pub pages: Vec<PageSpec>,
}

/// A page.
#[derive(Debug, Clone, PartialEq)]
pub struct PageSpec {
    /// Name by which other pages speak of it; letters, digits and dashes.
    pub name: String,
    /// What it is called.
    pub title: Text,
    /// What is different from the page before; `None` on the first page.
    pub change: Option<Change>,
    /// A sentence or two.
    pub text: Text,
    /// What to look at.
    pub look: Text,
    /// What its trials show.
    pub claims: Vec<ClaimSpec>,
    /// What is asked.
    pub ask: Text,
    /// The answer.
    pub answer: Text,
    /// How its playback opens.
    pub opening: Opening,
    /// Where it stands.
    pub place: Place,
}

impl PageSpec {
    /// Its texts, each with its place.
    pub fn texts(&self) -> impl Iterator<Item = (&Text, Place)> {
        let question = self.place.field("question");
        let own = [
            (&self.title, self.place.field("title")),
            (&self.text, self.place.field("text")),
            (&self.look, self.place.field("look")),
            (&self.ask, question.field("ask")),
            (&self.answer, question.field("answer")),
        ];
        let said = self.claims.iter().map(|c| (&c.say, c.place.field("say")));
        own.into_iter().chain(said)
    }
}

/// The one thing that a page changes.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// A value of the scenario.
    Value(SetSpec),
    /// The technique.
    Technique(String),
    /// The wire.
    Wire(String),
}

/// What the trials of a page are said to show.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimSpec {
    /// The sentence that stands on the page.
    pub say: Text,
    /// What is measured.
    pub value: Expression,
    /// What has to hold of it, at least one.
    pub bounds: Vec<(Bound, Limit)>,
    /// Where it stands.
    pub place: Place,
}

/// How a value is held against a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    /// Not below it.
    AtLeast,
    /// Not above it.
    AtMost,
    /// Above it.
    MoreThan,
    /// Below it.
    LessThan,
}

impl Bound {
    /// Whether a value keeps it.
    #[must_use]
    pub fn holds(self, value: f64, limit: f64) -> bool {
        match self {
            Self::AtLeast => value >= limit,
            Self::AtMost => value <= limit,
            Self::MoreThan => value > limit,
            Self::LessThan => value < limit,
        }
    }

    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::AtLeast => "at least",
            Self::AtMost => "at most",
            Self::MoreThan => "more than",
            Self::LessThan => "less than",
        }
    }
}

/// What a value is held against.
#[derive(Debug, Clone, PartialEq)]
pub enum Limit {
    /// A number in the unit of the value.
    Number(f64),
    /// Another measured value.
    Measured(Expression),
}
