//! Reading tables and values of a parsed TOML file, each with its place, so that every fault
//! can be pointed at.
//!
//! A [`Table`] is opened with the list of fields that it may have and refuses any other at once;
//! an [`Entry`] is one value, which is then asked to be a number in a range, a word of a list,
//! and so on. (Serde would give up the places inside lists and alternatives.)

use nalgebra::Vector3;
use toml::Spanned;
use toml::de::{DeInteger, DeTable, DeValue};

use super::allowed::{self, Allowed};
use super::error::{Checked, Fault, Problem};
use super::model::Place;
use super::near::nearest;

/// Field names of a table, each with an example: a value, or whole lines where it begins with
/// a bracket.
pub(super) type Fields = &'static [(&'static str, &'static str)];

/// An open table whose fields are all known.
pub(super) struct Table<'a> {
    map: &'a DeTable<'a>,
    fields: Fields,
    /// How messages call the table, such as `[[wire]] "soft"`.
    pub(super) title: String,
    /// Where the table is described: its header.
    pub(super) place: Place,
    base: usize,
}

impl<'a> Table<'a> {
    /// The root of a file whose places begin at `base`.
    pub(super) fn root(
        document: &'a Spanned<DeTable<'a>>,
        base: usize,
        fields: Fields,
        title: &str,
    ) -> Checked<Self> {
        let place = Place {
            start: base,
            end: base,
        };
        Self::open(document.get_ref(), place, base, fields, title.to_owned())
    }

    fn open(
        map: &'a DeTable<'a>,
        place: Place,
        base: usize,
        fields: Fields,
        title: String,
    ) -> Checked<Self> {
        let stranger = map
            .keys()
            .filter(|key| {
                fields
                    .iter()
                    .all(|(name, _)| *name != key.get_ref().as_ref())
            })
            .min_by_key(|key| key.span().start);
        let table = Self {
            map,
            fields,
            title,
            place,
            base,
        };
        match stranger {
            None => Ok(table),
            Some(key) => {
                let names = fields.iter().map(|(name, _)| *name);
                Err(Problem::new(
                    Fault::UnknownField {
                        field: key.get_ref().to_string(),
                        near: nearest(key.get_ref(), names.clone()).map(str::to_owned),
                        known: names.map(str::to_owned).collect(),
                        table: table.title,
                    },
                    shifted(&key.span(), base),
                ))
            }
        }
    }

    /// Whether the table has a field.
    pub(super) fn has(&self, field: &str) -> bool {
        self.map.contains_key(field)
    }

    /// A field that may be left out.
    pub(super) fn optional(&self, field: &str) -> Option<Entry<'a>> {
        debug_assert!(
            self.fields.iter().any(|(name, _)| *name == field),
            "{field} is not among the fields of {}",
            self.title
        );
        self.map.get(field).map(|value| Entry {
            field: field.to_owned(),
            table: self.title.clone(),
            value,
            base: self.base,
        })
    }

    /// A field that must be there.
    pub(super) fn required(&self, field: &str) -> Checked<Entry<'a>> {
        self.optional(field).ok_or_else(|| self.missing(field))
    }

    /// The fault that a field is missing.
    pub(super) fn missing(&self, field: &str) -> Box<Problem> {
        let example = self.fields.iter().find(|(name, _)| *name == field);
        let example = match example.map_or("", |(_, example)| *example) {
            lines if lines.starts_with("[[") || lines.contains('\n') => lines.to_owned(),
            value => format!("{field} = {value}"),
        };
        Problem::new(
            Fault::MissingField {
                field: field.to_owned(),
                table: self.title.clone(),
                example,
            },
            self.place,
        )
    }

    /// A number that must be there.
    pub(super) fn number(&self, field: &str, allowed: &Allowed) -> Checked<f64> {
        self.required(field)?.number(allowed)
    }

    /// A number that may be left out.
    pub(super) fn number_or(&self, field: &str, allowed: &Allowed, default: f64) -> Checked<f64> {
        self.optional(field)
            .map_or(Ok(default), |entry| entry.number(allowed))
    }

    /// An angle in degrees that may be left out, in rad.
    pub(super) fn angle_or(&self, field: &str, allowed: &Allowed, default: f64) -> Checked<f64> {
        self.number_or(field, allowed, default).map(f64::to_radians)
    }

    /// A number without default that may be left out.
    pub(super) fn number_if(&self, field: &str, allowed: &Allowed) -> Checked<Option<f64>> {
        self.optional(field)
            .map(|entry| entry.number(allowed))
            .transpose()
    }

    /// A whole number that may be left out.
    pub(super) fn whole_or(&self, field: &str, allowed: &Allowed, default: u64) -> Checked<u64> {
        self.optional(field)
            .map_or(Ok(default), |entry| entry.whole(allowed))
    }

    /// A whole number of moderate size that may be left out.
    pub(super) fn count_or(&self, field: &str, allowed: &Allowed, default: u32) -> Checked<u32> {
        let count = self.whole_or(field, allowed, u64::from(default))?;
        Ok(u32::try_from(count).unwrap_or(u32::MAX))
    }

    /// A text that must be there.
    pub(super) fn text(&self, field: &str) -> Checked<String> {
        self.required(field)?.text().map(str::to_owned)
    }

    /// A table inside this one, opened; `None` if it is left out.
    pub(super) fn table(&self, field: &str, fields: Fields) -> Checked<Option<Table<'a>>> {
        let Some(entry) = self.optional(field) else {
            return Ok(None);
        };
        let title = if self.title.starts_with('[') {
            format!("{field} of {}", self.title)
        } else {
            format!("[{field}]")
        };
        entry.table(fields, title).map(Some)
    }

    /// The tables of a list, each opened and called by its name if it has one; empty if left out.
    pub(super) fn tables(
        &self,
        field: &str,
        header: &str,
        fields: Fields,
    ) -> Checked<Vec<Table<'a>>> {
        let Some(entry) = self.optional(field) else {
            return Ok(Vec::new());
        };
        let mut tables = Vec::new();
        for (number, item) in entry.list()?.into_iter().enumerate() {
            let name = match item.value.get_ref() {
                DeValue::Table(map) => map.get("name").and_then(|name| name.get_ref().as_str()),
                _ => None,
            };
            let title = match name {
                Some(name) => format!("{header} \"{name}\""),
                None => format!("{header} number {}", number + 1),
            };
            tables.push(item.table(fields, title)?);
        }
        Ok(tables)
    }

    /// The fault that a field does not go with the rest.
    pub(super) fn disagreement(&self, field: &str, reason: String, remedy: String) -> Box<Problem> {
        match self.optional(field) {
            Some(entry) => entry.disagreement(reason, remedy),
            None => Problem::new(
                Fault::Disagreement {
                    field: field.to_owned(),
                    table: self.title.clone(),
                    value: "left out".into(),
                    reason,
                    remedy,
                },
                self.place,
            ),
        }
    }
}

