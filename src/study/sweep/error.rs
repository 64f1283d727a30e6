//! Why a sweep cannot begin.

use thiserror::Error;

use crate::scenario::ScenarioError;
use crate::schema::Place;
use crate::shown::cut;

/// Why a sweep cannot begin.
#[derive(Debug, Error)]
pub enum SweepError {
    /// The base scenario cannot be read.
    #[error(transparent)]
    Base(ScenarioError),
    /// A path of the sweep is not written as one.
    #[error("{reason}; a path is keys joined by dots, such as wire.\"soft\".bend.length_mm")]
    BadPath {
        /// What is wrong with it.
        reason: String,
        /// Where it stands.
        place: Place,
    },
    /// A path of the sweep names nothing in the scenario.
    #[error(
        "the path {} does not exist in the scenario{}{}",
        cut(path),
        missing.as_ref().map_or(String::new(), |table| format!(", which has no {}", cut(table))),
        near.as_ref().map_or(String::new(), |near| format!("; did you mean {}?", cut(near)))
    )]
    NoPath {
        /// The path.
        path: String,
        /// The table in it that the scenario does not have, if it is not the last key that is wrong.
        missing: Option<String>,
        /// The path that may be meant.
        near: Option<String>,
        /// Where it stands.
        place: Place,
    },
    /// The scenario does not take a level of a parameter.
    #[error("the parameter {column} cannot be {}: {reason}", cut(level))]
    Level {
        /// The parameter.
        column: String,
        /// The level.
        level: String,
        /// Why, and what is allowed.
        reason: String,
        /// Where the parameter stands.
        place: Place,
    },
    /// With what the sweep removes and sets, the base scenario is not one any more.
    #[error("with what this sweep removes and sets, the base scenario cannot be used: {reason}")]
    Changed {
        /// Why.
        reason: String,
        /// What of it is the cause.
        place: Place,
    },
    /// The anatomy cannot be drawn.
    #[error("the anatomy cannot be drawn: {reason}")]
    Anatomy {
        /// Why.
        reason: String,
        /// Where it is described.
        place: Place,
    },
    /// The name of a parameter is taken.
    #[error(
        "the parameter {column} is called like a column of the tables; give it a name of its own"
    )]
    TakenName {
        /// The name.
        column: String,
        /// Where the parameter stands.
        place: Place,
    },
}

impl SweepError {
    /// Where in the sweep file the cause stands, if at one place.
    #[must_use]
    pub fn place(&self) -> Option<&Place> {
        match self {
            Self::BadPath { place, .. }
            | Self::NoPath { place, .. }
            | Self::Level { place, .. }
            | Self::TakenName { place, .. }
            | Self::Changed { place, .. }
            | Self::Anatomy { place, .. } => Some(place),
            Self::Base(_) => None,
        }
    }

    /// What to do about it.
    #[must_use]
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::Base(_) => {
                "correct the base scenario, or give the path of another, counted from the sweep file"
            }
            Self::BadPath { .. } => "correct the path",
            Self::NoPath {
                missing: Some(_),
                near: None,
                ..
            } => {
                "add that table to the scenario, or here by [[set]], before a field of it is changed"
            }
            Self::NoPath { .. } => "correct the path, or add the field to the scenario",
            Self::Level { .. } => "give levels that the scenario can take",
            Self::TakenName { .. } => "add name to this parameter",
            Self::Changed { .. } => "correct remove and [[set]]",
            Self::Anatomy { .. } => "correct [anatomy]",
        }
    }
}
