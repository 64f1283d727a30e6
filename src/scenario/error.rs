//! What can be wrong with a scenario file, and how it is said.

use std::io;
use std::path::PathBuf;

use miette::{Diagnostic, NamedSource, SourceSpan};
use thiserror::Error;

use super::model::Place;
use super::source::Source;

/// Why a scenario could not be loaded.
#[derive(Debug, Error, Diagnostic)]
pub enum ScenarioError {
    /// The file cannot be read.
    #[error("cannot read the scenario {}: {cause}", path.display())]
    #[diagnostic(help(
        "give the path of a readable scenario file, for example scenarios/side-branch.toml"
    ))]
    Unreadable {
        /// The path given.
        path: PathBuf,
        /// What the system says.
        cause: io::Error,
    },
    /// The file says something that is not allowed.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Faulty(Box<Located>),
}

/// A fault with the place where it stands in the file.
#[derive(Debug, Error, Diagnostic)]
#[error("{fault}")]
pub struct Located {
    /// What is wrong.
    pub fault: Fault,
    /// Line in the file, counted from 1.
    pub line: usize,
    #[help]
    help: String,
    #[source_code]
    source_code: NamedSource<String>,
    #[label("here")]
    span: SourceSpan,
}

/// What is wrong with a scenario file.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum Fault {
    /// The text is not TOML.
    #[error("not valid TOML: {message}")]
    Syntax {
        /// What the reader expected.
        message: String,
    },
    /// A field that no table of this kind has.
    #[error("unknown field {field} in {table}")]
    UnknownField {
        /// The field as written.
        field: String,
        /// The table.
        table: String,
        /// The known field most like it.
        near: Option<String>,
        /// All fields that the table may have.
        known: Vec<String>,
    },
    /// A field that must be there.
    #[error("missing field {field} in {table}")]
    MissingField {
        /// The field.
        field: String,
        /// The table.
        table: String,
        /// Lines that would add it.
        example: String,
    },
    /// A value of another type.
    #[error("{field} in {table} must be {expected}, but {found} is {kind}")]
    WrongType {
        /// The field.
        field: String,
        /// The table.
        table: String,
        /// The type wanted.
        expected: String,
        /// The value as written.
        found: String,
        /// The type found.
        kind: &'static str,
    },
    /// A number outside its range.
    #[error("{field} in {table} is {value}, allowed is {allowed}")]
    OutOfRange {
        /// The field.
        field: String,
        /// The table.
        table: String,
        /// The value with its unit.
        value: String,
        /// The range with its unit.
        allowed: String,
        /// What the person may have meant.
        suspicion: Option<String>,
    },
    /// A word that is not one of those allowed.
    #[error("{field} in {table} is \"{value}\", which is not {kind}")]
    UnknownValue {
        /// The field.
        field: String,
        /// The table.
        table: String,
        /// The word as written.
        value: String,
        /// What is wanted, such as "the name of a branch".
        kind: &'static str,
        /// All words allowed.
        known: Vec<String>,
        /// The allowed word most like it.
        near: Option<String>,
    },
    /// A list with too few entries.
    #[error("{field} in {table} has {found} entries, allowed is {needed} or more")]
    TooFew {
        /// The list.
        field: String,
        /// The table.
        table: String,
        /// Entries found.
        found: usize,
        /// Entries needed.
        needed: usize,
        /// What the list is for.
        remedy: String,
    },
    /// A file of anatomy that cannot be used.
    #[error("{message}")]
    Anatomy {
        /// The file, the place in it, and what is wrong.
        message: String,
        /// What to do.
        remedy: String,
    },
    /// Two fields, or a field and the rest of the scenario, that do not go together.
    #[error("{field} in {table} is {value}, but {reason}")]
    Disagreement {
        /// The field.
        field: String,
        /// The table.
        table: String,
        /// The value as written.
        value: String,
        /// With what it disagrees, and what is allowed.
        reason: String,
        /// What to do.
        remedy: String,
    },
}

impl Fault {
    /// What the person can do about it.
    #[must_use]
    pub fn help(&self) -> String {
        match self {
            Self::Syntax { .. } => {
                "a text stands in double quotes, a list in square brackets, a table begins with \
                 [name] and an entry of a list of tables with [[name]]"
                    .into()
            }
            Self::UnknownField { near, known, .. } => suggestion(near.as_deref(), known, "fields"),
            Self::MissingField { example, .. } => {
                format!("add, with your own value:\n{example}")
            }
            Self::WrongType { expected, .. } => format!("write {expected}"),
            Self::OutOfRange {
                suspicion, allowed, ..
            } => suspicion
                .clone()
                .unwrap_or_else(|| format!("give a value in the range allowed: {allowed}")),
            Self::UnknownValue { near, known, .. } => suggestion(near.as_deref(), known, "values"),
            Self::TooFew { remedy, .. }
            | Self::Disagreement { remedy, .. }
            | Self::Anatomy { remedy, .. } => remedy.clone(),
        }
    }
}

fn suggestion(near: Option<&str>, known: &[String], what: &str) -> String {
    let all = known.join(", ");
    match near {
        Some(near) => format!("did you mean {near}? Allowed {what}: {all}"),
        None => format!("allowed {what}: {all}"),
    }
}

/// A fault on its way up to [`super::load`], which knows the text.
#[derive(Debug)]
pub(super) struct Problem {
    pub(super) fault: Fault,
    pub(super) place: Place,
}

impl Problem {
    pub(super) fn new(fault: Fault, place: Place) -> Box<Self> {
        Box::new(Self { fault, place })
    }

    pub(super) fn located(self, source: &Source) -> ScenarioError {
        let (_, _, range) = source.locate(self.place);
        ScenarioError::Faulty(Box::new(Located {
            help: self.fault.help(),
            line: source.line(self.place),
            source_code: source.named(self.place),
            span: range.into(),
            fault: self.fault,
        }))
    }
}

/// Result of reading a part of the file.
pub(super) type Checked<T> = Result<T, Box<Problem>>;
