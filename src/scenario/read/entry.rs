//! One value.

use nalgebra::Vector3;
use toml::Spanned;
use toml::de::{DeInteger, DeTable, DeValue};

use super::{Fields, Table, shifted};
use crate::scenario::allowed::{self, Allowed};
use crate::scenario::error::{Checked, Fault, Problem};
use crate::scenario::model::Place;
use crate::scenario::near::nearest;

/// One value of a table.
#[derive(Clone)]
pub(in crate::scenario) struct Entry<'a> {
    pub(super) field: String,
    pub(super) table: String,
    pub(super) value: &'a Spanned<DeValue<'a>>,
    pub(super) base: usize,
}

impl<'a> Entry<'a> {
    /// The field under which the value stands.
    pub(in crate::scenario) fn name(&self) -> &str {
        &self.field
    }

    /// Where the value stands.
    pub(in crate::scenario) fn place(&self) -> Place {
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
    pub(in crate::scenario) fn number(&self, allowed: &Allowed) -> Checked<f64> {
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
    pub(in crate::scenario) fn whole(&self, allowed: &Allowed) -> Checked<u64> {
        let DeValue::Integer(integer) = self.value.get_ref() else {
            return Err(self.wrong_type(&format!("a whole number ({allowed})")));
        };
        self.number(allowed)?;
        whole(integer)
            .and_then(|value| u64::try_from(value).ok())
            .ok_or_else(|| self.wrong_type(&format!("a whole number ({allowed})")))
    }

    /// A text.
    pub(in crate::scenario) fn text(&self) -> Checked<&'a str> {
        match self.value.get_ref() {
            DeValue::String(text) => Ok(text.as_ref()),
            _ => Err(self.wrong_type("a text in double quotes")),
        }
    }

    /// The entries of a list.
    pub(in crate::scenario) fn list(&self) -> Checked<Vec<Entry<'a>>> {
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
    pub(in crate::scenario) fn list_of(
        &self,
        needed: usize,
        remedy: &str,
    ) -> Checked<Vec<Entry<'a>>> {
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
    pub(in crate::scenario) fn numbers<const N: usize>(
        &self,
        allowed: &[Allowed; N],
    ) -> Checked<[f64; N]> {
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
    pub(in crate::scenario) fn point(&self) -> Checked<Vector3<f64>> {
        self.numbers(&[allowed::COORDINATE; 3]).map(Vector3::from)
    }

    /// A list of pairs (distance in mm, value) whose distances rise; at least one.
    pub(in crate::scenario) fn profile(&self, value: &Allowed) -> Checked<Vec<(f64, f64)>> {
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
    pub(in crate::scenario) fn choice<T: Copy>(
        &self,
        kind: &'static str,
        words: &[(&str, T)],
    ) -> Checked<T> {
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
    pub(in crate::scenario) fn unknown(&self, kind: &'static str, known: &[&str]) -> Box<Problem> {
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
    pub(in crate::scenario) fn free_table(&self) -> Option<&'a DeTable<'a>> {
        self.value.get_ref().as_table()
    }

    /// An entry of this value seen as a table whose fields are free.
    pub(in crate::scenario) fn inside(&self, key: &str) -> Option<Entry<'a>> {
        self.free_table()?.get(key).map(|value| Entry {
            field: format!("{}.{key}", self.field),
            table: self.table.clone(),
            value,
            base: self.base,
        })
    }

    /// The value as a table, opened.
    pub(in crate::scenario) fn table(&self, fields: Fields, title: String) -> Checked<Table<'a>> {
        match self.value.get_ref() {
            DeValue::Table(map) => Table::open(map, self.place(), self.base, fields, title),
            _ => Err(self.wrong_type("a table")),
        }
    }

    /// The fault that the value does not go with the rest.
    pub(in crate::scenario) fn disagreement(&self, reason: String, remedy: String) -> Box<Problem> {
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
