//! `[anatomy]`: how anatomies are drawn.

use std::path::Path;

use super::model::{
    AnatomySpec, BranchingLaw, BranchingSpec, CurvatureSpec, SpreadPlace, SpreadSpec,
};
use crate::input;
use crate::scenario::allowed;
use crate::scenario::error::Checked;
use crate::scenario::load::parsed;
use crate::scenario::read::{Fields, Table};
use crate::shown;

const ANATOMY: Fields = &[
    ("draw", "1"),
    (
        "branching",
        "[[anatomy.branching]]\ntrunk = \"parent\"\nside = \"side\"\nlaw = \"finet\"",
    ),
    (
        "curvature",
        "[[anatomy.curvature]]\nbranch = \"parent\"\nmean_per_mm = 0.058",
    ),
    (
        "spread",
        "[anatomy.spread]\nfile = \"../trees/published-tree-spread.toml\"",
    ),
];
const BRANCHING: Fields = &[
    ("trunk", "\"parent\""),
    ("side", "\"side\""),
    ("law", "\"finet\""),
    ("over_mm", "4"),
];
const CURVATURE: Fields = &[
    ("branch", "\"parent\""),
    ("mean_per_mm", "0.058"),
    ("bend_mm", "10"),
];
const SPREAD: Fields = &[
    ("file", "\"../trees/published-tree-spread.toml\""),
    ("together_mm", "40"),
    ("factor", "1"),
];
const SPREAD_FILE: Fields = &[
    ("origin", "\"the published source\""),
    ("place", "[[place]]\nat = [0.7, 80, 4]\nsd = [0.4, 20, 15]"),
];
const PLACE: Fields = &[
    ("name", "\"LM mid\""),
    ("at", "[0.7, 80, 4]"),
    ("sd", "[0.4, 20, 15]"),
];

/// Reads `[anatomy]`; without it nothing is drawn.
pub(super) fn anatomy(root: &Table<'_>, folder: &Path) -> Checked<AnatomySpec> {
    let Some(table) = root.table("anatomy", ANATOMY)? else {
        return Ok(AnatomySpec::default());
    };
    let branching = |table: &Table<'_>| {
        let laws = [
            ("finet", BranchingLaw::Finet),
            ("huo-kassab", BranchingLaw::HuoKassab),
            ("murray", BranchingLaw::Murray),
            ("area", BranchingLaw::Area),
        ];
        Ok(BranchingSpec {
            trunk: table.text("trunk")?,
            side: table.text("side")?,
            law: table.required("law")?.choice("a branching law", &laws)?,
            over_mm: table.number_or("over_mm", &allowed::LENGTH, 4.0)?,
        })
    };
    let curvature = |table: &Table<'_>| {
        Ok(CurvatureSpec {
            branch: table.text("branch")?,
            mean_per_mm: table.number("mean_per_mm", &allowed::CURVATURE)?,
            bend_mm: table.number_or("bend_mm", &allowed::LENGTH, 10.0)?,
        })
    };
    let branchings = table.tables("branching", "[[anatomy.branching]]", BRANCHING)?;
    let curvatures = table.tables("curvature", "[[anatomy.curvature]]", CURVATURE)?;
    let draw = table.optional("draw");
    Ok(AnatomySpec {
        draw: draw.map(|entry| entry.whole(&allowed::DRAW)).transpose()?,
        branchings: branchings.iter().map(branching).collect::<Checked<_>>()?,
        curvatures: curvatures.iter().map(curvature).collect::<Checked<_>>()?,
        spread: match table.table("spread", SPREAD)? {
            Some(table) => Some(spread(&table, folder)?),
            None => None,
        },
    })
}

fn spread(table: &Table<'_>, folder: &Path) -> Checked<SpreadSpec> {
    let file = table.required("file")?;
    let path = folder.join(file.text()?);
    let refuse = |reason: String| {
        file.disagreement(
            reason,
            "give the path of a file with [[place]] tables, counted from the sweep file".into(),
        )
    };
    let text = input::text(&path)
        .map_err(|cause| refuse(format!("{} cannot be read: {cause}", shown::path(&path))))?;
    let places = places(&text).map_err(|problem| {
        let before = &text.as_bytes()[..problem.place.start.min(text.len())];
        let line = before.iter().filter(|byte| **byte == b'\n').count() + 1;
        refuse(format!(
            "{}, line {line}: {}",
            shown::path(&path),
            problem.fault
        ))
    })?;
    Ok(SpreadSpec {
        places,
        together_mm: table.number_or("together_mm", &allowed::LENGTH, 40.0)?,
        factor: table.number_or("factor", &allowed::SPREAD_FACTOR, 1.0)?,
    })
}

fn places(text: &str) -> Checked<Vec<SpreadPlace>> {
    let document = parsed(text, 0)?;
    let root = Table::root(&document, 0, SPREAD_FILE, "the spread file")?;
    root.required("place")?
        .list_of(1, "add at least one [[place]] table")?;
    let place = |table: &Table<'_>| {
        Ok(SpreadPlace {
            at: table.required("at")?.numbers(&[allowed::FREE; 3])?,
            sd: table
                .required("sd")?
                .numbers(&[allowed::FREE_ABOVE_ZERO; 3])?,
        })
    };
    let tables = root.tables("place", "[[place]]", PLACE)?;
    tables.iter().map(place).collect()
}
