//! The check of a parsed file against what its document may hold.
//!
//! The first fault in the order of the file ends it, except that within one table a field that is
//! unknown or missing comes first.

use std::ops::Range as Span;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::locate::{Titles, variant};
use super::node::{Field, Node, Range, Variant};
use super::value::{number, shown, whole};
use super::{DocumentFault, nearest, odd_number};

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

fn wrong_type(said: &Spanned<DeValue<'_>>, label: &Label<'_>, expected: String) -> Box<Finding> {
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

fn value(said: &Spanned<DeValue<'_>>, node: &Node, label: &Label<'_>) -> Checked {
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
