//! A place in a scenario, named by keys: finding it, changing it, and the nearest one that exists.

use toml::Value;

use crate::scenario::nearest;

/// One key of a path.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Key {
    /// A field, or an entry of a list by name or by number from 1.
    One(String),
    /// Every entry of a list.
    All,
}

impl Key {
    /// The key as it is written, without quotes.
    fn text(&self) -> &str {
        match self {
            Self::One(key) => key,
            Self::All => "*",
        }
    }

    /// A path with the key behind it.
    fn behind(&self, path: String) -> String {
        match self {
            Self::One(key) => with_key(path, key),
            Self::All => path + ".*",
        }
    }
}

/// A path such as `wire."workhorse 1 gf".bend.length_mm`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScenarioPath {
    keys: Vec<Key>,
}

impl ScenarioPath {
    /// Reads a path: keys joined by dots, in quotes where they hold a dot or a space.
    ///
    /// # Errors
    ///
    /// What is wrong with it, in words.
    pub fn parse(text: &str) -> Result<Self, String> {
        let mut keys = Vec::new();
        let mut rest = text.trim();
        loop {
            let quote = rest.chars().next().filter(|c| matches!(c, '"' | '\''));
            let (key, behind) = match quote {
                Some(quote) => {
                    let (key, behind) = rest[1..]
                        .split_once(quote)
                        .ok_or_else(|| format!("the path {text} has a quote without its end"))?;
                    (Key::One(key.to_owned()), behind)
                }
                None => {
                    let end = rest.find('.').unwrap_or(rest.len());
                    let key = match rest[..end].trim() {
                        "" => return Err(format!("the path {text} has an empty key")),
                        "*" => Key::All,
                        key => Key::One(key.to_owned()),
                    };
                    (key, &rest[end..])
                }
            };
            keys.push(key);
            match behind.strip_prefix('.') {
                Some(more) => rest = more,
                None if behind.is_empty() => return Ok(Self { keys }),
                None => return Err(format!("the path {text} needs a dot before {behind}")),
            }
        }
    }

    /// The keys, if all are plain.
    #[must_use]
    pub fn plain<'a>(&'a self) -> Option<Vec<&'a str>> {
        let plain = |key: &'a Key| match key {
            Key::One(key) => Some(key.as_str()),
            Key::All => None,
        };
        self.keys.iter().map(plain).collect()
    }

    /// Whether a value stands there already.
    #[must_use]
    pub fn exists(&self, root: &Value) -> bool {
        !self.values(root).is_empty()
    }

    /// Sets the value at every place that the path names; a field that is not there yet is added
    /// to its table. Returns how many places there are: 0 where a key before the last is not
    /// found.
    pub fn set(&self, root: &mut Value, value: &Value) -> usize {
        change(root, &self.keys, &mut |table, key| {
            table.insert(key.to_owned(), value.clone());
        })
    }

    /// The values that stand there.
    #[must_use]
    pub fn values<'v>(&self, root: &'v Value) -> Vec<&'v Value> {
        let mut found = Vec::new();
        values(root, &self.keys, &mut found);
        found
    }

    /// Removes the field at every place that the path names. Returns how many places there were.
    pub fn remove(&self, root: &mut Value) -> usize {
        let found = self.values(root).len();
        change(root, &self.keys, &mut |table, key| {
            table.remove(key);
        });
        found
    }
}

/// What is known of a path that leads nowhere.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Astray {
    /// The table in it that is not there, as a path, if it is not the last key that is wrong.
    pub missing: Option<String>,
    /// The path that may be meant.
    pub near: Option<String>,
}

