//! `[[parameter]]`: what varies and which values it takes.

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;

use super::load::anything;
use super::model::{Distribution, ParameterSpec, TargetPath, Values, number, shown};
use crate::schema::{Place, Read, Refusal};
use crate::shown::cut;
use crate::units;

/// What varies.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct ParameterTable {
    /// A path in the scenario, or a list of paths or of { path, times = 1, plus = 0 }.
    #[schemars(schema_with = "path")]
    #[schemars(extend("x-entry" = "path", "x-example" = "'wire.*.bend.length_mm'"))]
    path: PathTable,
    /// Name in tables and figures: 1 to 40 letters, digits, spaces and dashes.
    #[schemars(extend("x-default" = "the last two keys of the path, in words; one that needs quotes is left out", "x-example" = "\"bend length\""))]
    name: Option<String>,
    /// List of numbers or texts, each once; in place of a range.
    #[schemars(schema_with = "levels")]
    #[schemars(extend("x-example" = "[1, 2, 3]"))]
    #[serde(default)]
    levels: Option<Vec<toml::Value>>,
    /// Weights of the levels where a design draws.
    #[schemars(schema_with = "weights")]
    #[schemars(extend("x-default" = "equal", "x-example" = "[1, 2, 1]"))]
    #[serde(default)]
    weights: Option<Vec<f64>>,
    /// Lower end of a range.
    #[schemars(range(min = -1e12, max = 1e12), extend("x-example" = "1"))]
    low: Option<f64>,
    /// Upper end of a range, above low.
    #[schemars(range(min = -1e12, max = 1e12), extend("x-example" = "5"))]
    high: Option<f64>,
    /// Levels between them; needed in a grid.
    #[schemars(range(min = 2, max = 100_000), extend("x-unit" = "levels", "x-example" = "5"))]
    steps: Option<u32>,
    /// Whole numbers only.
    #[schemars(extend("default" = false, "x-example" = "true"))]
    whole: Option<bool>,
    /// Distribution of the range.
    #[schemars(extend("default" = "uniform", "x-example" = "\"uniform\""))]
    distribution: Option<DistributionWord>,
    /// Mean of a normal distribution.
    #[schemars(range(min = -1e12, max = 1e12), extend("x-example" = "3"))]
    mean: Option<f64>,
    /// Standard deviation of a normal distribution.
    #[schemars(range(max = 1e12), extend("exclusiveMinimum" = 0, "x-example" = "0.5"))]
    sd: Option<f64>,
}

/// One path or several.
#[derive(Debug, Deserialize)]
#[serde(untagged)]
enum PathTable {
    One(String),
    Several(Vec<TargetTable>),
}

/// One path of several.
#[derive(Debug, Deserialize)]
#[serde(untagged)]
enum TargetTable {
    Alone(String),
    Scaled(ScaledTable),
}

