//! The published JSON Schema of a document, for editors that complete and check it.

use serde_json::{Map, Value, json};

use super::node::{Field, Node, Range, Variant};

/// The schema of a document called `title`, JSON Schema draft 2020-12.
#[must_use]
pub fn schema(node: &Node, title: &str, about: &str) -> Value {
    let mut root = Map::new();
    root.insert(
        "$schema".into(),
        json!("https://json-schema.org/draft/2020-12/schema"),
    );
    root.insert("title".into(), json!(title));
    root.insert("description".into(), json!(about));
    root.extend(of(node));
    Value::Object(root)
}

/// How the first line of a file begins that names its schema, by the convention of editors.
pub const DIRECTIVE: &str = "#:schema ";

/// A text without the line that names its schema.
#[must_use]
pub fn without_directive(text: &str) -> &str {
    if !text.starts_with(DIRECTIVE) {
        return text;
    }
    text.split_once('\n').map_or("", |(_, rest)| rest)
}

fn object(value: Value) -> Map<String, Value> {
    match value {
        Value::Object(map) => map,
        _ => Map::new(),
    }
}

fn of(node: &Node) -> Map<String, Value> {
    object(match node {
        Node::Number(range) => return ranged("number", range),
        Node::Whole(range) => return ranged("integer", range),
        Node::Flag => json!({ "type": "boolean" }),
        Node::Text => json!({ "type": "string" }),
        Node::Choice { words, .. } => {
            let names: Vec<&String> = words.iter().map(|(word, _)| word).collect();
            json!({ "type": "string", "enum": names })
        }
        Node::List {
            entry, least, most, ..
        } => {
            let mut map = object(json!({ "type": "array", "items": of(entry) }));
            if *least > 0 {
                map.insert("minItems".into(), json!(least));
            }
            if *most < usize::MAX {
                map.insert("maxItems".into(), json!(most));
            }
            return map;
        }
        Node::Fixed(entries) => {
            let count = entries.len();
            let entries: Vec<_> = entries.iter().map(of).collect();
            json!({
                "type": "array",
                "prefixItems": entries,
                "minItems": count,
                "maxItems": count,
            })
        }
        Node::Table(fields) => return table(fields),
        Node::Tagged { tag, variants, .. } => {
            let forms: Vec<_> = variants.iter().map(|v| variant(tag, v)).collect();
            json!({ "type": "object", "oneOf": forms })
        }
        Node::Named(inner) => json!({ "type": "object", "additionalProperties": of(inner) }),
        Node::Either(forms) => {
            let forms: Vec<_> = forms.iter().map(of).collect();
            json!({ "anyOf": forms })
        }
        Node::Any => json!({}),
    })
}

fn ranged(kind: &str, range: &Range) -> Map<String, Value> {
    let mut map = object(json!({ "type": kind }));
    let low = match range.low_is_allowed {
        true => "minimum",
        false => "exclusiveMinimum",
    };
    for (key, end) in [(low, range.low), ("maximum", range.high)] {
        if end.is_finite() {
            map.insert(key.into(), plain(end));
        }
    }
    map
}

/// A number, without fraction where it has none and is not too large for that.
#[expect(
    clippy::cast_possible_truncation,
    reason = "only numbers that a 64-bit integer holds exactly are converted"
)]
fn plain(number: f64) -> Value {
    /// Up to here a float holds every whole number.
    const WHOLE: f64 = 9_007_199_254_740_992.0;
    if number.fract().abs() <= 0.0 && number.abs() <= WHOLE {
        json!(number as i64)
    } else {
        json!(number)
    }
}

fn table(fields: &[Field]) -> Map<String, Value> {
    let properties: Map<String, Value> = fields
        .iter()
        .map(|field| (field.name.clone(), Value::Object(of_field(field))))
        .collect();
    let mut map = object(json!({ "type": "object", "properties": properties }));
    let required: Vec<&String> = fields
        .iter()
        .filter(|f| f.required)
        .map(|f| &f.name)
        .collect();
    if !required.is_empty() {
        map.insert("required".into(), json!(required));
    }
    map.insert("additionalProperties".into(), json!(false));
    map
}

fn variant(tag: &str, variant: &Variant) -> Map<String, Value> {
    let mut map = table(&variant.fields);
    map.insert(
        "title".into(),
        json!(format!("{tag} = \"{}\"", variant.word)),
    );
    if !variant.about.is_empty() {
        map.insert("description".into(), json!(variant.about));
    }
    map
}

/// A field: its meaning with range and default in words, for an editor that shows them.
fn of_field(field: &Field) -> Map<String, Value> {
    let mut map = Map::new();
    let mut said = field.about.clone();
    if let Some(range) = field.node.range() {
        said += &format!(" Allowed: {range}.");
    }
    if let Some(default) = &field.default {
        said += &format!(" Default: {default}.");
    }
    if !said.is_empty() {
        map.insert("description".into(), json!(said.trim()));
    }
    map.extend(of(&field.node));
    map
}
