//! What a bench test leaves behind: curves and numbers.

use super::fit::Fitted;
use crate::solve::{NewtonFailure, Unresolved};

/// A number read from a curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Key in `assay.json`: small letters, digits and underscores, the unit at its end.
    pub key: String,
    /// What it is, for the table.
    pub label: String,
    /// Unit, for the table; empty for a ratio.
    pub unit: &'static str,
    /// The value; `None` where the test says that there is none.
    pub value: Option<f64>,
    /// What the table says in place of a value that is not there, or beside it; may be empty.
    pub note: String,
}

impl Reading {
    /// A plain number.
    #[must_use]
    pub fn new(
        key: impl Into<String>,
        label: impl Into<String>,
        unit: &'static str,
        value: f64,
    ) -> Self {
        Self {
            key: key.into(),
            label: label.into(),
            unit,
            value: Some(value),
            note: String::new(),
        }
    }

    /// A number that may not be there; `note` says why.
    #[must_use]
    pub fn maybe(
        key: impl Into<String>,
        label: impl Into<String>,
        unit: &'static str,
        value: Option<f64>,
        note: &str,
    ) -> Self {
        let note = if value.is_none() { note } else { "" };
        Self {
            value,
            note: note.to_owned(),
            ..Self::new(key, label, unit, 0.0)
        }
    }

    /// The same with a remark.
    #[must_use]
    pub fn noted(self, note: impl Into<String>) -> Self {
        Self {
            note: note.into(),
            ..self
        }
    }
}

/// One curve of a test.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// Under which condition it was taken, such as "held 10 mm"; empty if there is only one.
    pub condition: String,
    /// Rows in the columns of the test.
    pub points: Vec<Vec<f64>>,
}

/// Everything that a test found on one wire.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Measured {
    /// Curves.
    pub series: Vec<Series>,
    /// Numbers.
    pub readings: Vec<Reading>,
    /// Further files: name and text.
    pub files: Vec<(String, String)>,
    /// What a person should know about the numbers, in sentences.
    pub remarks: Vec<String>,
    /// Fitted profiles.
    pub fits: Vec<Fitted>,
}

/// A bench test that could not be carried out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AssayError {
    /// No equilibrium.
    #[error("{test}: {failure}; try a smaller edge_mm in [assay]")]
    Solver {
        /// The test, with the place on the wire.
        test: String,
        /// What the solver said.
        failure: NewtonFailure,
    },
    /// No equilibrium on the way into a tube.
    #[error("{test}: {failure}; try a smaller step_mm in [assay.paths]")]
    Tube {
        /// The test.
        test: String,
        /// What the solver said.
        failure: Unresolved,
    },
    /// The tube of a test cannot be built.
    #[error("{test}: {reason}")]
    Fixture {
        /// The test.
        test: String,
        /// What is wrong with the tube.
        reason: String,
    },
    /// A search did not come to an end.
    #[error("{test}: {wanted} was not found; check the readings and the description of the wire")]
    Search {
        /// The test.
        test: String,
        /// What was wanted.
        wanted: String,
    },
    /// A measured curve that does not depend on the stiffness at a knot.
    #[error(
        "{test}: the curve does not say how stiff the wire is {station_mm} mm from its tip; move or remove that knot in knots_mm, or measure nearer to it"
    )]
    Undetermined {
        /// The fit.
        test: String,
        /// The knot, in mm from the tip.
        station_mm: f64,
    },
}

impl AssayError {
    /// Wraps what the solver said during `test`.
    pub(super) fn solver(test: impl Into<String>) -> impl FnOnce(NewtonFailure) -> Self {
        let test = test.into();
        |failure| Self::Solver { test, failure }
    }
}