/// A path whose value is the parameter's, scaled and shifted.
#[derive(Debug, Deserialize, JsonSchema)]
struct ScaledTable {
    /// A path in the scenario.
    #[schemars(extend("x-example" = "'vessel.branch.side.diameter_mm'"))]
    path: String,
    /// Factor on the parameter's value.
    #[serde(default = "crate::schema::defaults::number::<1>")]
    #[schemars(range(min = -1e12, max = 1e12), extend("x-example" = "0.7"))]
    times: f64,
    /// What is added to that.
    #[serde(default)]
    #[schemars(range(min = -1e12, max = 1e12), extend("x-example" = "0"))]
    plus: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[schemars(extend("x-kind" = "a distribution"))]
enum DistributionWord {
    Uniform,
    LogUniform,
    Normal,
    TruncatedNormal,
}

fn path(generator: &mut SchemaGenerator) -> Schema {
    let scaled = ScaledTable::json_schema(generator);
    json_schema!({ "anyOf": [
        { "type": "string" },
        {
            "type": "array", "minItems": 1, "x-remedy": "give at least one path",
            "items": { "anyOf": [{ "type": "string" }, scaled] },
        },
    ] })
}

/// Most levels in a list.
const MOST_LEVELS: usize = 10_000;

fn levels(generator: &mut SchemaGenerator) -> Schema {
    json_schema!({
        "type": "array", "minItems": 1, "x-remedy": "give at least one level",
        "items": anything(generator),
    })
}

fn weights(_: &mut SchemaGenerator) -> Schema {
    json_schema!({
        "type": "array",
        "items": { "type": "number", "exclusiveMinimum": 0, "maximum": 1e12 },
    })
}

/// Checks every `[[parameter]]`.
pub(super) fn parameters(tables: Vec<ParameterTable>, grid: bool) -> Read<Vec<ParameterSpec>> {
    let mut parameters: Vec<ParameterSpec> = Vec::new();
    for (index, table) in tables.into_iter().enumerate() {
        let at = Place::top("parameter").entry(index);
        let parameter = table.checked(&at, grid)?;
        if let Some(twin) = parameters.iter().find(|p| p.column == parameter.column) {
            return Err(Refusal::at(
                at.field("name"),
                format!(
                    "a parameter before it is called \"{}\" in the tables too",
                    twin.column
                ),
                "give it a name of its own",
            ));
        }
        parameters.push(parameter);
    }
    Ok(parameters)
}

/// The last two keys of a path in words.
fn from_path(path: &str, stem: &str) -> String {
    let plain = |key: &&str| key.chars().all(|c| c.is_ascii_alphanumeric() || c == '_');
    let before = path.rsplit('.').nth(1).filter(plain).unwrap_or_default();
    format!("{before} {stem}").trim().replace('_', " ")
}

impl PathTable {
    fn targets(self) -> Vec<TargetPath> {
        let alone = |path: String| TargetPath {
            path,
            times: 1.0,
            plus: 0.0,
        };
        let one = |target: TargetTable| match target {
            TargetTable::Alone(path) => alone(path),
            TargetTable::Scaled(scaled) => TargetPath {
                path: scaled.path,
                times: scaled.times,
                plus: scaled.plus,
            },
        };
        match self {
            Self::One(path) => vec![alone(path)],
            Self::Several(list) => list.into_iter().map(one).collect(),
        }
    }
}

impl ParameterTable {
    fn checked(mut self, at: &Place, grid: bool) -> Read<ParameterSpec> {
        let values = self.values(at, grid)?;
        let targets = self.path.targets();
        let first = targets.first().map_or("", |target| target.path.as_str());
        let leaf = first.rsplit('.').next().unwrap_or_default();
        let (ending, unit) = units::of_field(leaf);
        let stem = leaf.strip_suffix(ending).unwrap_or(leaf);
        let label = match &self.name {
            None => from_path(first, stem),
            Some(text) => {
                let plain = |c: char| c.is_ascii_alphanumeric() || " -_".contains(c);
                if text.is_empty() || text.len() > 40 || !text.chars().all(plain) {
                    return Err(Refusal::at(
                        at.field("name"),
                        "allowed are 1 to 40 letters, digits, spaces and dashes",
                        "choose a short name such as \"bend length\"",
                    ));
                }
                text.strip_suffix(ending).unwrap_or(text).replace('_', " ")
            }
        };
        let text = matches!(&values, Values::Listed { levels, .. } if levels.iter().any(|l| number(l).is_none()));
        let column = label.to_lowercase().replace([' ', '-'], "_") + ending;
        Ok(ParameterSpec {
            column,
            label,
            unit: if text { String::new() } else { unit.to_owned() },
            targets,
            values,
            place: at.field("path"),
        })
    }

    fn values(&mut self, at: &Place, grid: bool) -> Read<Values> {
        if let Some(levels) = self.levels.take() {
            let ranged = [
                ("low", self.low.is_some()),
                ("high", self.high.is_some()),
                ("steps", self.steps.is_some()),
                ("distribution", self.distribution.is_some()),
                ("mean", self.mean.is_some()),
                ("sd", self.sd.is_some()),
                ("whole", self.whole.is_some()),
            ];
            if let Some((field, _)) = ranged.iter().find(|(_, said)| *said) {
                return Err(Refusal::at(
                    at.field(*field),
                    "levels says which values the parameter takes",
                    format!("keep levels, or remove levels and keep {field}"),
                ));
            }
            return listed(levels, self.weights.as_deref(), at);
        }
        let distribution = self.distribution(at)?;
        let whole = self.whole.unwrap_or(false);
        match (grid, self.steps) {
            (false, None) => Ok(Values::Spread {
                distribution,
                whole,
            }),
            (false, Some(_)) => Err(Refusal::at(
                at.field("steps"),
                "only a grid has steps",
                "remove steps, or choose design kind \"grid\"",
            )),
            (true, None) => Err(Refusal::missing(at.field("steps"))),
            (true, Some(steps)) => stepped(distribution, steps, whole, at),
        }
    }

