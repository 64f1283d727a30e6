//! The check of one value: its type, its range, its size.

use toml::Spanned;
use toml::de::DeValue;

use super::{Checked, Finding, Label, found, table};
use crate::schema::locate::Titles;
use crate::schema::node::{Node, Range};
use crate::schema::value::{number, shown, whole};
use crate::schema::{DocumentFault, nearest, odd_number};

pub(super) fn wrong_type(
    said: &Spanned<DeValue<'_>>,
    label: &Label<'_>,
    expected: String,
) -> Box<Finding> {
    let (value, kind) = shown(said.get_ref());
    let suspicion = match said.get_ref() {
        DeValue::String(text) if expected.contains("number") => {
            odd_number::remedy(label.field, text)
        }
        _ => None,
    };
    found(
        DocumentFault::WrongType {
            suspicion,
            field: label.said(),
            table: label.table.to_owned(),
            expected,
            found: value,
            kind,
        },
        said.span(),
    )
}

pub(super) fn value(said: &Spanned<DeValue<'_>>, node: &Node, label: &Label<'_>) -> Checked {
    match (node, said.get_ref()) {
        (Node::Any, _) | (Node::Flag, DeValue::Boolean(_)) | (Node::Text, DeValue::String(_)) => {
            Ok(())
        }
        (Node::Number(range), inner) => match number(inner) {
            Some(number) => in_range(number, range, said, label),
            None => {
                let unit = match range.unit.as_str() {
                    "" => String::new(),
                    unit => format!(" in {unit}"),
                };
                Err(wrong_type(said, label, format!("a number{unit} ({range})")))
            }
        },
        (Node::Whole(range), DeValue::Integer(integer)) => {
            let number = whole(integer).unwrap_or(i128::MAX);
            in_range(number as f64, range, said, label)?;
            // The range ends at the next number that a float can hold.
            if i64::try_from(number).is_err() {
                return Err(wrong_type(said, label, format!("a whole number ({range})")));
            }
            Ok(())
        }
        (Node::Choice { kind, words }, DeValue::String(text)) => {
            if words.iter().any(|(word, _)| *word == **text) {
                return Ok(());
            }
            let known = words.iter().map(|(word, _)| word.as_str());
            Err(found(
                DocumentFault::UnknownValue {
                    field: label.said(),
                    table: label.table.to_owned(),
                    value: text.to_string(),
                    kind: kind.clone(),
                    near: nearest(text, known.clone()).map(str::to_owned),
                    known: known.map(str::to_owned).collect(),
                },
                said.span(),
            ))
        }
        (Node::List { entry, .. }, DeValue::Array(array)) => {
            sized(said, array.len(), node, label)?;
            for (index, one) in array.iter().enumerate() {
                list_entry(one, entry, label, index)?;
            }
            Ok(())
        }
        (Node::Fixed(entries), DeValue::Array(array)) => {
            if array.len() != entries.len() {
                return Err(wrong_type(said, label, expected(node)));
            }
            for (index, (one, entry)) in array.iter().zip(entries).enumerate() {
                list_entry(one, entry, label, index)?;
            }
            Ok(())
        }
        (Node::Table(_) | Node::Tagged { .. }, DeValue::Table(inner)) => {
            let title = match label.entry {
                None => Titles { title: label.table }.table(label.field),
                Some((_, index)) => Titles { title: label.table }.entry(
                    label.field,
                    label.known.entry.as_deref(),
                    index,
                    inner,
                ),
            };
            table(inner, node, &title, &said.span())
        }
        (Node::Named(inner), DeValue::Table(map)) => {
            for (key, one) in map {
                let field = format!("{}.{}", label.said(), key.get_ref());
                let label = Label {
                    field: &field,
                    entry: None,
                    ..*label
                };
                value(one, inner, &label)?;
            }
            Ok(())
        }
        (Node::Either(forms), inner) => match forms.iter().find(|form| fits(form, inner)) {
            Some(form) => value(said, form, label),
            None => {
                let all: Vec<String> = forms.iter().map(expected).collect();
                Err(wrong_type(said, label, all.join(", or ")))
            }
        },
        _ => Err(wrong_type(said, label, expected(node))),
    }
}

