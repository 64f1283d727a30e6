//! The tables of a scenario file, one file a subject.
mod aids;
mod anatomy;
mod assay;
mod catheter;
mod path;
mod study;
mod technique;
mod vessel;
mod view;
mod wire;

pub(super) use anatomy::{pointed, request as anatomy_request, said_branch};
pub(super) use assay::ASSAY_FIELD;
pub(super) use catheter::CATHETER;
pub(super) use study::{GUIDE, TARGET};

use super::allowed;
use super::bench::Bench;
use super::error::{Checked, Fault, Problem};
use super::model::Scenario;
use super::read::{Fields, Table};
use super::{Warning, checks};
use crate::anatomy::Imported;
use std::path::Path;

/// Fields at the top of a scenario file.
pub(super) const SCENARIO: Fields = &[
    ("name", "\"side-branch\""),
    ("origin", "\"invented\""),
    ("description", "\"What this scenario teaches.\""),
    ("study", "[study]\ntrials = 32"),
    (
        "vessel",
        "[vessel]\n[[vessel.branch]]\nname = \"parent\"\ndiameter_mm = 3.0\n\
         pieces = [{ shape = \"straight\", length_mm = 50 }]",
    ),
    ("guide", "[guide]\nbranch = \"parent\""),
    ("target", "[target]\nbranch = \"side\"\nmax_fed_mm = 80"),
    (
        "wire",
        "[[wire]]\nname = \"soft\"\ndiameter_mm = 0.3556\ntip_load_gf = 0.3\n\
         core_mm = [[20, 0.06], [200, 0.18]]\nsurface = \"hydrophilic\"",
    ),
    (
        "catheter",
        "[[catheter]]\nname = \"straight\"\nouter_diameter_fr = 2\ninner_diameter_mm = 0.45\n\
         stiffness_N_mm2 = [[0, 0.3], [100, 3]]\nsurface = \"hydrophilic\"",
    ),
    ("technique", "[[technique]]\nkind = \"push\""),
    (
        "view",
        "[view]\npatient_frame = [\"left\", \"head\", \"front\"]",
    ),
    ("variation", "[variation]\nroll_half_width_deg = 180"),
    ("solver", "[solver]\nstep_mm = 0.2"),
    ASSAY_FIELD,
];

/// Fields at the top of a file of wires for the bench.
pub(super) const BENCH: Fields = &[
    ("name", "\"wires\""),
    ("description", "\"What these wires are.\""),
    (
        "wire",
        "[[wire]]\nname = \"soft\"\ndiameter_mm = 0.3556\ntip_load_gf = 0.3\n\
         core_mm = [[20, 0.06], [200, 0.18]]\nsurface = \"hydrophilic\"",
    ),
    ASSAY_FIELD,
];

/// Fields at the top of a tree file.
pub(super) const TREE: Fields = &[
    ("origin", "\"the published source\""),
    (
        "branch",
        "[[branch]]\nname = \"trunk\"\npoints_mm = [[0, 0, 0], [10, 0, 0]]\ndiameter_mm = 3",
    ),
    (
        "narrowing",
        "[[narrowing]]\nbranch = \"trunk\"\nat_mm = 5\nlength_mm = 4\ndiameter_mm = 1",
    ),
];

/// Reads a file of wires for the bench, called `file_name` where it has no name of its own, from
/// its root table; `folder` is where paths in it count from.
pub(super) fn bench(
    root: &Table<'_>,
    file_name: &str,
    folder: &Path,
) -> Checked<(Bench, Vec<Warning>)> {
    let mut warnings = Vec::new();
    let wires = wire::wires(root, &mut warnings)?;
    let bench = Bench {
        name: match root.optional("name") {
            Some(name) => name.text()?.to_owned(),
            None => file_name.to_owned(),
        },
        assay: assay::assay(root, &wires, folder)?,
        wires,
    };
    Ok((bench, warnings))
}

/// Reads the whole scenario from its root table, the root of its tree file and the tree that its
/// file of anatomy became.
pub(super) fn scenario(
    root: &Table<'_>,
    tree: Option<&Table<'_>>,
    imported: Option<&Imported>,
) -> Checked<(Scenario, Vec<Warning>)> {
    let mut warnings = Vec::new();
    let name = root.required("name")?;
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '-';
    let text = name.text()?;
    if text.is_empty() || !text.chars().all(plain) {
        return Err(name.disagreement(
            "allowed are letters, digits and dashes, at least one".into(),
            "choose a short name such as \"side-branch\"".into(),
        ));
    }
    let vessel = vessel::vessel(root, tree, imported, &mut warnings)?;
    let view = view::view(root, &vessel)?;
    let catheters = catheter::catheters(root)?;
    let wires = wire::wires(root, &mut warnings)?;
    let scenario = Scenario {
        name: text.to_owned(),
        origin: match tree.filter(|tree| tree.has("origin") && !root.has("origin")) {
            Some(tree) => tree.text("origin")?,
            None => root.text("origin")?,
        },
        description: root.text("description")?,
        study: study::study(root)?,
        obstacles: vessel::obstacles(root, &vessel, imported)?,
        vessel,
        guide: study::guide(root, imported)?,
        target: study::target(root, imported)?,
        techniques: technique::techniques(root, view.is_some(), &wires, &catheters)?,
        wires,
        catheters,
        view,
        variation: study::variation(root)?,
        solver: study::solver(root)?,
    };
    checks::whole(root, &scenario)?;
    Ok((scenario, warnings))
}

/// A table that must be there.
pub(super) fn required<'a>(root: &Table<'a>, field: &str, fields: Fields) -> Checked<Table<'a>> {
    root.table(field, fields)?
        .ok_or_else(|| root.missing(field))
}

/// The tables of a list that must hold at least one, under the header `[[field]]`.
fn at_least_one<'a>(root: &Table<'a>, field: &str, fields: Fields) -> Checked<Vec<Table<'a>>> {
    root.required(field)?
        .list_of(1, &format!("add at least one [[{field}]] table"))?;
    root.tables(field, &format!("[[{field}]]"), fields)
}

/// A name that no earlier table of its kind has. Names that differ only in case or punctuation
/// count as the same, because results are filed under them.
fn unique_name(table: &Table<'_>, earlier: &[&str], default: Option<&str>) -> Checked<String> {
    let entry = table.optional("name");
    let name = match (&entry, default) {
        (Some(entry), _) => entry.text()?,
        (None, Some(default)) => default,
        (None, None) => return Err(table.missing("name")),
    };
    if filed(name).is_empty() || name.len() > 60 || name.chars().any(char::is_control) {
        return Err(table.disagreement(
            "name",
            "allowed are 1 to 60 characters with at least one letter or digit".into(),
            "choose a short name".into(),
        ));
    }
    match earlier.iter().find(|other| filed(other) == filed(name)) {
        None => Ok(name.to_owned()),
        Some(other) => Err(Problem::new(
            Fault::Disagreement {
                field: "name".into(),
                table: table.title.clone(),
                value: format!("\"{name}\""),
                reason: format!(
                    "the name \"{other}\" stands before it; names must differ in their letters or digits"
                ),
                remedy: "give it a name of its own".into(),
            },
            entry.map_or(table.place, |entry| entry.place()),
        )),
    }
}

fn filed(name: &str) -> String {
    let kept = name.chars().filter(|c| c.is_alphanumeric() || *c == '.');
    kept.flat_map(char::to_lowercase).collect()
}