/// One value of a table.
#[derive(Clone)]
pub(super) struct Entry<'a> {
    field: String,
    table: String,
    value: &'a Spanned<DeValue<'a>>,
    base: usize,
}

impl<'a> Entry<'a> {
    /// Where the value stands.
    pub(super) fn place(&self) -> Place {
        shifted(&self.value.span(), self.base)
    }

    fn wrong_type(&self, expected: &str) -> Box<Problem> {
        let (found, kind) = shown(self.value.get_ref());
        Problem::new(
            Fault::WrongType {
                field: self.field.clone(),
                table: self.table.clone(),
                expected: expected.to_owned(),
                found,
                kind,
            },
            self.place(),
        )
    }

    /// A finite number in a range.
    pub(super) fn number(&self, allowed: &Allowed) -> Checked<f64> {
        let value: Option<f64> = match self.value.get_ref() {
            DeValue::Float(float) => float.as_str().parse().ok(),
            DeValue::Integer(integer) => whole(integer).map(|value| value as f64),
            _ => None,
        };
        let value = value.ok_or_else(|| {
            let unit = if allowed.unit.is_empty() {
                String::new()
            } else {
                format!(" in {}", allowed.unit)
            };
            self.wrong_type(&format!("a number{unit} ({allowed})"))
        })?;
        if allowed.holds(value) {
            Ok(value)
        } else {
            Err(Problem::new(
                Fault::OutOfRange {
                    field: self.field.clone(),
                    table: self.table.clone(),
                    value: allowed.say(value),
                    allowed: allowed.to_string(),
                    suspicion: allowed.suspicion(value),
                },
                self.place(),
            ))
        }
    }

    /// A whole number in a range.
    pub(super) fn whole(&self, allowed: &Allowed) -> Checked<u64> {
        let DeValue::Integer(integer) = self.value.get_ref() else {
            return Err(self.wrong_type(&format!("a whole number ({allowed})")));
        };
        self.number(allowed)?;
        whole(integer)
            .and_then(|value| u64::try_from(value).ok())
            .ok_or_else(|| self.wrong_type(&format!("a whole number ({allowed})")))
    }