fn list_entry(one: &Spanned<DeValue<'_>>, node: &Node, list: &Label<'_>, index: usize) -> Checked {
    let label = Label {
        entry: Some((list, index)),
        ..*list
    };
    value(one, node, &label)
}

fn in_range(number: f64, range: &Range, said: &Spanned<DeValue<'_>>, label: &Label<'_>) -> Checked {
    if range.holds(number) {
        return Ok(());
    }
    Err(found(
        DocumentFault::OutOfRange {
            field: label.said(),
            table: label.table.to_owned(),
            value: range.say(number),
            allowed: range.to_string(),
            suspicion: range.suspicion(number),
        },
        said.span(),
    ))
}

fn sized(said: &Spanned<DeValue<'_>>, count: usize, node: &Node, label: &Label<'_>) -> Checked {
    let Node::List {
        least,
        most,
        remedy,
        entry,
    } = node
    else {
        return Ok(());
    };
    if count < *least {
        let remedy = match remedy.as_str() {
            "" => format!("add at least one {} table", header(label)),
            remedy => remedy.to_owned(),
        };
        return Err(found(
            DocumentFault::TooFew {
                field: label.said(),
                table: label.table.to_owned(),
                found: count,
                needed: *least,
                remedy,
            },
            said.span(),
        ));
    }
    if count > *most {
        let what = match **entry {
            Node::Table(_) | Node::Tagged { .. } => format!("the tables {} are", header(label)),
            _ => format!("the entries of {} are", label.said()),
        };
        return Err(found(
            DocumentFault::TooMuch {
                what,
                found: count,
                allowed: *most,
                remedy: "leave out what is not needed; a large tree may stand in a file of its \
                         own, named by file in [vessel]"
                    .into(),
            },
            said.span(),
        ));
    }
    Ok(())
}

/// How the tables of a list are called.
fn header(label: &Label<'_>) -> String {
    let titles = Titles { title: label.table };
    titles.header(label.field).unwrap_or_else(|| label.said())
}

/// Whether a value has the type that a node wants, whatever it holds.
fn fits(node: &Node, value: &DeValue<'_>) -> bool {
    match node {
        Node::Number(_) => matches!(value, DeValue::Float(_) | DeValue::Integer(_)),
        Node::Whole(_) => value.is_integer(),
        Node::Flag => value.is_bool(),
        Node::Text | Node::Choice { .. } => value.is_str(),
        Node::List { .. } | Node::Fixed(_) => value.is_array(),
        Node::Table(_) | Node::Tagged { .. } | Node::Named(_) => value.is_table(),
        Node::Either(forms) => forms.iter().any(|form| fits(form, value)),
        Node::Any => true,
    }
}

/// What a node wants, in words.
fn expected(node: &Node) -> String {
    match node {
        Node::Number(range) => format!("a number ({range})"),
        Node::Whole(range) => format!("a whole number ({range})"),
        Node::Flag => "true or false".into(),
        Node::Text | Node::Choice { .. } => "a text in double quotes".into(),
        Node::List { .. } => "a list in square brackets".into(),
        Node::Fixed(entries) => {
            let numbers = entries.iter().all(|entry| matches!(entry, Node::Number(_)));
            let what = if numbers { "numbers" } else { "entries" };
            format!("a list of {} {what}", entries.len())
        }
        Node::Table(_) | Node::Tagged { .. } | Node::Named(_) => "a table".into(),
        Node::Either(forms) => forms.iter().map(expected).collect::<Vec<_>>().join(", or "),
        Node::Any => "a value".into(),
    }
}
