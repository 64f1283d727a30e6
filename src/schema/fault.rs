//! What can be wrong with a document, and what to do about it.

use thiserror::Error;

use crate::shown::{cut, listed, shortened};

/// What is wrong with a document.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum DocumentFault {
    /// The text is not TOML.
    #[error("not valid TOML: {message}")]
    Syntax {
        /// What the reader expected.
        message: String,
        /// What the person may have meant.
        suspicion: Option<String>,
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
        /// Other places of the document where a field of this name may stand.
        elsewhere: Vec<String>,
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
        /// What the person may have meant.
        suspicion: Option<String>,
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
        kind: String,
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
    /// A file that would take too much memory or time.
    #[error("{what} {found}, allowed are up to {allowed}")]
    TooMuch {
        /// What there is too much of, as the beginning of a sentence.
        what: String,
        /// How much is there.
        found: usize,
        /// How much may be there.
        allowed: usize,
        /// What to do.
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

impl DocumentFault {
    /// What the person can do about it.
    #[must_use]
    pub fn help(&self) -> String {
        match self {
            Self::Syntax { suspicion, .. } => suspicion.clone().unwrap_or_else(|| {
                "a text stands in double quotes, a list in square brackets, a table begins with \
                 [name] and an entry of a list of tables with [[name]]"
                    .into()
            }),
            Self::UnknownField {
                near,
                known,
                elsewhere,
                field,
                ..
            } => {
                let is_table = |place: &str| place.starts_with("a table");
                match &elsewhere[..] {
                    // A name such as length_mm stands in many tables.
                    [] | [_, _, _, _, ..] => suggestion(near.as_deref(), known, "fields"),
                    [one] if is_table(one) => format!("{} is {one}", cut(field)),
                    all => format!(
                        "{} belongs in {}; allowed fields here: {}",
                        cut(field),
                        listed(all),
                        listed(known)
                    ),
                }
            }
            Self::MissingField { example, .. } => {
                format!("add, with your own value:\n{example}")
            }
            Self::WrongType {
                expected,
                suspicion,
                ..
            } => suspicion
                .clone()
                .unwrap_or_else(|| format!("write {expected}")),
            Self::OutOfRange {
                suspicion, allowed, ..
            } => suspicion
                .clone()
                .unwrap_or_else(|| format!("give a value in the range allowed: {allowed}")),
            Self::UnknownValue { near, known, .. } => suggestion(near.as_deref(), known, "values"),
            Self::TooFew { remedy, .. }
            | Self::TooMuch { remedy, .. }
            | Self::Disagreement { remedy, .. }
            | Self::Anatomy { remedy, .. } => remedy.clone(),
        }
    }
}

impl DocumentFault {
    /// The fault with what the file says cut to the length of a message.
    pub(crate) fn cut(mut self) -> Self {
        /// Most characters of a field's or a table's name: a header with a name in it.
        const NAME: usize = 120;
        let names = |field: &mut String, table: &mut String| {
            for name in [field, table] {
                if name.chars().count() > NAME {
                    *name = cut(&*name);
                }
            }
        };
        match &mut self {
            Self::Syntax { message, suspicion } => {
                *message = shortened(&*message);
                *suspicion = suspicion.as_deref().map(shortened);
            }
            Self::UnknownField { field, table, .. }
            | Self::MissingField { field, table, .. }
            | Self::TooFew { field, table, .. } => names(field, table),
            Self::WrongType {
                field,
                table,
                found: value,
                ..
            }
            | Self::OutOfRange {
                field,
                table,
                value,
                ..
            }
            | Self::UnknownValue {
                field,
                table,
                value,
                ..
            } => {
                names(field, table);
                *value = cut(&*value);
            }
            Self::Disagreement {
                field,
                table,
                value,
                reason,
                remedy,
            } => {
                names(field, table);
                *value = cut(&*value);
                *reason = shortened(&*reason);
                *remedy = shortened(&*remedy);
            }
            Self::TooMuch { .. } => {}
            Self::Anatomy { message, remedy } => {
                *message = shortened(&*message);
                *remedy = shortened(&*remedy);
            }
        }
        self
    }
}

fn suggestion(near: Option<&str>, known: &[String], what: &str) -> String {
    let all = listed(known);
    match near {
        Some(near) => format!("did you mean {near}? Allowed {what}: {all}"),
        None => format!("allowed {what}: {all}"),
    }
}