    fn distribution(&self, at: &Place) -> Read<Distribution> {
        use DistributionWord as Word;
        let word = match self.distribution {
            Some(word) => word,
            None if self.low.is_some() || self.high.is_some() => Word::Uniform,
            None => return Err(Refusal::missing(at.field("levels"))),
        };
        let bounds = [("low", self.low), ("high", self.high)];
        let moments = [("mean", self.mean), ("sd", self.sd)];
        let needless: &[(&'static str, Option<f64>)] = match word {
            Word::Normal => &bounds,
            Word::TruncatedNormal => &[],
            Word::Uniform | Word::LogUniform => &moments,
        };
        if let Some((field, _)) = needless.iter().find(|(_, said)| said.is_some()) {
            return Err(Refusal::at(
                at.field(*field),
                "this distribution does not have it",
                "remove it, or choose another distribution",
            ));
        }
        let needed = |(field, said): (&'static str, Option<f64>)| {
            said.ok_or_else(|| Refusal::missing(at.field(field)))
        };
        let [mean, sd] = moments;
        if word == Word::Normal {
            return Ok(Distribution::Normal {
                mean: needed(mean)?,
                sd: needed(sd)?,
            });
        }
        let [low, high] = [needed(bounds[0])?, needed(bounds[1])?];
        if word == Word::LogUniform
            && let Some((field, _)) = [("low", low), ("high", high)].iter().find(|b| b.1 <= 0.0)
        {
            return Err(Refusal::at(
                at.field(*field),
                "a logarithm needs numbers above 0",
                "give a number above 0, or choose another distribution",
            ));
        }
        if low >= high {
            let (what, remedy) = if low > high {
                ("the bounds are reversed", "exchange low and high")
            } else {
                ("the range is empty", "give a high above low, or one level")
            };
            return Err(Refusal::at(
                at.field("high"),
                format!("low is {low}: {what}"),
                remedy,
            ));
        }
        Ok(match word {
            Word::LogUniform => Distribution::LogUniform { low, high },
            Word::TruncatedNormal => Distribution::TruncatedNormal {
                mean: needed(mean)?,
                sd: needed(sd)?,
                low,
                high,
            },
            Word::Uniform | Word::Normal => Distribution::Uniform { low, high },
        })
    }
}

/// Levels at equal distances.
fn stepped(distribution: Distribution, steps: u32, whole: bool, at: &Place) -> Read<Values> {
    let mut levels: Vec<toml::Value> = Vec::new();
    for index in 0..steps {
        let part = f64::from(index) / f64::from(steps - 1);
        let value = match distribution {
            Distribution::Uniform { low, high } => low + part * (high - low),
            Distribution::LogUniform { low, high } => low * (high / low).powf(part),
            Distribution::Normal { .. } | Distribution::TruncatedNormal { .. } => {
                return Err(Refusal::at(
                    at.field("distribution"),
                    "a grid has levels at equal distances, no density",
                    "give levels, or choose another design kind",
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

/// The levels of the parameter at `at`, each once, with their weights.
fn listed(levels: Vec<toml::Value>, weights: Option<&[f64]>, at: &Place) -> Read<Values> {
    let list = at.field("levels");
    if levels.len() > MOST_LEVELS {
        return Err(Refusal::at(
            list,
            format!("allowed are up to {MOST_LEVELS} levels"),
            "give low, high and steps, or fewer levels",
        ));
    }
    for (index, level) in levels.iter().enumerate() {
        if levels[..index].contains(level) {
            return Err(Refusal::at(
                list.entry(index),
                format!("the level {} stands before it", cut(shown(level))),
                "list each level once",
            ));
        }
        if number(&levels[0]).is_some() != number(level).is_some() {
            return Err(Refusal::at(
                list.entry(index),
                "numbers and texts stand in one list",
                "give all levels as numbers, or all as texts in double quotes",
            ));
        }
    }
    let weights = match weights {
        None => vec![1.0; levels.len()],
        Some(weights) if weights.len() == levels.len() => weights.to_vec(),
        Some(_) => {
            return Err(Refusal::at(
                at.field("weights"),
                format!("there are {} levels", levels.len()),
                "give one weight for each level",
            ));
        }
    };
    let sum: f64 = weights.iter().sum();
    let weights = weights.iter().map(|weight| weight / sum).collect();
    Ok(Values::Listed { levels, weights })
}
