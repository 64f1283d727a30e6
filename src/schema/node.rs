//! What a document may hold, as a tree: compiled once from what the structs derive.

use schemars::{JsonSchema, generate::SchemaSettings};
use serde_json::{Map, Value};

use super::suspicion::suspicion;
use crate::units;

/// What a value may be.
#[derive(Debug, Clone, PartialEq)]
pub enum Node {
    /// A number in a range.
    Number(Range),
    /// A whole number in a range.
    Whole(Range),
    /// True or false.
    Flag,
    /// Any text.
    Text,
    /// One of some words.
    Choice {
        /// What the word is, such as "a surface".
        kind: String,
        /// The words, each with its meaning.
        words: Vec<(String, String)>,
    },
    /// A list of entries of one kind.
    List {
        /// Every entry.
        entry: Box<Node>,
        /// Fewest entries.
        least: usize,
        /// Most entries.
        most: usize,
        /// What to do about too few.
        remedy: String,
    },
    /// A list of exactly these entries.
    Fixed(Vec<Node>),
    /// A table with known fields.
    Table(Vec<Field>),
    /// A table whose fields depend on the word that one of them holds.
    Tagged {
        /// The field that decides.
        tag: String,
        /// What its word is, such as "a shape".
        kind: String,
        /// Word, meaning and fields, the deciding one included.
        variants: Vec<Variant>,
    },
    /// A table with free keys.
    Named(Box<Node>),
    /// One of several, told apart by the type of the value.
    Either(Vec<Node>),
    /// Anything.
    Any,
}

/// One form of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Variant {
    /// The word that chooses it.
    pub word: String,
    /// What it is.
    pub about: String,
    /// Its fields, the deciding one included.
    pub fields: Vec<Field>,
}

/// A field of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// Its name.
    pub name: String,
    /// What it may hold.
    pub node: Node,
    /// Whether it must be there.
    pub required: bool,
    /// What it means.
    pub about: String,
    /// Its value where it is left out, in TOML or in words.
    pub default: Option<String>,
    /// A value in TOML, or whole lines.
    pub example: String,
    /// How the tables of an inline list are called.
    pub entry: Option<String>,
}

/// The range of a number.
#[derive(Debug, Clone, PartialEq)]
pub struct Range {
    /// Lower end.
    pub low: f64,
    /// Whether the lower end belongs to the range.
    pub low_is_allowed: bool,
    /// Upper end, which belongs to it.
    pub high: f64,
    /// Unit; empty for a ratio.
    pub unit: String,
    suspect: String,
}

impl Range {
    /// Whether a number lies in the range; not-a-number and infinities never do.
    #[must_use]
    pub fn holds(&self, value: f64) -> bool {
        value.is_finite()
            && value <= self.high
            && (value > self.low || (self.low_is_allowed && value >= self.low))
    }

    /// What a number outside the range may have meant.
    pub(super) fn suspicion(&self, value: f64) -> Option<String> {
        suspicion(&self.suspect, value)
    }

    /// A value with its unit.
    pub(super) fn say(&self, value: f64) -> String {
        format!("{value} {}", self.unit).trim_end().to_owned()
    }
}

impl std::fmt::Display for Range {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self {
            low, high, unit, ..
        } = self;
        if self.low_is_allowed {
            write!(f, "{low} to {high}")?;
        } else {
            write!(f, "above {low} and up to {high}")?;
        }
        if unit.is_empty() {
            Ok(())
        } else {
            write!(f, " {unit}")
        }
    }
}

impl Node {
    /// What the struct `T` may be read from.
    #[must_use]
    pub fn of<T: JsonSchema>() -> Self {
        let mut settings = SchemaSettings::draft2020_12();
        settings.inline_subschemas = true;
        let schema = settings.into_generator().into_root_schema_for::<T>();
        node(schema.as_value(), "")
    }

    /// The range of a number.
    #[must_use]
    pub fn range(&self) -> Option<&Range> {
        match self {
            Self::Number(range) | Self::Whole(range) => Some(range),
            _ => None,
        }
    }

