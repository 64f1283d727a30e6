//! An open table.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::{Entry, shifted};
use crate::scenario::allowed::Allowed;
use crate::scenario::error::{Checked, Fault, Problem};
use crate::scenario::model::Place;
use crate::scenario::near::nearest;
use crate::shown::cut;

/// Field names of a table, each with an example: a value, or whole lines where it begins with
/// a bracket.
pub(in crate::scenario) type Fields = &'static [(&'static str, &'static str)];

/// Most tables of one kind in a file.
const MOST_TABLES: usize = 2500;
/// Most wires: matching one to its tip load takes some milliseconds.
const MOST_WIRES: usize = 500;

/// An open table whose fields are all known.
pub(in crate::scenario) struct Table<'a> {
    map: &'a DeTable<'a>,
    fields: Fields,
    /// How messages call the table, such as `[[wire]] "soft"`.
    pub(in crate::scenario) title: String,
    /// Where the table is described: its header.
    pub(in crate::scenario) place: Place,
    base: usize,
}

impl<'a> Table<'a> {
    /// The root of a file whose places begin at `base`.
    pub(in crate::scenario) fn root(
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

    pub(super) fn open(
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
    pub(in crate::scenario) fn has(&self, field: &str) -> bool {
        self.map.contains_key(field)
    }

    /// A field that may be left out.
    pub(in crate::scenario) fn optional(&self, field: &str) -> Option<Entry<'a>> {
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
    pub(in crate::scenario) fn required(&self, field: &str) -> Checked<Entry<'a>> {
        self.optional(field).ok_or_else(|| self.missing(field))
    }

    /// The fault that a field is missing.
    pub(in crate::scenario) fn missing(&self, field: &str) -> Box<Problem> {
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
    pub(in crate::scenario) fn number(&self, field: &str, allowed: &Allowed) -> Checked<f64> {
        self.required(field)?.number(allowed)
    }

    /// A number that may be left out.
    pub(in crate::scenario) fn number_or(
        &self,
        field: &str,
        allowed: &Allowed,
        default: f64,
    ) -> Checked<f64> {
        self.optional(field)
            .map_or(Ok(default), |entry| entry.number(allowed))
    }

    /// An angle in degrees that may be left out, in rad.
    pub(in crate::scenario) fn angle_or(
        &self,
        field: &str,
        allowed: &Allowed,
        default: f64,
    ) -> Checked<f64> {
        self.number_or(field, allowed, default).map(f64::to_radians)
    }

    /// A number without default that may be left out.
    pub(in crate::scenario) fn number_if(
        &self,
        field: &str,
        allowed: &Allowed,
    ) -> Checked<Option<f64>> {
        self.optional(field)
            .map(|entry| entry.number(allowed))
            .transpose()
    }

    /// A whole number that may be left out.
    pub(in crate::scenario) fn whole_or(
        &self,
        field: &str,
        allowed: &Allowed,
        default: u64,
    ) -> Checked<u64> {
        self.optional(field)
            .map_or(Ok(default), |entry| entry.whole(allowed))
    }

    /// A whole number of moderate size that may be left out.
    pub(in crate::scenario) fn count_or(
        &self,
        field: &str,
        allowed: &Allowed,
        default: u32,
    ) -> Checked<u32> {
        let count = self.whole_or(field, allowed, u64::from(default))?;
        Ok(u32::try_from(count).unwrap_or(u32::MAX))
    }

    /// A text that must be there.
    pub(in crate::scenario) fn text(&self, field: &str) -> Checked<String> {
        self.required(field)?.text().map(str::to_owned)
    }

    /// A table inside this one, opened; `None` if it is left out.
    pub(in crate::scenario) fn table(
        &self,
        field: &str,
        fields: Fields,
    ) -> Checked<Option<Table<'a>>> {
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
    pub(in crate::scenario) fn tables(
        &self,
        field: &str,
        header: &str,
        fields: Fields,
    ) -> Checked<Vec<Table<'a>>> {
        let Some(entry) = self.optional(field) else {
            return Ok(Vec::new());
        };
        let list = entry.list()?;
        let most = if header == "[[wire]]" {
            MOST_WIRES
        } else {
            MOST_TABLES
        };
        if list.len() > most {
            return Err(Problem::new(
                Fault::TooMuch {
                    what: format!("the tables {header} are"),
                    found: list.len(),
                    allowed: most,
                    remedy: "leave out what is not needed; a large tree may stand in a file of \
                             its own, named by file in [vessel]"
                        .into(),
                },
                entry.place(),
            ));
        }
        let mut tables = Vec::new();
        for (number, item) in list.into_iter().enumerate() {
            let name = match item.value.get_ref() {
                DeValue::Table(map) => map.get("name").and_then(|name| name.get_ref().as_str()),
                _ => None,
            };
            let title = match name {
                Some(name) => format!("{header} \"{}\"", cut(name)),
                None => format!("{header} number {}", number + 1),
            };
            tables.push(item.table(fields, title)?);
        }
        Ok(tables)
    }

    /// The fault that a field does not go with the rest.
    pub(in crate::scenario) fn disagreement(
        &self,
        field: &str,
        reason: String,
        remedy: String,
    ) -> Box<Problem> {
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