impl ScenarioPath {
    /// What is known of this path in a document where it leads nowhere. `field` is the known field most
    /// like the last key, if the reader of the scenario has told one.
    #[must_use]
    pub fn astray(&self, root: &Value, field: Option<&str>) -> Astray {
        let mut here = root;
        let mut before = String::new();
        for (number, key) in self.keys.iter().enumerate() {
            let Key::One(key) = key else { break };
            let inner = match here {
                Value::Table(table) => table.get(key),
                Value::Array(list) => entry(list, key).map(|index| &list[index]),
                _ => None,
            };
            if let Some(inner) = inner {
                here = inner;
                before = joined(&before, key);
                continue;
            }
            let is_last = number + 1 == self.keys.len();
            let known: Vec<String> = match here {
                Value::Table(table) => table.keys().cloned().collect(),
                Value::Array(list) => list.iter().filter_map(name).map(str::to_owned).collect(),
                _ => Vec::new(),
            };
            if let Some(parts) = self.dotted(number, &known) {
                let name = self.keys[number..number + parts].iter().map(Key::text);
                let name = joined(&before, &name.collect::<Vec<_>>().join("."));
                let rest = self.keys[number + parts..].iter();
                return Astray {
                    missing: None,
                    near: Some(rest.fold(name, |path, key| key.behind(path))),
                };
            }
            let of_reader = field.filter(|_| is_last).map(str::to_owned);
            let beside = || nearest(key, known.iter().map(String::as_str)).map(str::to_owned);
            let rest = &self.keys[number + 1..];
            let near = of_reader.or_else(beside).map(|near| {
                let path = joined(&before, &near);
                rest.iter().fold(path, |path, key| key.behind(path))
            });
            return Astray {
                missing: (!is_last).then(|| joined(&before, key)),
                near: near.or_else(|| self.ending_alike(root)),
            };
        }
        Astray::default()
    }

    /// How many keys from `first` on are one of the known names, which has dots and stands without its
    /// quotes.
    fn dotted(&self, first: usize, known: &[String]) -> Option<usize> {
        let is_name = |parts: &usize| {
            let keys = self.keys[first..first + parts].iter().map(Key::text);
            known.contains(&keys.collect::<Vec<_>>().join("."))
        };
        let most = known.iter().map(|name| name.split('.').count()).max();
        let left = self.keys.len() - first;
        (2..=left.min(most.unwrap_or(0))).find(is_name)
    }

    /// The first path that ends in the same field.
    fn ending_alike(&self, root: &Value) -> Option<String> {
        let Some(Key::One(last)) = self.keys.last() else {
            return None;
        };
        let mut known = Vec::new();
        list(root, "", &mut known);
        let ending = format!(".{}", joined("", last));
        known.into_iter().find(|path| path.ends_with(&ending))
    }
}

/// A path with a key behind it, in quotes where it needs them.
fn joined(before: &str, key: &str) -> String {
    with_key(before.to_owned(), key)
}

fn with_key(mut path: String, key: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    if !path.is_empty() {
        path.push('.');
    }
    if key.chars().all(plain) {
        path.push_str(key);
    } else {
        path.extend(["\"", key, "\""]);
    }
    path
}

fn values<'v>(value: &'v Value, keys: &[Key], found: &mut Vec<&'v Value>) {
    match (value, keys) {
        (_, []) => found.push(value),
        (Value::Table(table), [Key::One(key), rest @ ..]) => {
            if let Some(inner) = table.get(key) {
                values(inner, rest, found);
            }
        }
        (Value::Array(list), [Key::One(key), rest @ ..]) => {
            if let Some(index) = entry(list, key) {
                values(&list[index], rest, found);
            }
        }
        (Value::Array(list), [Key::All, rest @ ..]) => {
            list.iter().for_each(|inner| values(inner, rest, found));
        }
        _ => {}
    }
}

fn change(value: &mut Value, keys: &[Key], act: &mut dyn FnMut(&mut toml::Table, &str)) -> usize {
    match (value, keys) {
        (Value::Table(table), [Key::One(key)]) => {
            act(table, key);
            1
        }
        (Value::Table(table), [Key::One(key), rest @ ..]) => match table.get_mut(key) {
            Some(inner) => change(inner, rest, act),
            None => 0,
        },
        (Value::Array(list), [Key::One(key)]) => match entry(list, key) {
            // An entry of a list of numbers: changed through a table of one field.
            Some(index) => {
                let mut table = toml::Table::new();
                act(&mut table, key);
                match table.remove(key) {
                    Some(new) => list[index] = new,
                    None => drop(list.remove(index)),
                }
                1
            }
            None => 0,
        },
        (Value::Array(list), [Key::One(key), rest @ ..]) => match entry(list, key) {
            Some(index) => change(&mut list[index], rest, act),
            None => 0,
        },
        (Value::Array(list), [Key::All, rest @ ..]) if !rest.is_empty() => {
            list.iter_mut().map(|inner| change(inner, rest, act)).sum()
        }
        _ => 0,
    }
}

