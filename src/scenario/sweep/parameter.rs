//! `[[parameter]]`: what varies and which values it takes.

use super::model::{Distribution, ParameterSpec, TargetPath, Values, number, shown};
use crate::scenario::allowed;
use crate::scenario::error::Checked;
use crate::scenario::read::{Entry, Fields, Table};
use crate::shown::cut;

const PARAMETER: Fields = &[
    ("path", "'wire.*.bend.length_mm'"),
    ("name", "\"bend length\""),
    ("levels", "[1, 2, 3]"),
    ("weights", "[1, 2, 1]"),
    ("low", "1"),
    ("high", "5"),
    ("steps", "5"),
    ("whole", "true"),
    ("distribution", "\"uniform\""),
    ("mean", "3"),
    ("sd", "0.5"),
];
const TARGET: Fields = &[
    ("path", "'vessel.branch.side.diameter_mm'"),
    ("times", "0.7"),
    ("plus", "0"),
];

/// Most levels in a list.
const MOST_LEVELS: usize = 10_000;

/// Endings of field names and the units they stand for, longer ones first.
const UNITS: [(&str, &str); 14] = [
    ("_mN_per_mm2", "mN/mm²"),
    ("_mN_per_mm", "mN/mm"),
    ("_mm_per_s", "mm/s"),
    ("_per_mm", "per mm"),
    ("_N_mm2", "N mm²"),
    ("_GPa", "GPa"),
    ("_deg", "deg"),
    ("_mN", "mN"),
    ("_mm", "mm"),
    ("_cm", "cm"),
    ("_gf", "gf"),
    ("_in", "inch"),
    ("_cv", "CV"),
    ("_GJ", "GJ"),
];

/// Reads every `[[parameter]]`, at least one.
pub(super) fn parameters(root: &Table<'_>, grid: bool) -> Checked<Vec<ParameterSpec>> {
    root.required("parameter")?
        .list_of(1, "add at least one [[parameter]] table")?;
    let mut parameters: Vec<ParameterSpec> = Vec::new();
    for table in root.tables("parameter", "[[parameter]]", PARAMETER)? {
        let parameter = parameter(&table, grid)?;
        if let Some(twin) = parameters.iter().find(|p| p.column == parameter.column) {
            return Err(table.disagreement(
                "name",
                format!(
                    "a parameter before it is called \"{}\" in the tables too",
                    twin.column
                ),
                "give it a name of its own".into(),
            ));
        }
        parameters.push(parameter);
    }
    Ok(parameters)
}

fn parameter(table: &Table<'_>, grid: bool) -> Checked<ParameterSpec> {
    let path = table.required("path")?;
    let targets = targets(&path)?;
    let leaf = targets[0].path.rsplit('.').next().unwrap_or_default();
    let (stem, ending, unit) = split_unit(leaf);
    let label = match table.optional("name") {
        None => from_path(&targets[0].path, stem),
        Some(entry) => {
            let text = entry.text()?;
            let plain = |c: char| c.is_ascii_alphanumeric() || " -_".contains(c);
            if text.is_empty() || text.len() > 40 || !text.chars().all(plain) {
                return Err(entry.disagreement(
                    "allowed are 1 to 40 letters, digits, spaces and dashes".into(),
                    "choose a short name such as \"bend length\"".into(),
                ));
            }
            text.strip_suffix(ending).unwrap_or(text).replace('_', " ")
        }
    };
    let values = values(table, grid)?;
    let text = matches!(&values, Values::Listed { levels, .. } if levels.iter().any(|l| number(l).is_none()));
    let column = label.to_lowercase().replace([' ', '-'], "_") + ending;
    Ok(ParameterSpec {
        column,
        label,
        unit: if text { String::new() } else { unit.to_owned() },
        targets,
        values,
        place: path.place(),
    })
}

/// Name, ending and unit of a field.
fn split_unit(leaf: &str) -> (&str, &'static str, &'static str) {
    let split = |(ending, unit): &(&'static str, &'static str)| {
        leaf.strip_suffix(ending).map(|stem| (stem, *ending, *unit))
    };
    UNITS.iter().find_map(split).unwrap_or((leaf, "", ""))
}

/// The last two keys of a path in words.
fn from_path(path: &str, stem: &str) -> String {
    let plain = |key: &&str| key.chars().all(|c| c.is_ascii_alphanumeric() || c == '_');
    let before = path.rsplit('.').nth(1).filter(plain).unwrap_or_default();
    format!("{before} {stem}").trim().replace('_', " ")
}

fn targets(path: &Entry<'_>) -> Checked<Vec<TargetPath>> {
    let alone = |path: &str| TargetPath {
        path: path.to_owned(),
        times: 1.0,
        plus: 0.0,
    };
    if let Ok(text) = path.text() {
        return Ok(vec![alone(text)]);
    }
    let one = |entry: Entry<'_>| -> Checked<TargetPath> {
        if let Ok(text) = entry.text() {
            return Ok(alone(text));
        }
        let table = entry.table(TARGET, "a path".into())?;
        Ok(TargetPath {
            path: table.text("path")?,
            times: table.number_or("times", &allowed::FREE, 1.0)?,
            plus: table.number_or("plus", &allowed::FREE, 0.0)?,
        })
    };
    path.list_of(1, "give at least one path")?
        .into_iter()
        .map(one)
        .collect()
}

