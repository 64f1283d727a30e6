//! The check of a parsed file against what its document may hold.
//!
//! The first fault in the order of the file ends it, except that within one table a field that is
//! unknown or missing comes first.

mod value;

use std::ops::Range as Span;

use toml::de::DeTable;

use self::value::value;
use super::locate::{Titles, variant};
use super::node::{Field, Node, Variant};
use super::value::shown;
use super::{DocumentFault, nearest};

/// A fault with its place in bytes.
#[derive(Debug)]
pub struct Finding {
    /// What is wrong.
    pub fault: DocumentFault,
    /// Where.
    pub span: Span<usize>,
}

type Checked = Result<(), Box<Finding>>;

/// Checks a document called `title`, such as "the scenario".
///
/// # Errors
///
/// The first fault: an unknown or missing field, a value of another type, a number outside its range,
/// a word that is not known, a list that is too short or too long.
pub fn check(root: &DeTable<'_>, node: &Node, title: &str) -> Checked {
    table(root, node, title, &(0..0)).map_err(|mut finding| {
        if let DocumentFault::UnknownField {
            field, elsewhere, ..
        } = &mut finding.fault
        {
            belongs(field, node, title, elsewhere);
        }
        finding
    })
}

/// Adds the places of a document where `field` may stand: how the table around it is called, or
/// the lines of an example where it is a table of its own.
fn belongs(field: &str, node: &Node, title: &str, places: &mut Vec<String>) {
    let titles = Titles { title };
    let fields: Vec<&Field> = match node {
        Node::Table(fields) => fields.iter().collect(),
        Node::Tagged { variants, .. } => variants.iter().flat_map(|v| &v.fields).collect(),
        Node::Either(forms) => {
            forms
                .iter()
                .for_each(|form| belongs(field, form, title, places));
            return;
        }
        _ => return,
    };
    for known in fields {
        if known.name == field {
            let place = if known.example.starts_with('[') && known.example.contains('\n') {
                format!("a table of its own:\n{}", known.example)
            } else {
                title.to_owned()
            };
            if !places.contains(&place) {
                places.push(place);
            }
        }
        let (inner, title) = match &known.node {
            Node::List { entry, .. } => (&**entry, titles.header(&known.name)),
            table => (table, Some(titles.table(&known.name))),
        };
        if let Some(title) = title {
            belongs(field, inner, &title, places);
        }
    }
}

/// The label of a value: a field, or an entry of a list.
#[derive(Clone, Copy)]
struct Label<'a> {
    table: &'a str,
    field: &'a str,
    /// The list in which the value is an entry, and its number from 0.
    entry: Option<(&'a Label<'a>, usize)>,
    /// The field of the schema.
    known: &'a Field,
}

impl Label<'_> {
    fn said(&self) -> String {
        match self.entry {
            None => self.field.to_owned(),
            Some((list, index)) => format!("{} entry {}", list.said(), index + 1),
        }
    }
}

fn found(fault: DocumentFault, span: Span<usize>) -> Box<Finding> {
    Box::new(Finding { fault, span })
}

fn table(map: &DeTable<'_>, node: &Node, title: &str, span: &Span<usize>) -> Checked {
    match node {
        Node::Table(fields) => {
            known_fields(map, fields, title, None)?;
            contents(map, fields, title, span)
        }
        Node::Tagged {
            tag,
            kind,
            variants,
        } => {
            let Some(fitting) = variant(tag, variants, map) else {
                return no_variant(map, tag, kind, variants, title, span);
            };
            known_fields(map, &fitting.fields, title, Some((tag, fitting, variants)))?;
            contents(map, &fitting.fields, title, span)
        }
        _ => Ok(()),
    }
}

/// The deciding field is missing, of another type or holds no known word; what no form of the table
/// has comes first.
fn no_variant(
    map: &DeTable<'_>,
    tag: &str,
    kind: &str,
    variants: &[Variant],
    title: &str,
    span: &Span<usize>,
) -> Checked {
    let mut all: Vec<Field> = Vec::new();
    for field in variants.iter().flat_map(|variant| &variant.fields) {
        if all.iter().all(|other| other.name != field.name) {
            all.push(field.clone());
        }
    }
    known_fields(map, &all, title, None)?;
    let Some(deciding) = all.iter().find(|field| field.name == tag) else {
        return Ok(());
    };
    let Some(word) = map.get(tag) else {
        return Err(missing(deciding, title, span));
    };
    let label = Label {
        table: title,
        field: tag,
        entry: None,
        known: deciding,
    };
    let words = variants.iter().map(|v| (v.word.clone(), String::new()));
    let node = Node::Choice {
        kind: kind.to_owned(),
        words: words.collect(),
    };
    value(word, &node, &label)
}

fn known_fields(
    map: &DeTable<'_>,
    fields: &[Field],
    title: &str,
    form: Option<(&str, &Variant, &[Variant])>,
) -> Checked {
    let stranger = map
        .keys()
        .filter(|key| fields.iter().all(|field| field.name != **key.get_ref()))
        .min_by_key(|key| key.span().start);
    let Some(key) = stranger else { return Ok(()) };
    let name: &str = key.get_ref();
    if let Some((tag, own, variants)) = form {
        let of_another = variants
            .iter()
            .flat_map(|v| &v.fields)
            .any(|f| f.name == name);
        if let (true, Some(said)) = (of_another, map.get(name)) {
            return Err(found(
                DocumentFault::Disagreement {
                    field: name.to_owned(),
                    table: title.to_owned(),
                    value: shown(said.get_ref()).0,
                    reason: format!("{tag} {:?} has no use for it", own.word),
                    remedy: format!("remove {name}, or choose another {tag}"),
                },
                said.span(),
            ));
        }
    }
    let names = fields.iter().map(|field| field.name.as_str());
    Err(found(
        DocumentFault::UnknownField {
            field: name.to_owned(),
            near: nearest(name, names.clone()).map(str::to_owned),
            known: names.map(str::to_owned).collect(),
            table: title.to_owned(),
            elsewhere: Vec::new(),
        },
        key.span(),
    ))
}

fn missing(field: &Field, title: &str, span: &Span<usize>) -> Box<Finding> {
    found(
        missing_fault(&field.name, title, &field.example),
        span.clone(),
    )
}

/// The fault that a field must be there; `example` is a value, or whole lines.
pub(crate) fn missing_fault(field: &str, title: &str, example: &str) -> DocumentFault {
    let lines = example.starts_with("[[") || example.contains('\n');
    DocumentFault::MissingField {
        field: field.to_owned(),
        table: title.to_owned(),
        example: if lines {
            example.to_owned()
        } else {
            format!("{field} = {example}")
        },
    }
}

fn contents(map: &DeTable<'_>, fields: &[Field], title: &str, span: &Span<usize>) -> Checked {
    let is_missing = |field: &&Field| field.required && !map.contains_key(field.name.as_str());
    if let Some(field) = fields.iter().find(is_missing) {
        return Err(missing(field, title, span));
    }
    let mut entries: Vec<_> = map.iter().collect();
    entries.sort_by_key(|(key, _)| key.span().start);
    for (key, said) in entries {
        let Some(known) = fields.iter().find(|f| f.name == **key.get_ref()) else {
            continue;
        };
        let label = Label {
            table: title,
            field: &known.name,
            entry: None,
            known,
        };
        value(said, &known.node, &label)?;
    }
    Ok(())
}