/// The entry of a list that a key names: by its name, by its kind where it has no name, or by
/// its number from 1.
fn entry(list: &[Value], key: &str) -> Option<usize> {
    let called = |value: &Value| name(value) == Some(key);
    list.iter().position(called).or_else(|| {
        let number: usize = key.parse().ok()?;
        (1..=list.len()).contains(&number).then(|| number - 1)
    })
}

/// What an entry of a list is called.
fn name(value: &Value) -> Option<&str> {
    let table = value.as_table()?;
    let field = ["name", "kind", "branch"]
        .into_iter()
        .find_map(|field| table.get(field))?;
    field.as_str()
}

/// All paths of values below `value`.
fn list(value: &Value, before: &str, found: &mut Vec<String>) {
    match value {
        Value::Table(table) => {
            for (key, inner) in table {
                list(inner, &joined(before, key), found);
            }
        }
        Value::Array(entries) if entries.iter().any(Value::is_table) => {
            for (index, inner) in entries.iter().enumerate() {
                let key = name(inner).map_or_else(|| (index + 1).to_string(), str::to_owned);
                list(inner, &joined(before, &key), found);
            }
        }
        _ => found.push(before.to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn document() -> Value {
        Value::Table(
            "[vessel]\n[[vessel.branch]]\nname = \"side\"\ntake_off_deg = 90\n\
             pieces = [{ shape = \"straight\", length_mm = 30 }]\n\
             [[wire]]\nname = \"soft 0.3 gf\"\nbend = { length_mm = 2 }\n\
             [[wire]]\nname = \"firm\"\nbend = { length_mm = 3 }\n\
             [[technique]]\nkind = \"push\"\n"
                .parse()
                .unwrap(),
        )
    }

    fn set(path: &str) -> (usize, String) {
        let mut document = document();
        let path = ScenarioPath::parse(path).unwrap();
        let places = path.set(&mut document, &Value::Float(7.5));
        (places, toml::to_string(&document).unwrap())
    }

    #[test]
    fn a_path_names_one_place_by_its_keys_and_names() {
        for path in [
            "vessel.branch.side.take_off_deg",
            "wire.\"soft 0.3 gf\".bend.length_mm",
            "vessel.branch.side.pieces.1.length_mm",
            "wire.2.bend.length_mm",
            "technique.push.attempts",
        ] {
            let (places, text) = set(path);
            assert_eq!((places, text.matches("7.5").count()), (1, 1), "{path}");
        }
    }

    #[test]
    fn a_star_names_every_entry_of_a_list() {
        let (places, text) = set("wire.*.bend.length_mm");
        assert_eq!((places, text.matches("7.5").count()), (2, 2));
    }

    #[test]
    fn a_path_that_leads_nowhere_changes_nothing_and_has_a_neighbour() {
        let (places, text) = set("vessel.branch.sid.take_off_deg");
        assert_eq!((places, text.matches("7.5").count()), (0, 0));
    }

    #[test]
    fn a_path_that_leads_nowhere_is_told_what_is_missing_and_what_may_be_meant() {
        let astray = |path: &str, field: Option<&str>| {
            let found = ScenarioPath::parse(path)
                .unwrap()
                .astray(&document(), field);
            (
                found.missing.unwrap_or_default(),
                found.near.unwrap_or_default(),
            )
        };
        let said = |missing: &str, near: &str| (missing.to_owned(), near.to_owned());
        let side = "vessel.branch.side.take_off_deg";
        assert_eq!(
            astray("vessel.branch.side.takeoff_deg", None),
            said("", side)
        );
        assert_eq!(
            astray("vessel.branch.sied.take_off_deg", None),
            said("vessel.branch.sied", side)
        );
        assert_eq!(astray("vessel.bed.tissue", None), said("vessel.bed", ""));
        assert_eq!(
            astray("wire.firm.fricton", Some("friction")),
            said("", "wire.firm.friction")
        );
        assert_eq!(astray("take_off_deg", None), said("", side));
        assert_eq!(
            astray("wire.soft 0.3 gf.bend.length_mm", None),
            said("", "wire.\"soft 0.3 gf\".bend.length_mm")
        );
        assert_eq!(
            astray("wire.'soft 0.3 gf'.bned.*", None),
            said("wire.\"soft 0.3 gf\".bned", "wire.\"soft 0.3 gf\".bend.*")
        );
    }

    #[test]
    fn broken_paths_are_refused() {
        for text in ["", "a..b", "a.'b", "a.\"b\"c"] {
            assert!(ScenarioPath::parse(text).is_err(), "{text}");
        }
    }
}
