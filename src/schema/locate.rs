//! A place in a parsed file: its span, and how messages call the table around it.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::node::{Field, Node, Variant};
use super::value::shown;
use super::{Place, Step};
use crate::shown::cut;

/// What stands at a place.
#[derive(Debug)]
pub struct Found {
    /// How messages call the table around it, such as `[[wire]] "soft"`.
    pub table: String,
    /// The field, with the number of the entry where it is one of a list.
    pub field: String,
    /// The value as messages show it; `None` where the field is left out.
    pub value: Option<String>,
    /// The value as a text, if it is one.
    pub text: Option<String>,
    /// Where it stands; the table's own place where it is left out.
    pub span: Range<usize>,
    /// Value in TOML, or whole lines, that would add the field.
    pub example: String,
}

/// Titles of the tables inside a table called `title`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Titles<'a> {
    pub(super) title: &'a str,
}

impl Titles<'_> {
    /// A table at `field`.
    pub(super) fn table(&self, field: &str) -> String {
        if self.is_inner() {
            format!("{field} of {}", self.title)
        } else {
            format!("[{field}]")
        }
    }

    fn is_inner(&self) -> bool {
        self.title.contains('[')
    }

    /// The header of the tables in the list at `field`; `None` for a list deeper inside.
    pub(super) fn header(&self, field: &str) -> Option<String> {
        let section = self.title.strip_prefix('[');
        match section.and_then(|title| title.strip_suffix(']')) {
            Some(section) if !section.starts_with('[') => Some(format!("[[{section}.{field}]]")),
            _ if self.is_inner() => None,
            _ => Some(format!("[[{field}]]")),
        }
    }

    /// The table that is entry `index` of the list at `field`; `entry` is how such a table is
    /// called where it stands in an inline list.
    pub(super) fn entry(
        &self,
        field: &str,
        entry: Option<&str>,
        index: usize,
        table: &DeTable<'_>,
    ) -> String {
        let number = index + 1;
        if let Some(entry) = entry {
            return format!("{entry} {number} of {}", self.title);
        }
        let Some(header) = self.header(field) else {
            return format!("{field} {number} of {}", self.title);
        };
        match table.get("name").and_then(|name| name.get_ref().as_str()) {
            Some(name) => format!("{header} \"{}\"", cut(name)),
            None => format!("{header} number {number}"),
        }
    }
}

/// The form of a table that its deciding field chooses.
pub(super) fn variant<'n>(
    tag: &str,
    variants: &'n [Variant],
    table: &DeTable<'_>,
) -> Option<&'n Variant> {
    let word = table.get(tag)?.get_ref().as_str()?;
    variants.iter().find(|variant| variant.word == word)
}

fn fields_of<'n>(node: &'n Node, table: &DeTable<'_>) -> &'n [Field] {
    match node {
        Node::Tagged { tag, variants, .. } => {
            variant(tag, variants, table).map_or(&[], |variant| &variant.fields)
        }
        Node::Either(forms) => forms
            .iter()
            .find_map(|form| match form {
                Node::Table(fields) => Some(&fields[..]),
                _ => None,
            })
            .unwrap_or(&[]),
        _ => node.fields(),
    }
}

fn entry_of(node: &Node, index: usize) -> &Node {
    match node {
        Node::List { entry, .. } => entry,
        Node::Fixed(entries) => entries.get(index).unwrap_or(&Node::Any),
        Node::Either(forms) => forms
            .iter()
            .find(|form| matches!(form, Node::List { .. } | Node::Fixed(_)))
            .map_or(&Node::Any, |form| entry_of(form, index)),
        _ => &Node::Any,
    }
}

/// Looks `place` up in a document called `title`; where it leads nowhere, the deepest part of it that
/// is there.
#[must_use]
pub fn locate(root: &DeTable<'_>, node: &Node, title: &str, place: &Place) -> Found {
    let mut at = At {
        node,
        title: title.to_owned(),
        span: 0..0,
        table: root,
    };
    let steps = place.steps();
    let mut next = 0;
    loop {
        let Some(Step::Field(field)) = steps.get(next) else {
            return at.itself();
        };
        next += 1;
        let known = fields_of(at.node, at.table);
        let known = known.iter().find(|f| f.name == **field);
        let Some(value) = at.table.get(&**field) else {
            return at.left_out(field, known);
        };
        let mut node = known.map_or(&Node::Any, |field| &field.node);
        let mut value: &Spanned<DeValue<'_>> = value;
        let mut label = field.to_string();
        let mut title = Titles { title: &at.title }.table(field);
        while let (Some(Step::Entry(index)), DeValue::Array(array)) =
            (steps.get(next), value.get_ref())
        {
            let Some(entry) = array.get(*index) else {
                break;
            };
            next += 1;
            if let DeValue::Table(table) = entry.get_ref() {
                let called = known.and_then(|f| f.entry.as_deref());
                title = Titles { title: &at.title }.entry(field, called, *index, table);
            }
            label = format!("{label} entry {}", index + 1);
            node = entry_of(node, *index);
            value = entry;
        }
        match value.get_ref() {
            DeValue::Table(table) if matches!(steps.get(next), Some(Step::Field(_))) => {
                at = At {
                    node,
                    title,
                    span: value.span(),
                    table,
                };
            }
            other => {
                return Found {
                    field: label,
                    table: at.title,
                    value: Some(shown(other).0),
                    text: other.as_str().map(str::to_owned),
                    span: value.span(),
                    example: known.map_or(String::new(), |f| f.example.clone()),
                };
            }
        }
    }
}

/// A table on the way.
struct At<'d, 'n> {
    node: &'n Node,
    title: String,
    span: Range<usize>,
    table: &'d DeTable<'d>,
}

impl At<'_, '_> {
    fn itself(self) -> Found {
        Found {
            field: String::new(),
            table: self.title,
            value: Some("{..}".into()),
            text: None,
            span: self.span,
            example: String::new(),
        }
    }

    fn left_out(self, field: &str, known: Option<&Field>) -> Found {
        Found {
            field: field.to_owned(),
            table: self.title,
            value: None,
            text: None,
            span: self.span,
            example: known.map_or(String::new(), |f| f.example.clone()),
        }
    }
}
