//! What the checks between fields refuse: a place and a reason, without text or line.

use super::{DocumentFault, Place};

/// A fault at a place that is still to be looked up in the file.
#[derive(Debug, Clone, PartialEq)]
pub struct Refusal {
    /// Where.
    pub place: Place,
    /// What is wrong there.
    pub what: What,
}

/// What is wrong, as far as a check knows it; field, table and value are taken from the file.
#[derive(Debug, Clone, PartialEq)]
pub enum What {
    /// The value does not go with the rest.
    Disagreement {
        /// With what it disagrees, and what is allowed.
        reason: String,
        /// What to do.
        remedy: String,
    },
    /// The text is not one of the names known.
    Unknown {
        /// What is wanted, such as "the name of a branch".
        kind: &'static str,
        /// All names allowed.
        known: Vec<String>,
    },
    /// The field must be there.
    Missing,
    /// A fault that is worded already.
    Worded(DocumentFault),
}

/// Result of a check.
pub type Read<T> = Result<T, Box<Refusal>>;

impl Refusal {
    /// The value at `place` does not go with the rest.
    #[must_use]
    pub fn at(place: Place, reason: impl Into<String>, remedy: impl Into<String>) -> Box<Self> {
        let what = What::Disagreement {
            reason: reason.into(),
            remedy: remedy.into(),
        };
        Box::new(Self { place, what })
    }

    /// The text at `place` is not one of the names known.
    #[must_use]
    pub fn unknown<S: AsRef<str>>(
        place: Place,
        kind: &'static str,
        known: impl IntoIterator<Item = S>,
    ) -> Box<Self> {
        let known = known.into_iter().map(|n| n.as_ref().to_owned()).collect();
        Box::new(Self {
            place,
            what: What::Unknown { kind, known },
        })
    }

    /// The field at `place` must be there.
    #[must_use]
    pub fn missing(place: Place) -> Box<Self> {
        Box::new(Self {
            place,
            what: What::Missing,
        })
    }

    /// A fault that is worded already.
    #[must_use]
    pub fn worded(place: Place, fault: DocumentFault) -> Box<Self> {
        Box::new(Self {
            place,
            what: What::Worded(fault),
        })
    }
}

/// Refuses `field` of the table at `table` where both it and `other` are said.
///
/// # Errors
///
/// If both are there.
pub fn exclusive(
    table: &Place,
    field: (&'static str, bool),
    other: (&'static str, bool),
) -> Read<()> {
    if field.1 && other.1 {
        return Err(Refusal::at(
            table.field(field.0),
            format!("{} says the same already", other.0),
            format!("keep one of {} and {}", field.0, other.0),
        ));
    }
    Ok(())
}
