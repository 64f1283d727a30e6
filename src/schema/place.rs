//! Where in a document something is said: a path of fields, without bytes or lines.

use std::borrow::Cow;
use std::fmt;
use std::sync::LazyLock;

use serde::{Deserialize, Serialize};

/// One step of a [`Place`].
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum Step {
    /// A field of a table.
    Field(Cow<'static, str>),
    /// An entry of a list, counted from 0.
    Entry(usize),
}

/// The path of a field in a document; the default is the document as a whole.
///
/// In a scenario the branches and narrowings of a tree file count before those of the scenario
/// itself, as if they stood under `vessel` too.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Place(Box<[Step]>);

impl Place {
    /// The document as a whole.
    #[must_use]
    pub fn whole() -> &'static Self {
        static WHOLE: LazyLock<Place> = LazyLock::new(Place::default);
        &WHOLE
    }

    /// A table or field at the top of the document.
    #[must_use]
    pub fn top(field: &'static str) -> Self {
        Self::default().field(field)
    }

    /// A field of the table at this place.
    #[must_use]
    pub fn field(&self, field: impl Into<Cow<'static, str>>) -> Self {
        self.step(Step::Field(field.into()))
    }

    /// An entry, counted from 0, of the list at this place.
    #[must_use]
    pub fn entry(&self, index: usize) -> Self {
        self.step(Step::Entry(index))
    }

    fn step(&self, step: Step) -> Self {
        let mut steps = Vec::with_capacity(self.0.len() + 1);
        steps.extend_from_slice(&self.0);
        steps.push(step);
        Self(steps.into())
    }

    /// The steps from the top of the document.
    #[must_use]
    pub fn steps(&self) -> &[Step] {
        &self.0
    }
}

impl fmt::Display for Place {
    /// Keys joined by dots, entries counted from 1, as the paths of a sweep.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, step) in self.0.iter().enumerate() {
            if index > 0 {
                f.write_str(".")?;
            }
            match step {
                Step::Field(field) => f.write_str(field)?,
                Step::Entry(entry) => write!(f, "{}", entry + 1)?,
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::Place;

    #[test]
    fn a_place_is_written_as_the_path_of_a_sweep() {
        let place = Place::top("vessel").field("branch").entry(1).field("at_mm");
        assert_eq!(place.to_string(), "vessel.branch.2.at_mm");
    }
}