    /// The fields of a table; none for anything else and for a table of several forms.
    #[must_use]
    pub fn fields(&self) -> &[Field] {
        match self {
            Self::Table(fields) => fields,
            _ => &[],
        }
    }
}

/// A table without the null that stands for what is left out, which TOML does not have.
fn node(schema: &Value, name: &str) -> Node {
    let Some(map) = schema.as_object() else {
        return Node::Any;
    };
    let list = |key: &str| map.get(key).and_then(Value::as_array);
    let is_null = |value: &&Value| value.get("type").and_then(Value::as_str) == Some("null");
    if let Some(forms) = list("anyOf") {
        let forms: Vec<&Value> = forms.iter().filter(|form| !is_null(form)).collect();
        return match forms[..] {
            [one] => node(&merged(map, one), name),
            _ => Node::Either(forms.into_iter().map(|form| node(form, name)).collect()),
        };
    }
    if let Some(words) = list("enum") {
        let words = words.iter().filter_map(Value::as_str);
        return Node::Choice {
            kind: text(map, "x-kind"),
            words: words.map(|word| (word.to_owned(), String::new())).collect(),
        };
    }
    if let Some(forms) = list("oneOf") {
        return one_of(map, forms);
    }
    match kind(map) {
        "number" => Node::Number(range(map, name)),
        "integer" => Node::Whole(range(map, name)),
        "boolean" => Node::Flag,
        "string" => match map.get("const").and_then(Value::as_str) {
            Some(word) => Node::Choice {
                kind: text(map, "x-kind"),
                words: vec![(word.to_owned(), String::new())],
            },
            None => Node::Text,
        },
        "array" => array(map, name),
        "object" => match map.get("properties") {
            Some(_) => Node::Table(fields(map)),
            None => match map.get("additionalProperties") {
                Some(inner) if inner.is_object() => Node::Named(Box::new(node(inner, name))),
                _ => Node::Table(Vec::new()),
            },
        },
        _ => Node::Any,
    }
}

fn text(map: &Map<String, Value>, key: &str) -> String {
    let value = map.get(key).and_then(Value::as_str);
    value.unwrap_or_default().to_owned()
}

