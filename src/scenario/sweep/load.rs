//! From a path to a checked sweep.

use std::path::Path;

use super::anatomy;
use super::model::{DesignKind, MapSpec, SearchSpec, SetSpec, SweepSpec};
use super::parameter;
use crate::input;
use crate::scenario::allowed;
use crate::scenario::error::{Checked, ScenarioError};
use crate::scenario::load::parsed;
use crate::scenario::read::{Entry, Fields, Table};
use crate::scenario::source::Source;

const SWEEP: Fields = &[
    ("name", "\"bend-shape\""),
    ("description", "\"What this sweep asks.\""),
    ("scenario", "\"../side-branch.toml\""),
    ("remove", "['wire.*.surface']"),
    ("design", "[design]\nkind = \"grid\""),
    (
        "parameter",
        "[[parameter]]\npath = 'wire.*.bend.length_mm'\nlevels = [1, 2, 3]",
    ),
    (
        "set",
        "[[set]]\npath = 'technique.redirect.attempts'\nvalue = 3",
    ),
    ("anatomy", "[anatomy]\ndraw = 1"),
    ("map", "[map]\nx = \"length_mm\"\ny = \"angle_deg\""),
    ("search", "[search]\nwall_force_limit_mN = 20"),
];
const DESIGN: Fields = &[
    ("kind", "\"grid\""),
    ("points", "256"),
    ("trials", "8"),
    ("seed", "1"),
];
const SET: Fields = &[("path", "'technique.redirect.attempts'"), ("value", "3")];
const MAP: Fields = &[
    ("x", "\"length_mm\""),
    ("y", "\"angle_deg\""),
    ("panel", "\"diameter_mm\""),
];
const SEARCH: Fields = &[
    ("wall_force_limit_mN", "20"),
    ("confidence", "0.95"),
    ("batch", "8"),
    ("most_trials", "128"),
    ("confirm", "128"),
];

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
    let text = input::text(path).map_err(|cause| ScenarioError::Unreadable {
        path: path.to_owned(),
        cause,
    })?;
    load_sweep_text(path, text)
}

/// Checks a sweep whose text is at hand; `path` is where it counts as standing, so that the files it
/// names are found.
///
/// # Errors
///
/// As [`load_sweep`].
pub fn load_sweep_text(path: &Path, text: String) -> Result<LoadedSweep, ScenarioError> {
    let source = Source {
        path: path.to_owned(),
        text,
        tree: None,
    };
    let spec = checked(&source).map_err(|problem| problem.located(&source))?;
    Ok(LoadedSweep { spec, source })
}

fn checked(source: &Source) -> Checked<SweepSpec> {
    let document = parsed(&source.text, 0)?;
    let root = Table::root(&document, 0, SWEEP, "the sweep")?;
    let folder = source.path.parent().unwrap_or(Path::new(""));
    let name = root.required("name")?;
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '-';
    if name.text()?.is_empty() || !name.text()?.chars().all(plain) {
        return Err(name.disagreement(
            "allowed are letters, digits and dashes, at least one".into(),
            "choose a short name such as \"bend-shape\"".into(),
        ));
    }
    let scenario = root.required("scenario")?;
    let table = root
        .table("design", DESIGN)?
        .ok_or_else(|| root.missing("design"))?;
    let design = design(&table)?;
    let parameters = parameter::parameters(&root, design == DesignKind::Grid)?;

    let spec = SweepSpec {
        name: name.text()?.to_owned(),
        description: root.text("description")?,
        scenario: folder.join(scenario.text()?),
        scenario_place: scenario.place(),
        trials: match table.has("trials") {
            true => Some(table.count_or("trials", &allowed::TRIALS, 1)?),
            false => None,
        },
        seed: match table.optional("seed") {
            Some(seed) => Some(seed.whole(&allowed::SEED)?),
            None => None,
        },
        design,
        design_place: table.place,
        removed: removed(&root)?,
        set: set(&root)?,
        anatomy: anatomy::anatomy(&root, folder)?,
        anatomy_place: root
            .optional("anatomy")
            .map_or(scenario.place(), |entry| entry.place()),
        map: map(&root, &parameters)?,
        search: search(&root)?,
        parameters,
    };
    if let (Some(_), DesignKind::PickFreeze { .. }) = (&spec.search, spec.design) {
        return Err(table.disagreement(
            "kind",
            "a search wants candidates, not rows for sensitivity".into(),
            "write \"grid\", \"latin-hypercube\" or \"sobol\", or remove [search]".into(),
        ));
    }
    Ok(spec)
}

