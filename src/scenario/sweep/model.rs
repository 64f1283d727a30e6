//! The checked sweep: what a sweep file says after validation.

use std::path::PathBuf;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::schema::{Place, defaults};

/// A complete checked sweep.
#[derive(Debug, Clone, PartialEq)]
pub struct SweepSpec {
    /// Short name; letters, digits and dashes.
    pub name: String,
    /// What the sweep asks.
    pub description: String,
    /// The base scenario.
    pub scenario: PathBuf,
    /// Where the base scenario is named.
    pub scenario_place: Place,
    /// Trials of each strategy at every point, at least 1; `None` for the scenario's.
    pub trials: Option<u32>,
    /// Seed of design and trials; `None` for the scenario's.
    pub seed: Option<u64>,
    /// How the points lie.
    pub design: DesignKind,
    /// Where the design is described.
    pub design_place: Place,
    /// What varies, at least one.
    pub parameters: Vec<ParameterSpec>,
    /// Paths taken out of the base scenario before anything is set.
    pub removed: Vec<(String, Place)>,
    /// Values set once, the same at every point.
    pub set: Vec<SetSpec>,
    /// How anatomies are drawn.
    pub anatomy: AnatomySpec,
    /// Where that is described.
    pub anatomy_place: Place,
    /// The parameters of the map.
    pub map: Option<MapSpec>,
    /// The search for the best point, if asked for.
    pub search: Option<SearchSpec>,
}

impl SweepSpec {
    /// Whether anything is removed from the base scenario or set in it at every point.
    #[must_use]
    pub fn changes(&self) -> bool {
        !self.removed.is_empty() || !self.set.is_empty() || self.search.is_some()
    }
}

/// How the points of a design lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum DesignKind {
    /// Every combination of the levels; the last parameter changes fastest.
    Grid,
    /// One point in every row and column.
    LatinHypercube {
        /// Points.
        points: usize,
    },
    /// A scrambled Sobol sequence.
    Sobol {
        /// Points, at most 65,536.
        points: usize,
    },
    /// Pick-freeze rows for sensitivity indices: two independent points and, for each parameter,
    /// the first with that parameter of the second.
    PickFreeze {
        /// Rows, at most 65,536; each has two points more than there are parameters.
        rows: usize,
    },
}

/// One parameter of a sweep.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ParameterSpec {
    /// Name in tables, with its unit: letters, digits and underscores.
    pub column: String,
    /// Name in figures, without unit.
    pub label: String,
    /// Unit as words say it; empty for a ratio or a text.
    pub unit: String,
    /// What it changes in the scenario.
    pub targets: Vec<TargetPath>,
    /// Which values it takes.
    pub values: Values,
    /// Where it is described.
    #[serde(skip)]
    pub place: Place,
}

impl ParameterSpec {
    /// Name in figures with the unit.
    #[must_use]
    pub fn axis(&self) -> String {
        if self.unit.is_empty() {
            self.label.clone()
        } else {
            format!("{} ({})", self.label, self.unit)
        }
    }

    /// Whether every value is a number.
    #[must_use]
    pub fn is_number(&self) -> bool {
        match &self.values {
            Values::Listed { levels, .. } => levels.iter().all(|level| number(level).is_some()),
            Values::Spread { .. } => true,
        }
    }

    /// Whether the values are names: texts, and numbers that only tell things apart, which are the
    /// number of a vessel's tip and the number of a drawn anatomy.
    #[must_use]
    pub fn is_category(&self) -> bool {
        let is_label = |target: &TargetPath| {
            target.path == "anatomy.draw" || target.path.rsplit('.').next() == Some("tip")
        };
        !self.is_number() || self.targets.iter().any(is_label)
    }

    /// The levels of a parameter that is a list.
    #[must_use]
    pub fn levels(&self) -> Option<&[toml::Value]> {
        match &self.values {
            Values::Listed { levels, .. } => Some(levels),
            Values::Spread { .. } => None,
        }
    }
}

/// A value as a number.
#[must_use]
pub fn number(value: &toml::Value) -> Option<f64> {
    match value {
        toml::Value::Integer(whole) => Some(*whole as f64),
        toml::Value::Float(float) => Some(*float),
        _ => None,
    }
}

/// A value as tables show it.
#[must_use]
pub fn shown(value: &toml::Value) -> String {
    match value {
        toml::Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

/// A place in the scenario that a parameter changes: it gets `times` the parameter's value plus
/// `plus`; a value that is no number is set as it is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TargetPath {
    /// Path in the scenario.
    pub path: String,
    /// Factor.
    pub times: f64,
    /// Summand.
    pub plus: f64,
}

/// Which values a parameter takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Values {
    /// A list; in a design that draws, each with its weight.
    Listed {
        /// The values, at least one.
        levels: Vec<toml::Value>,
        /// Weights that sum to one; as many as levels.
        weights: Vec<f64>,
    },
    /// Numbers with a distribution.
    Spread {
        /// The distribution.
        distribution: Distribution,
        /// Rounded to whole numbers.
        whole: bool,
    },
}

/// A distribution of numbers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Distribution {
    /// The same density from `low` to `high`.
    Uniform {
        /// Lower end.
        low: f64,
        /// Upper end, above `low`.
        high: f64,
    },
    /// The logarithm has the same density from `low` to `high`.
    LogUniform {
        /// Lower end, above 0.
        low: f64,
        /// Upper end, above `low`.
        high: f64,
    },
    /// Normal.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation, above 0.
        sd: f64,
    },
    /// Normal, cut off outside `low` to `high` (mean and sd are those before the cut).
    TruncatedNormal {
        /// Mean before the cut.
        mean: f64,
        /// Standard deviation before the cut, above 0.
        sd: f64,
        /// Lower end.
        low: f64,
        /// Upper end, above `low`.
        high: f64,
    },
}

