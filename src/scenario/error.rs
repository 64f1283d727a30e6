//! What can be wrong with a scenario file, and how it is said.

use std::io;
use std::path::PathBuf;

use miette::{Diagnostic, SourceSpan};
use thiserror::Error;

use super::excerpt::Excerpt;
use super::source::{Source, Span};
use crate::schema::check::missing_fault;
use crate::schema::locate::Found;
use crate::schema::refusal::What;
use crate::schema::{DocumentFault, Refusal, nearest};
use crate::shown;

/// Why a scenario could not be loaded.
#[derive(Debug, Error, Diagnostic)]
pub enum ScenarioError {
    /// The file cannot be read.
    #[error("cannot read the scenario {}: {cause}", shown::path(path))]
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
    pub fault: DocumentFault,
    /// Line in the file, counted from 1.
    pub line: usize,
    #[help]
    help: String,
    #[source_code]
    source_code: Excerpt,
    #[label("here")]
    span: SourceSpan,
}

impl Located {
    /// What to do about it, with the file and the line.
    #[must_use]
    pub fn advice(&self) -> String {
        let file = self.source_code.name();
        format!("{file}, line {}: {}", self.line, self.help)
    }
}

/// A fault on its way up to [`super::load`], which knows the text.
#[derive(Debug)]
pub(super) struct Problem {
    pub(super) fault: DocumentFault,
    pub(super) span: Span,
}

impl Problem {
    pub(super) fn new(fault: DocumentFault, span: Span) -> Box<Self> {
        Box::new(Self {
            fault: fault.cut(),
            span,
        })
    }

    pub(super) fn located(self, source: &Source) -> ScenarioError {
        let (source_code, range) = source.excerpt(self.span.clone());
        ScenarioError::Faulty(Box::new(Located {
            help: self.fault.help(),
            line: source.line_of(self.span),
            source_code,
            span: range.into(),
            fault: self.fault,
        }))
    }
}

/// A refusal with its place looked up, and field, table and value taken from there.
pub(super) fn resolved(refusal: Refusal, source: &Source) -> Box<Problem> {
    let found = source.finder().found(&refusal.place);
    Problem::new(worded(refusal.what, &found), found.span)
}

/// The fault that a refusal means at what was found.
pub(super) fn worded(what: What, found: &Found) -> DocumentFault {
    let (field, table) = (found.field.clone(), found.table.clone());
    match what {
        What::Disagreement { reason, remedy } => DocumentFault::Disagreement {
            field,
            table,
            value: found.value.clone().unwrap_or("left out".into()),
            reason,
            remedy,
        },
        What::Unknown { kind, known } => {
            let value = found.text.clone().unwrap_or_default();
            let names = known.iter().map(String::as_str);
            DocumentFault::UnknownValue {
                near: nearest(&value, names).map(str::to_owned),
                field,
                table,
                value,
                kind: kind.to_owned(),
                known,
            }
        }
        What::Missing => missing_fault(&field, &table, &found.example),
        What::Worded(fault) => fault,
    }
}

/// Result of reading a part of the file.
pub(super) type Checked<T> = Result<T, Box<Problem>>;