    /// A text.
    pub(super) fn text(&self) -> Checked<&'a str> {
        match self.value.get_ref() {
            DeValue::String(text) => Ok(text.as_ref()),
            _ => Err(self.wrong_type("a text in double quotes")),
        }
    }

    /// The entries of a list.
    pub(super) fn list(&self) -> Checked<Vec<Entry<'a>>> {
        let DeValue::Array(array) = self.value.get_ref() else {
            return Err(self.wrong_type("a list in square brackets"));
        };
        let entry = |(index, value): (usize, &'a Spanned<DeValue<'a>>)| Entry {
            field: format!("{} entry {}", self.field, index + 1),
            table: self.table.clone(),
            value,
            base: self.base,
        };
        Ok(array.iter().enumerate().map(entry).collect())
    }

    /// The entries of a list that has at least `needed`.
    pub(super) fn list_of(&self, needed: usize, remedy: &str) -> Checked<Vec<Entry<'a>>> {
        let list = self.list()?;
        if list.len() >= needed {
            return Ok(list);
        }
        Err(Problem::new(
            Fault::TooFew {
                field: self.field.clone(),
                table: self.table.clone(),
                found: list.len(),
                needed,
                remedy: remedy.to_owned(),
            },
            self.place(),
        ))
    }

    /// A list of exactly `N` numbers, each in its range.
    pub(super) fn numbers<const N: usize>(&self, allowed: &[Allowed; N]) -> Checked<[f64; N]> {
        let list = self.list()?;
        if list.len() != N {
            return Err(self.wrong_type(&format!("a list of {N} numbers")));
        }
        let mut numbers = [0.0; N];
        for ((number, entry), allowed) in numbers.iter_mut().zip(list).zip(allowed) {
            *number = entry.number(allowed)?;
        }
        Ok(numbers)
    }

    /// A point in mm.
    pub(super) fn point(&self) -> Checked<Vector3<f64>> {
        self.numbers(&[allowed::COORDINATE; 3]).map(Vector3::from)
    }

    /// A list of pairs (distance in mm, value) whose distances rise; at least one.
    pub(super) fn profile(&self, value: &Allowed) -> Checked<Vec<(f64, f64)>> {
        let mut profile: Vec<(f64, f64)> = Vec::new();
        let remedy = format!("give pairs [distance in mm, value in {}]", value.unit);
        for entry in self.list_of(1, &remedy)? {
            let [station, value] = entry.numbers(&[allowed::STATION, *value])?;
            if let Some((before, _)) = profile.last()
                && *before >= station
            {
                return Err(entry.disagreement(
                    format!("the distance {station} mm does not lie beyond {before} mm before it"),
                    "list the pairs in rising order of distance, each distance once".into(),
                ));
            }
            profile.push((station, value));
        }
        Ok(profile)
    }

    /// One of the words of a list.
    pub(super) fn choice<T: Copy>(&self, kind: &'static str, words: &[(&str, T)]) -> Checked<T> {
        let text = self.text()?;
        match words.iter().find(|(word, _)| *word == text) {
            Some((_, meaning)) => Ok(*meaning),
            None => {
                let known: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
                Err(self.unknown(kind, &known))
            }
        }
    }

    /// The fault that the text is not one of the words known.
    pub(super) fn unknown(&self, kind: &'static str, known: &[&str]) -> Box<Problem> {
        let value = self.value.get_ref().as_str().unwrap_or_default();
        Problem::new(
            Fault::UnknownValue {
                field: self.field.clone(),
                table: self.table.clone(),
                value: value.to_owned(),
                kind,
                near: nearest(value, known.iter().copied()).map(str::to_owned),
                known: known.iter().copied().map(str::to_owned).collect(),
            },
            self.place(),
        )
    }

    /// The value as a table whose fields are free.
    pub(super) fn free_table(&self) -> Option<&'a DeTable<'a>> {
        self.value.get_ref().as_table()
    }

    /// An entry of this value seen as a table whose fields are free.
    pub(super) fn inside(&self, key: &str) -> Option<Entry<'a>> {
        self.free_table()?.get(key).map(|value| Entry {
            field: format!("{}.{key}", self.field),
            table: self.table.clone(),
            value,
            base: self.base,
        })
    }

    /// The value as a table, opened.
    pub(super) fn table(&self, fields: Fields, title: String) -> Checked<Table<'a>> {
        match self.value.get_ref() {
            DeValue::Table(map) => Table::open(map, self.place(), self.base, fields, title),
            _ => Err(self.wrong_type("a table")),
        }
    }

    /// The fault that the value does not go with the rest.
    pub(super) fn disagreement(&self, reason: String, remedy: String) -> Box<Problem> {
        Problem::new(
            Fault::Disagreement {
                field: self.field.clone(),
                table: self.table.clone(),
                value: shown(self.value.get_ref()).0,
                reason,
                remedy,
            },
            self.place(),
        )
    }
}

fn whole(integer: &DeInteger<'_>) -> Option<i128> {
    i128::from_str_radix(integer.as_str(), integer.radix()).ok()
}

fn shifted(span: &std::ops::Range<usize>, base: usize) -> Place {
    Place {
        start: span.start + base,
        end: span.end + base,
    }
}

/// A value as messages show it, and the name of its type.
fn shown(value: &DeValue<'_>) -> (String, &'static str) {
    match value {
        DeValue::String(text) => (format!("\"{text}\""), "a text"),
        DeValue::Integer(integer) => (integer.to_string(), "a whole number"),
        DeValue::Float(float) => (float.to_string(), "a number"),
        DeValue::Boolean(truth) => (truth.to_string(), "true or false"),
        DeValue::Datetime(date) => (date.to_string(), "a date"),
        DeValue::Array(array) => (format!("[..] of {} entries", array.len()), "a list"),
        DeValue::Table(_) => ("{..}".into(), "a table"),
    }
}