fn values(table: &Table<'_>, grid: bool) -> Checked<Values> {
    if let Some(list) = table.optional("levels") {
        for field in [
            "low",
            "high",
            "steps",
            "distribution",
            "mean",
            "sd",
            "whole",
        ] {
            if table.has(field) {
                return Err(table.disagreement(
                    field,
                    "levels says which values the parameter takes".into(),
                    format!("keep levels, or remove levels and keep {field}"),
                ));
            }
        }
        return listed(table, &list);
    }
    let distribution = distribution(table)?;
    let whole = match table.optional("whole") {
        None => false,
        Some(entry) => entry.free_value().as_bool().ok_or_else(|| {
            entry.disagreement("it must be true or false".into(), "write true".into())
        })?,
    };
    if !grid {
        if table.has("steps") {
            return Err(table.disagreement(
                "steps",
                "only a grid has steps".into(),
                "remove steps, or choose design kind \"grid\"".into(),
            ));
        }
        return Ok(Values::Spread {
            distribution,
            whole,
        });
    }
    let steps = table.required("steps")?.whole(&allowed::STEPS)?;
    let mut levels: Vec<toml::Value> = Vec::new();
    for index in 0..steps {
        let part = index as f64 / (steps - 1) as f64;
        let value = match distribution {
            Distribution::Uniform { low, high } => low + part * (high - low),
            Distribution::LogUniform { low, high } => low * (high / low).powf(part),
            Distribution::Normal { .. } | Distribution::TruncatedNormal { .. } => {
                return Err(table.disagreement(
                    "distribution",
                    "a grid has levels at equal distances, no density".into(),
                    "give levels, or choose another design kind".into(),
                ));
            }
        };
        let level = as_value(value, whole);
        if levels.last() != Some(&level) {
            levels.push(level);
        }
    }
    let weights = vec![1.0 / levels.len() as f64; levels.len()];
    Ok(Values::Listed { levels, weights })
}

/// A number as a value, rounded where only whole numbers count.
#[expect(
    clippy::cast_possible_truncation,
    reason = "the range allowed for parameters ends far below 2^63"
)]
pub(super) fn as_value(value: f64, whole: bool) -> toml::Value {
    if whole {
        toml::Value::Integer(value.round() as i64)
    } else {
        // Twelve digits: a level of 0.3 is written 0.3, not 0.30000000000000004.
        let rounded = format!("{value:.12e}").parse().unwrap_or(value);
        toml::Value::Float(rounded)
    }
}

fn listed(table: &Table<'_>, list: &Entry<'_>) -> Checked<Values> {
    let entries = list.list_of(1, "give at least one level")?;
    if entries.len() > MOST_LEVELS {
        return Err(list.disagreement(
            format!("allowed are up to {MOST_LEVELS} levels"),
            "give low, high and steps, or fewer levels".into(),
        ));
    }
    let mut levels: Vec<toml::Value> = Vec::new();
    for entry in entries {
        let level = entry.free_value();
        if levels.contains(&level) {
            return Err(entry.disagreement(
                format!("the level {} stands before it", cut(shown(&level))),
                "list each level once".into(),
            ));
        }
        if levels
            .first()
            .is_some_and(|first| number(first).is_some() != number(&level).is_some())
        {
            return Err(entry.disagreement(
                "numbers and texts stand in one list".into(),
                "give all levels as numbers, or all as texts in double quotes".into(),
            ));
        }
        levels.push(level);
    }
    let weights = match table.optional("weights") {
        None => vec![1.0; levels.len()],
        Some(entry) => {
            let weights = entry.list()?;
            if weights.len() != levels.len() {
                return Err(entry.disagreement(
                    format!("there are {} levels", levels.len()),
                    "give one weight for each level".into(),
                ));
            }
            let weight = |entry: &Entry<'_>| entry.number(&allowed::FREE_ABOVE_ZERO);
            weights.iter().map(weight).collect::<Checked<Vec<f64>>>()?
        }
    };
    let sum: f64 = weights.iter().sum();
    let weights = weights.iter().map(|weight| weight / sum).collect();
    Ok(Values::Listed { levels, weights })
}

fn distribution(table: &Table<'_>) -> Checked<Distribution> {
    let kinds = [
        ("uniform", 0),
        ("log-uniform", 1),
        ("normal", 2),
        ("truncated-normal", 3),
    ];
    let kind = match table.optional("distribution") {
        Some(entry) => entry.choice("a distribution", &kinds)?,
        None if table.has("low") || table.has("high") => 0,
        None => return Err(table.missing("levels")),
    };
    let needless: &[&str] = match kind {
        2 => &["low", "high"],
        3 => &[],
        _ => &["mean", "sd"],
    };
    if let Some(field) = needless.iter().find(|field| table.has(field)) {
        return Err(table.disagreement(
            field,
            "this distribution does not have it".into(),
            "remove it, or choose another distribution".into(),
        ));
    }
    if kind == 2 {
        return Ok(Distribution::Normal {
            mean: table.number("mean", &allowed::FREE)?,
            sd: table.number("sd", &allowed::FREE_ABOVE_ZERO)?,
        });
    }
    let least = if kind == 1 {
        &allowed::FREE_ABOVE_ZERO
    } else {
        &allowed::FREE
    };
    let low = table.number("low", least)?;
    let high = table.number("high", least)?;
    if low >= high {
        let (what, remedy) = if low > high {
            ("the bounds are reversed", "exchange low and high")
        } else {
            ("the range is empty", "give a high above low, or one level")
        };
        return Err(table.disagreement("high", format!("low is {low}: {what}"), remedy.into()));
    }
    Ok(match kind {
        0 => Distribution::Uniform { low, high },
        1 => Distribution::LogUniform { low, high },
        _ => Distribution::TruncatedNormal {
            mean: table.number("mean", &allowed::FREE)?,
            sd: table.number("sd", &allowed::FREE_ABOVE_ZERO)?,
            low,
            high,
        },
    })
}
