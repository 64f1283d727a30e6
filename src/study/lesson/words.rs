//! A place in a scenario, and what stands there, in the words of people who do not read scenario files.

use toml::Value;

use crate::scenario::sweep::model::shown;
use crate::study::sweep::ScenarioPath;
use crate::units;

/// Fields whose name without its unit is no good name.
const NAMED: [(&str, &str); 6] = [
    ("take_off_deg", "take-off angle"),
    ("sight", "view"),
    ("tip_load_gf", "tip load"),
    ("wall_force_limit_mN", "limit of the wall force"),
    ("max_fed_mm", "length of wire that may be fed"),
    ("beyond_mm", "distance beyond the mouth"),
];

/// Lists of a scenario, and what one entry is called.
const LISTS: [(&str, &str); 3] = [
    ("pieces", "piece"),
    ("catheters", "catheter"),
    ("obstacles", "obstacle"),
];

/// What stands at a path, such as `tip load of wire "stiff 3 gf"`; the path itself where it cannot be read.
pub(super) fn place(path: &str) -> String {
    let parsed = ScenarioPath::parse(path);
    let keys = parsed.as_ref().ok().and_then(ScenarioPath::plain);
    let Some((field, holders)) = keys.as_deref().and_then(<[&str]>::split_last) else {
        return path.to_owned();
    };
    let mut words = field_words(field);
    let mut rest = holders;
    while let Some((last, before)) = rest.split_last() {
        let list = before.last().filter(|list| is_list(list));
        let (holder, left) = match list {
            Some(list) => (
                format!("{} {}", entry_word(list), named(last)),
                &before[..before.len() - 1],
            ),
            // A vessel has its branches, and they say enough.
            None if before.is_empty() && *last == "vessel" && rest.len() < holders.len() => break,
            None => (format!("the {}", field_words(last)), before),
        };
        words = format!("{words} of {holder}");
        rest = left;
    }
    words
}

/// A value as a person writes it, with the unit of its field.
pub(super) fn value(path: &str, value: &Value) -> String {
    let unit = match units::of_field(path).1 {
        "deg" => "degrees",
        unit => unit,
    };
    let is_sight = path.ends_with(".sight") && value.as_str() == Some("full");
    let value = if is_sight {
        "everything, in space".to_owned()
    } else {
        shown(value)
    };
    if unit.is_empty() {
        value
    } else {
        format!("{value} {unit}")
    }
}

fn is_list(key: &str) -> bool {
    ["wire", "branch", "technique", "catheter", "obstacle"].contains(&key)
        || LISTS.iter().any(|(list, _)| *list == key)
}

fn entry_word(list: &str) -> &str {
    let found = LISTS.iter().find(|(name, _)| *name == list);
    found.map_or(list, |(_, entry)| entry)
}

/// The name or the number of an entry.
fn named(key: &str) -> String {
    if key.chars().all(|c| c.is_ascii_digit()) {
        key.to_owned()
    } else {
        format!("\"{key}\"")
    }
}

fn field_words(field: &str) -> String {
    if let Some((_, words)) = NAMED.iter().find(|(name, _)| *name == field) {
        return (*words).to_owned();
    }
    let (ending, _) = units::of_field(field);
    field[..field.len() - ending.len()].replace('_', " ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_told_in_words() {
        for (path, words) in [
            (
                "wire.\"stiff 3 gf\".tip_load_gf",
                "tip load of wire \"stiff 3 gf\"",
            ),
            (
                "vessel.branch.side.take_off_deg",
                "take-off angle of branch \"side\"",
            ),
            (
                "vessel.branch.parent.pieces.2.radius_mm",
                "radius of piece 2 of branch \"parent\"",
            ),
            (
                "wire.\"workhorse 1 gf\".bend.length_mm",
                "length of the bend of wire \"workhorse 1 gf\"",
            ),
            ("technique.redirect.sight", "view of technique \"redirect\""),
            (
                "target.max_fed_mm",
                "length of wire that may be fed of the target",
            ),
            ("solver.step_mm", "step of the solver"),
            ("vessel.friction", "friction of the vessel"),
            ("wire.*.tip_load_gf", "wire.*.tip_load_gf"),
        ] {
            assert_eq!(place(path), words);
        }
        assert_eq!(value("a.b_deg", &Value::Integer(90)), "90 degrees");
        assert_eq!(
            value(
                "technique.redirect.sight",
                &Value::String("full".to_owned())
            ),
            "everything, in space"
        );
    }
}
