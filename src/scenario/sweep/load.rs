//! From a path to a checked sweep.

use std::path::Path;
use std::sync::LazyLock;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;

use super::anatomy::DrawnAnatomyTable;
use super::model::{DesignKind, MapSpec, ParameterSpec, SearchSpec, SetSpec, SweepSpec};
use super::parameter::{self, ParameterTable};
use crate::scenario::document::Document;
use crate::scenario::error::ScenarioError;
use crate::scenario::on_scenario::{checked_text, text_at};
use crate::scenario::source::Source;
use crate::scenario::tables::plain_name;
use crate::schema::{Node, Place, Read, Refusal};

/// A sweep: which parameters of a scenario vary, how, and over which points.
#[derive(Debug, Deserialize, JsonSchema)]
pub(in crate::scenario) struct SweepTable {
    /// Short name: letters, digits and dashes.
    #[schemars(extend("x-example" = "\"bend-shape\""))]
    name: String,
    /// What the sweep asks.
    #[schemars(extend("x-example" = "\"What this sweep asks.\""))]
    description: String,
    /// Base scenario, path from this file.
    #[schemars(extend("x-example" = "\"../side-branch.toml\""))]
    scenario: String,
    /// Paths taken out of the scenario first.
    #[serde(default)]
    #[schemars(extend("x-example" = "['wire.*.surface']"))]
    remove: Vec<String>,
    /// How the points lie.
    #[schemars(extend("x-example" = "[design]\nkind = \"grid\""))]
    design: DesignTable,
    /// What varies.
    #[schemars(length(min = 1, max = 2500), extend(
        "x-example" = "[[parameter]]\npath = 'wire.*.bend.length_mm'\nlevels = [1, 2, 3]"
    ))]
    parameter: Vec<ParameterTable>,
    /// Values that are the same at every point.
    #[serde(default)]
    #[schemars(length(max = 2500), extend(
        "x-example" = "[[set]]\npath = 'technique.redirect.attempts'\nvalue = 3"
    ))]
    set: Vec<SetTable>,
    /// How anatomies are drawn; without it nothing is.
    #[schemars(extend("x-example" = "[anatomy]\ndraw = 1"))]
    anatomy: Option<DrawnAnatomyTable>,
    /// The parameters of the map.
    #[schemars(extend("x-example" = "[map]\nx = \"length_mm\"\ny = \"angle_deg\""))]
    map: Option<MapSpec>,
    /// The search for the best point.
    #[schemars(extend("x-example" = "[search]\nwall_force_limit_mN = 20"))]
    search: Option<SearchSpec>,
}

/// What a sweep may hold.
pub(in crate::scenario) static SWEEP: LazyLock<Node> = LazyLock::new(Node::of::<SweepTable>);

/// How the points lie.
#[derive(Debug, Deserialize, JsonSchema)]
struct DesignTable {
    /// Kind of design.
    #[schemars(extend("x-example" = "\"grid\""))]
    kind: DesignWord,
    /// Points, of a pick-freeze design rows of (parameters + 2) points; needed but for a grid, and up
    /// to 65536 for sobol and pick-freeze.
    #[schemars(range(min = 1, max = 10_000_000), extend("x-unit" = "points", "x-example" = "256"))]
    points: Option<usize>,
    /// Trials of each strategy at every point.
    #[schemars(range(min = 1, max = 1_000_000), extend(
        "x-unit" = "trials",
        "x-default" = "that of the scenario",
        "x-example" = "8"
    ))]
    trials: Option<u32>,
    /// Seed of design and trials.
    #[schemars(range(min = 0, max = 9_223_372_036_854_775_807_u64), extend(
        "x-default" = "that of the scenario",
        "x-example" = "1"
    ))]
    seed: Option<u64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[schemars(extend("x-kind" = "a design"))]
enum DesignWord {
    /// Every combination of the levels.
    Grid,
    /// One point in every row and column.
    LatinHypercube,
    /// A scrambled Sobol sequence.
    Sobol,
    /// Rows for sensitivity indices.
    PickFreeze,
}

/// A value that is the same at every point.
#[derive(Debug, Deserialize, JsonSchema)]
pub(in crate::scenario) struct SetTable {
    /// Path in the scenario.
    #[schemars(extend("x-example" = "'technique.redirect.attempts'"))]
    path: String,
    /// The value.
    #[schemars(schema_with = "anything")]
    #[schemars(extend("x-example" = "3"))]
    value: toml::Value,
}

impl SetTable {
    /// The value with the place of its path.
    pub(in crate::scenario) fn checked(self, place: Place) -> SetSpec {
        SetSpec {
            path: self.path,
            value: self.value,
            place,
        }
    }
}

/// Any value.
pub(in crate::scenario) fn anything(_: &mut SchemaGenerator) -> Schema {
    json_schema!({})
}

/// Most points of a Sobol sequence: the length of the direction vectors used.
const MOST_SOBOL: usize = 1 << 16;

/// A sweep that was read, with its text.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadedSweep {
    /// The checked sweep.
    pub spec: SweepSpec,
    /// The text it was read from.
    pub source: Source,
}