/// Doc comments wrap at the width of the source.
fn about(map: &Map<String, Value>) -> String {
    let words = text(map, "description");
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The type, which stands in a list with null where a field may be left out.
fn kind(map: &Map<String, Value>) -> &str {
    match map.get("type") {
        Some(Value::String(kind)) => kind,
        Some(Value::Array(kinds)) => {
            let mut kinds = kinds.iter().filter_map(Value::as_str);
            kinds.find(|kind| *kind != "null").unwrap_or_default()
        }
        _ => "",
    }
}

/// What stands at a field goes over what stands at its type.
fn merged(outer: &Map<String, Value>, inner: &Value) -> Value {
    let mut all = inner.as_object().cloned().unwrap_or_default();
    for (key, value) in outer.iter().filter(|(key, _)| *key != "anyOf") {
        all.insert(key.clone(), value.clone());
    }
    Value::Object(all)
}

fn range(map: &Map<String, Value>, name: &str) -> Range {
    let number = |key: &str| map.get(key).and_then(Value::as_f64);
    let (low, low_is_allowed) = match (number("exclusiveMinimum"), number("minimum")) {
        (Some(low), _) => (low, false),
        (None, Some(low)) => (low, true),
        (None, None) => (f64::NEG_INFINITY, true),
    };
    let unit = match map.get("x-unit").and_then(Value::as_str) {
        Some(unit) => unit,
        // A coefficient of variation is a ratio.
        None => Some(units::of_field(name).1)
            .filter(|unit| *unit != "CV")
            .unwrap_or(""),
    };
    Range {
        low,
        low_is_allowed,
        high: number("maximum").unwrap_or(f64::INFINITY),
        unit: unit.to_owned(),
        suspect: text(map, "x-suspect"),
    }
}

fn array(map: &Map<String, Value>, name: &str) -> Node {
    let size = |key: &str| {
        let size = map.get(key).and_then(Value::as_u64);
        size.and_then(|size| usize::try_from(size).ok())
    };
    if let Some(entries) = map.get("prefixItems").and_then(Value::as_array) {
        return Node::Fixed(entries.iter().map(|entry| node(entry, name)).collect());
    }
    let entry = map
        .get("items")
        .map_or(Node::Any, |entry| node(entry, name));
    match (size("minItems"), size("maxItems")) {
        (Some(least), Some(most)) if least == most => Node::Fixed(vec![entry; least]),
        (least, most) => Node::List {
            entry: Box::new(entry),
            least: least.unwrap_or(0),
            most: most.unwrap_or(usize::MAX),
            remedy: text(map, "x-remedy"),
        },
    }
}

fn fields(map: &Map<String, Value>) -> Vec<Field> {
    let required: Vec<&str> = match map.get("required").and_then(Value::as_array) {
        Some(names) => names.iter().filter_map(Value::as_str).collect(),
        None => Vec::new(),
    };
    let properties = map.get("properties").and_then(Value::as_object);
    let field = |(name, schema): (&String, &Value)| {
        let empty = Map::new();
        let own = schema.as_object().unwrap_or(&empty);
        Field {
            name: name.clone(),
            node: node(schema, name),
            required: required.contains(&name.as_str()),
            about: about(own),
            default: default(own),
            example: example(own),
            entry: own
                .get("x-entry")
                .and_then(Value::as_str)
                .map(str::to_owned),
        }
    };
    properties.into_iter().flatten().map(field).collect()
}

/// The value that shows what may be said: the one given as an example, or the word that names the form of a table.
fn example(map: &Map<String, Value>) -> String {
    match (map.get("x-example"), map.get("const")) {
        (None, Some(word)) => word.to_string(),
        _ => text(map, "x-example"),
    }
}

/// A default as a scenario would say it: numbers to twelve digits, as an angle comes back from rad.
fn default(map: &Map<String, Value>) -> Option<String> {
    if let Some(words) = map.get("x-default").and_then(Value::as_str) {
        return Some(words.to_owned());
    }
    let short = |number: f64| format!("{number:.12e}").parse().unwrap_or(number);
    match map.get("default")? {
        Value::Null | Value::Object(_) => None,
        Value::Array(list) if list.is_empty() => None,
        Value::Array(list) => {
            let said = list.iter().map(|value| match value.as_f64() {
                Some(number) => short(number).to_string(),
                None => value.to_string(),
            });
            Some(format!("[{}]", said.collect::<Vec<_>>().join(", ")))
        }
        Value::Number(number) => {
            let value = short(number.as_f64()?);
            Some(if value != 0.0 && value.abs() < 1e-3 {
                format!("{value:e}")
            } else {
                value.to_string()
            })
        }
        other => Some(other.to_string()),
    }
}

/// Words with their meanings, or tables told apart by a word.
fn one_of(map: &Map<String, Value>, forms: &[Value]) -> Node {
    let word = |form: &Value| form.get("const").and_then(Value::as_str).map(str::to_owned);
    let forms = forms.iter().filter_map(Value::as_object);
    let mut words = Vec::new();
    let mut variants = Vec::new();
    let mut tag = String::new();
    let mut kind = text(map, "x-kind");
    let common = fields(map);
    for form in forms {
        if let Some(list) = form.get("enum").and_then(Value::as_array) {
            let all = list.iter().filter_map(Value::as_str);
            words.extend(all.map(|word| (word.to_owned(), String::new())));
        } else if let Some(word) = form.get("const").and_then(Value::as_str) {
            words.push((word.to_owned(), about(form)));
        } else {
            let mut own = fields(form);
            let properties = form.get("properties").and_then(Value::as_object);
            let said = properties
                .into_iter()
                .flatten()
                .find_map(|(name, schema)| Some((name.clone(), word(schema)?)));
            let Some((name, word)) = said else { continue };
            if kind.is_empty() {
                kind = text(form, "x-kind");
            }
            own.extend(common.iter().cloned());
            tag = name;
            variants.push(Variant {
                word,
                about: about(form),
                fields: own,
            });
        }
    }
    if variants.is_empty() {
        Node::Choice { kind, words }
    } else {
        Node::Tagged {
            tag,
            kind,
            variants,
        }
    }
}