/// A value that is the same at every point.
#[derive(Debug, Clone, PartialEq)]
pub struct SetSpec {
    /// Path in the scenario.
    pub path: String,
    /// The value.
    pub value: toml::Value,
    /// Where it is described.
    pub place: Place,
}

/// How anatomies are drawn.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct AnatomySpec {
    /// Number of the anatomy that is drawn; `None`: the number of the point.
    pub draw: Option<u64>,
    /// Diameters behind a branching.
    pub branchings: Vec<BranchingSpec>,
    /// Branches bent to a stated mean curvature.
    pub curvatures: Vec<CurvatureSpec>,
    /// Spread of a tree given as points.
    pub spread: Option<SpreadSpec>,
}

impl AnatomySpec {
    /// Whether the places of its branches are drawn.
    #[must_use]
    pub fn is_drawn(&self) -> bool {
        self.spread.is_some() || !self.curvatures.is_empty()
    }
}

/// A law between the three diameters of a branching.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[schemars(extend("x-kind" = "a branching law"))]
pub enum BranchingLaw {
    /// D0 = 0.678 (D1 + D2).
    Finet,
    /// D0^(7/3) = D1^(7/3) + D2^(7/3).
    HuoKassab,
    /// D0^3 = D1^3 + D2^3.
    Murray,
    /// D0^2 = D1^2 + D2^2.
    Area,
}

/// The diameter of a trunk behind a side branch follows from the one before it and the side
/// branch's.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BranchingSpec {
    /// Name of the trunk, which has one diameter.
    #[schemars(extend("x-example" = "\"parent\""))]
    pub trunk: String,
    /// Name of the side branch, which has one diameter and leaves from the trunk.
    #[schemars(extend("x-example" = "\"side\""))]
    pub side: String,
    /// The law.
    #[schemars(extend("x-example" = "\"finet\""))]
    pub law: BranchingLaw,
    /// Length over which the trunk narrows, half on either side of the take-off.
    #[serde(default = "defaults::number::<4>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "4"))]
    pub over_mm: f64,
}

/// A branch drawn as a chain of bends to and fro.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CurvatureSpec {
    /// Name of the branch, which is built from pieces.
    #[schemars(extend("x-example" = "\"parent\""))]
    pub branch: String,
    /// Mean curvature over its length; its path is `anatomy.curvature.<branch>.mean_per_mm`.
    #[schemars(range(max = 0.5), extend("exclusiveMinimum" = 0, "x-example" = "0.058"))]
    pub mean_per_mm: f64,
    /// Length of one bend.
    #[serde(default = "defaults::number::<10>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "10"))]
    pub bend_mm: f64,
}

/// Spread of a tree given as polar points about a published mean.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SpreadSpec {
    /// Published places: mean and standard deviation.
    pub places: Vec<SpreadPlace>,
    /// Distance in mm over which neighbouring places move together.
    pub together_mm: f64,
    /// Factor on all standard deviations.
    pub factor: f64,
}

/// A published place with its spread.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SpreadPlace {
    /// Mean r (cm), theta (deg), phi (deg).
    pub at: [f64; 3],
    /// Standard deviations of r (cm), theta (deg), phi (deg).
    pub sd: [f64; 3],
}

/// What the map shows, by column name.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MapSpec {
    /// Parameter from left to right, by its name in tables.
    #[schemars(extend("x-example" = "\"length_mm\""))]
    pub x: String,
    /// Parameter upwards.
    #[schemars(extend("x-example" = "\"angle_deg\""))]
    pub y: String,
    /// Parameter with a panel for each level.
    #[schemars(extend("x-example" = "\"diameter_mm\""))]
    pub panel: Option<String>,
}

/// The search for the best point.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SearchSpec {
    /// Most force on one millimetre of wall, at any place, leaving the guide included; a trial beyond
    /// it has failed.
    #[serde(rename = "wall_force_limit_mN")]
    #[schemars(range(max = 100_000), extend("exclusiveMinimum" = 0, "x-example" = "20"))]
    pub wall_force_limit_mn: f64,
    /// Confidence that the best candidate is never dropped.
    #[serde(default = "defaults::hundredths::<95>")]
    #[schemars(range(min = 0.5, max = 0.9999), extend("x-example" = "0.95"))]
    pub confidence: f64,
    /// Trials between two looks.
    #[serde(default = "defaults::count::<8>")]
    #[schemars(range(min = 1, max = 1_000_000), extend("x-unit" = "trials", "x-example" = "8"))]
    pub batch: u32,
    /// Most trials of a candidate in the race.
    #[serde(default = "defaults::count::<128>")]
    #[schemars(range(min = 1, max = 1_000_000), extend("x-unit" = "trials", "x-example" = "128"))]
    pub most_trials: u32,
    /// Trials with new draws on which the winner is measured.
    #[serde(default = "defaults::count::<128>")]
    #[schemars(range(min = 0, max = 1_000_000), extend("x-unit" = "trials", "x-example" = "128"))]
    pub confirm: u32,
    /// Where the search is described.
    #[serde(skip)]
    pub place: Place,
}