/// Reads and checks the sweep file at `path`; the base scenario is named, not read.
///
/// # Errors
///
/// The first fault found, as in [`crate::scenario::load`].
pub fn load_sweep(path: &Path) -> Result<LoadedSweep, ScenarioError> {
    load_sweep_text(path, text_at(path)?)
}

/// Checks a sweep whose text is given; `path` is where it counts as standing, so that the files it
/// names are found.
///
/// # Errors
///
/// As [`load_sweep`].
pub fn load_sweep_text(path: &Path, text: String) -> Result<LoadedSweep, ScenarioError> {
    let (spec, source) = checked_text(Document::Sweep, path, text, SweepTable::checked)?;
    Ok(LoadedSweep { spec, source })
}

impl SweepTable {
    /// The checked sweep; `folder` is where paths in it count from.
    fn checked(self, folder: &Path) -> Read<SweepSpec> {
        plain_name(&self.name, "bend-shape")?;
        let design = self.design.checked()?;
        let parameters = parameter::parameters(self.parameter, design == DesignKind::Grid)?;
        let removed = self.remove.into_iter().enumerate();
        let set = self.set.into_iter().enumerate();
        let scenario_place = Place::top("scenario");
        let anatomy_place = match &self.anatomy {
            Some(_) => Place::top("anatomy"),
            None => scenario_place.clone(),
        };
        let spec = SweepSpec {
            name: self.name,
            description: self.description,
            scenario: folder.join(self.scenario),
            scenario_place,
            trials: self.design.trials,
            seed: self.design.seed,
            design,
            design_place: Place::top("design"),
            removed: removed
                .map(|(i, path)| (path, Place::top("remove").entry(i)))
                .collect(),
            set: set
                .map(|(i, set)| set.checked(Place::top("set").entry(i).field("path")))
                .collect(),
            anatomy: match self.anatomy {
                Some(anatomy) => anatomy.checked(folder)?,
                None => super::model::AnatomySpec::default(),
            },
            anatomy_place,
            map: match self.map {
                Some(map) => Some(map_of(map, &parameters)?),
                None => None,
            },
            search: self.search.map(|search| SearchSpec {
                place: Place::top("search"),
                ..search
            }),
            parameters,
        };
        if let (Some(_), DesignKind::PickFreeze { .. }) = (&spec.search, spec.design) {
            return Err(Refusal::at(
                Place::top("design").field("kind"),
                "a search wants candidates, not rows for sensitivity",
                "write \"grid\", \"latin-hypercube\" or \"sobol\", or remove [search]",
            ));
        }
        Ok(spec)
    }
}

impl DesignTable {
    fn checked(&self) -> Read<DesignKind> {
        let at = Place::top("design").field("points");
        let points = match (self.kind, self.points) {
            (DesignWord::Grid, None) => return Ok(DesignKind::Grid),
            (DesignWord::Grid, Some(_)) => {
                return Err(Refusal::at(
                    at,
                    "the levels of a grid say how many points there are",
                    "remove points, or choose another kind",
                ));
            }
            (_, None) => return Err(Refusal::missing(at)),
            (_, Some(points)) => points,
        };
        if self.kind != DesignWord::LatinHypercube && points > MOST_SOBOL {
            return Err(Refusal::at(
                at,
                format!("a Sobol sequence has at most {MOST_SOBOL} points here"),
                format!("give {MOST_SOBOL} or less, or choose \"latin-hypercube\""),
            ));
        }
        Ok(match self.kind {
            DesignWord::Grid => DesignKind::Grid,
            DesignWord::LatinHypercube => DesignKind::LatinHypercube { points },
            DesignWord::Sobol => DesignKind::Sobol { points },
            DesignWord::PickFreeze => DesignKind::PickFreeze { rows: points },
        })
    }
}

fn map_of(map: MapSpec, parameters: &[ParameterSpec]) -> Read<MapSpec> {
    let at = Place::top("map");
    let named = [
        ("x", Some(&map.x)),
        ("y", Some(&map.y)),
        ("panel", map.panel.as_ref()),
    ];
    let is_column = |name: &String| parameters.iter().any(|p| p.column == *name);
    if let Some((field, _)) = named.iter().find(|(_, name)| !name.is_none_or(is_column)) {
        let columns = parameters.iter().map(|p| &p.column);
        return Err(Refusal::unknown(
            at.field(*field),
            "a parameter of this sweep",
            columns,
        ));
    }
    if map.x == map.y {
        return Err(Refusal::at(
            at.field("y"),
            "x is the same parameter",
            "choose two parameters",
        ));
    }
    let numbers = |column: &str| {
        parameters
            .iter()
            .any(|p| p.column == column && !p.is_category())
    };
    for (field, column) in [("x", &map.x), ("y", &map.y)] {
        if !numbers(column) {
            return Err(Refusal::at(
                at.field(field),
                "its levels are texts or labels; allowed are parameters whose numbers measure something",
                "use it as panel",
            ));
        }
    }
    Ok(map)
}