fn design(table: &Table<'_>) -> Checked<DesignKind> {
    let kinds = [
        ("grid", 0),
        ("latin-hypercube", 1),
        ("sobol", 2),
        ("pick-freeze", 3),
    ];
    let kind = table.required("kind")?.choice("a design", &kinds)?;
    if kind == 0 {
        if table.has("points") {
            return Err(table.disagreement(
                "points",
                "the levels of a grid say how many points there are".into(),
                "remove points, or choose another kind".into(),
            ));
        }
        return Ok(DesignKind::Grid);
    }
    let entry = table.required("points")?;
    let points = usize::try_from(entry.whole(&allowed::POINTS)?).unwrap_or(usize::MAX);
    if kind != 1 && points > MOST_SOBOL {
        return Err(entry.disagreement(
            format!("a Sobol sequence has at most {MOST_SOBOL} points here"),
            format!("give {MOST_SOBOL} or less, or choose \"latin-hypercube\""),
        ));
    }
    Ok(match kind {
        1 => DesignKind::LatinHypercube { points },
        2 => DesignKind::Sobol { points },
        _ => DesignKind::PickFreeze { rows: points },
    })
}

fn removed(root: &Table<'_>) -> Checked<Vec<(String, crate::scenario::model::Place)>> {
    let Some(entry) = root.optional("remove") else {
        return Ok(Vec::new());
    };
    let paths = entry.list()?;
    let path = |entry: &Entry<'_>| Ok((entry.text()?.to_owned(), entry.place()));
    paths.iter().map(path).collect()
}

fn set(root: &Table<'_>) -> Checked<Vec<SetSpec>> {
    let tables = root.tables("set", "[[set]]", SET)?;
    let one = |table: &Table<'_>| {
        let path = table.required("path")?;
        Ok(SetSpec {
            path: path.text()?.to_owned(),
            value: table.required("value")?.free_value(),
            place: path.place(),
        })
    };
    tables.iter().map(one).collect()
}

fn map(root: &Table<'_>, parameters: &[super::model::ParameterSpec]) -> Checked<Option<MapSpec>> {
    let Some(table) = root.table("map", MAP)? else {
        return Ok(None);
    };
    let columns: Vec<&str> = parameters.iter().map(|p| p.column.as_str()).collect();
    let named = |entry: &Entry<'_>| -> Checked<String> {
        let text = entry.text()?;
        if columns.contains(&text) {
            Ok(text.to_owned())
        } else {
            Err(entry.unknown("a parameter of this sweep", &columns))
        }
    };
    let map = MapSpec {
        x: named(&table.required("x")?)?,
        y: named(&table.required("y")?)?,
        panel: table.optional("panel").map(|e| named(&e)).transpose()?,
    };
    if map.x == map.y {
        return Err(table.disagreement(
            "y",
            "x is the same parameter".into(),
            "choose two parameters".into(),
        ));
    }
    let numbers = |column: &str| {
        parameters
            .iter()
            .any(|p| p.column == column && !p.is_category())
    };
    for (field, column) in [("x", &map.x), ("y", &map.y)] {
        if !numbers(column) {
            return Err(table.disagreement(
                field,
                "its levels are texts or labels; allowed are parameters whose numbers measure something"
                    .into(),
                "use it as panel".into(),
            ));
        }
    }
    Ok(Some(map))
}

fn search(root: &Table<'_>) -> Checked<Option<SearchSpec>> {
    let Some(table) = root.table("search", SEARCH)? else {
        return Ok(None);
    };
    let confirm = match table.optional("confirm") {
        Some(entry) => entry.whole(&allowed::CONFIRMATIONS)?,
        None => 128,
    };
    Ok(Some(SearchSpec {
        wall_force_limit_mn: table.number("wall_force_limit_mN", &allowed::FORCE)?,
        confidence: table.number_or("confidence", &allowed::CONFIDENCE, 0.95)?,
        batch: table.count_or("batch", &allowed::TRIALS, 8)?,
        most_trials: table.count_or("most_trials", &allowed::TRIALS, 128)?,
        confirm: u32::try_from(confirm).unwrap_or(u32::MAX),
        place: table.place,
    }))
}
