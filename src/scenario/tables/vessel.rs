//! `[vessel]`: the wall, the branches and their narrowings, also from a tree file.

use super::{allowed, anatomy, path, unique_name};
use crate::anatomy::Imported;
use crate::scenario::Warning;
use crate::scenario::error::{Checked, Fault, Problem};
use crate::scenario::measure;
use crate::scenario::model::{
    AttachmentSpec, BranchSpec, NarrowingSpec, ObstacleSpec, PathSpec, VesselSpec,
};
use crate::scenario::read::{Entry, Fields, Table};

/// Fields of the table.
pub(super) const VESSEL: Fields = &[
    ("file", "\"anatomy.vtp\""),
    ("units", "\"mm\""),
    ("frame", "\"left-posterior-superior\""),
    ("radius_array", "\"radius\""),
    ("name_array", "\"segment\""),
    ("names_file", "\"names.csv\""),
    ("inlet_mm", "[0, 0, 0]"),
    ("cut_inlet_mm", "10"),
    ("cut_inlet_radius_mm", "2.5"),
    ("split_mm", "0.2"),
    ("join_mm", "2"),
    ("stub_mm", "3"),
    ("smooth_mm", "1"),
    ("tight_bends", "\"eased\""),
    ("divide_at_mm", "10"),
    ("resample_mm", "0.5"),
    ("ends", "\"open\""),
    ("name", "[[vessel.name]]\ntip = 1\nname = \"LAD\""),
    ("tree", "\"trees/published-tree.toml\""),
    ("diameter_set", "\"right-dominant\""),
    ("carina_blend_mm", "0.5"),
    ("wall_stiffness_mN_per_mm2", "300"),
    (
        "branch",
        "[[vessel.branch]]\nname = \"parent\"\ndiameter_mm = 3.0\n\
         pieces = [{ shape = \"straight\", length_mm = 50 }]",
    ),
    (
        "narrowing",
        "[[vessel.narrowing]]\nbranch = \"parent\"\nat_mm = 20\nlength_mm = 8\ndiameter_mm = 1.2",
    ),
    (
        "obstacle",
        "[[vessel.obstacle]]\nbranch = \"parent\"\nat_mm = 20\nlength_mm = 4\ndiameter_mm = 1",
    ),
];

const BRANCH: Fields = &[
    ("name", "\"parent\""),
    ("parent", "\"parent\""),
    ("at_mm", "30"),
    ("take_off_deg", "90"),
    ("plane_deg", "0"),
    ("start_mm", "[0, 0, 0]"),
    ("direction", "[1, 0, 0]"),
    ("pieces", "[{ shape = \"straight\", length_mm = 50 }]"),
    ("points_mm", "[[0, 0, 0], [10, 0, 0]]"),
    ("points_cm_deg", "[[0, 0, 0], [1, 80, 4]]"),
    ("origin_mm", "[0, 0, 0]"),
    ("diameter_mm", "3.0"),
    ("diameters_mm", "[[0, 3.0], [50, 2.5]]"),
    ("point_diameters_mm", "[3.0, 2.5]"),
];

pub(super) const NARROWING: Fields = &[
    ("branch", "\"parent\""),
    ("tip", "1"),
    ("near_mm", "[0, 0, 0]"),
    ("at_mm", "20"),
    ("length_mm", "8"),
    ("diameter_mm", "1.2"),
];

pub(super) const OBSTACLE: Fields = &[
    ("branch", "\"parent\""),
    ("tip", "1"),
    ("near_mm", "[0, 0, 0]"),
    ("at_mm", "20"),
    ("length_mm", "4"),
    ("diameter_mm", "1"),
    ("off_axis_mm", "0.5"),
    ("plane_deg", "0"),
    ("stiffness_mN_per_mm2", "300"),
];

/// Default width of the blend at a carina, in mm.
const CARINA_BLEND_MM: f64 = 0.5;
/// Default stiffness of the wall, in mN/mm²: it keeps the deflection under the forces of a
/// coronary wire to some hundredths of a millimetre.
const WALL_STIFFNESS_MN_PER_MM2: f64 = 300.0;

/// Reads the bodies that stand in the lumen: the `[[vessel.obstacle]]` tables.
pub(super) fn obstacles(
    root: &Table<'_>,
    vessel: &VesselSpec,
    imported: Option<&Imported>,
) -> Checked<Vec<ObstacleSpec>> {
    let table = super::required(root, "vessel", VESSEL)?;
    let tables = table.tables("obstacle", "[[vessel.obstacle]]", OBSTACLE)?;
    let read = |table: &Table<'_>| {
        let (branch, station_mm) = stands(table, &vessel.branches, imported)?;
        Ok(ObstacleSpec {
            branch: branch.name.clone(),
            station_mm,
            length_mm: table.number("length_mm", &allowed::LENGTH)?,
            diameter_mm: table.number("diameter_mm", &allowed::LUMEN)?,
            off_axis_mm: table.number_or("off_axis_mm", &allowed::OFF_AXIS, 0.0)?,
            plane_rad: table.angle_or("plane_deg", &allowed::PLANE, 0.0)?,
            stiffness_mn_per_mm2: table.number_or(
                "stiffness_mN_per_mm2",
                &allowed::WALL_STIFFNESS,
                WALL_STIFFNESS_MN_PER_MM2,
            )?,
            place: table.place,
        })
    };
    tables.iter().map(read).collect()
}

/// Reads `[vessel]`, the tree file that it names and the tree that its file of anatomy became.
pub(super) fn vessel(
    root: &Table<'_>,
    tree: Option<&Table<'_>>,
    imported: Option<&Imported>,
    warnings: &mut Vec<Warning>,
) -> Checked<VesselSpec> {
    let table = super::required(root, "vessel", VESSEL)?;
    let set = table.optional("diameter_set");
    let mut tables = Vec::new();
    let mut narrowing_tables = Vec::new();
    if let Some(tree) = tree {
        tables.extend(tree.tables("branch", "[[branch]]", BRANCH)?);
        narrowing_tables.extend(tree.tables("narrowing", "[[narrowing]]", NARROWING)?);
    }
    tables.extend(table.tables("branch", "[[vessel.branch]]", BRANCH)?);
    narrowing_tables.extend(table.tables("narrowing", "[[vessel.narrowing]]", NARROWING)?);
    let mut branches: Vec<BranchSpec> = match (imported, table.optional("file")) {
        (Some(imported), Some(file)) => anatomy::branches(imported, &file, warnings),
        _ => Vec::new(),
    };
    if tables.is_empty() && branches.is_empty() {
        return Err(table.missing("branch"));
    }
    for table in tables {
        let branch = branch(&table, &branches, set.as_ref())?;
        branches.push(branch);
    }
    let narrowings = narrowing_tables
        .iter()
        .map(|table| narrowing(table, &branches, imported))
        .collect::<Checked<_>>()?;
    Ok(VesselSpec {
        branches,
        narrowings,
        carina_blend_mm: table.number_or("carina_blend_mm", &allowed::BLEND, CARINA_BLEND_MM)?,
        wall_stiffness_mn_per_mm2: table.number_or(
            "wall_stiffness_mN_per_mm2",
            &allowed::WALL_STIFFNESS,
            WALL_STIFFNESS_MN_PER_MM2,
        )?,
        surface: imported.and_then(|i| i.surface.clone()),
        folds: imported.is_some(),
    })
}

fn branch(
    table: &Table<'_>,
    earlier: &[BranchSpec],
    set: Option<&Entry<'_>>,
) -> Checked<BranchSpec> {
    let names: Vec<&str> = earlier.iter().map(|branch| branch.name.as_str()).collect();
    let name = unique_name(table, &names, None)?;
    let mut path = path::path(table)?;
    let diameters = diameters(table, &mut path, set)?;
    let attached = match table.optional("parent") {
        None => None,
        Some(entry) => Some(attachment(table, &entry, earlier, &path)?),
    };
    Ok(BranchSpec {
        name,
        attached,
        path,
        diameters,
        place: table.place,
    })
}

fn attachment(
    table: &Table<'_>,
    entry: &Entry<'_>,
    earlier: &[BranchSpec],
    path: &PathSpec,
) -> Checked<AttachmentSpec> {
    let parent = named(entry, earlier, "a branch described before this one")?;
    let station_mm = match (table.optional("at_mm"), path) {
        (None, PathSpec::Points(_)) => None,
        (None, PathSpec::Pieces { .. }) => return Err(table.missing("at_mm")),
        (Some(at), _) => Some(station(&at, parent)?),
    };
    Ok(AttachmentSpec {
        parent: parent.name.clone(),
        station_mm,
        place: entry.place(),
    })
}

/// The branch that a text names.
pub(super) fn named<'b>(
    entry: &Entry<'_>,
    branches: &'b [BranchSpec],
    kind: &'static str,
) -> Checked<&'b BranchSpec> {
    let name = entry.text()?;
    let found = branches.iter().find(|branch| branch.name == name);
    found.ok_or_else(|| {
        let names: Vec<&str> = branches.iter().map(|branch| branch.name.as_str()).collect();
        entry.unknown(kind, &names)
    })
}

/// A station that must lie on a branch.
pub(super) fn station(entry: &Entry<'_>, branch: &BranchSpec) -> Checked<f64> {
    let station = entry.number(&allowed::STATION)?;
    let length = measure::length_mm(&branch.path);
    if station <= length {
        return Ok(station);
    }
    Err(entry.disagreement(
        format!(
            "branch \"{}\" is {length:.1} mm long; allowed is 0 to {length:.1} mm",
            branch.name
        ),
        "give a station on the branch, counted in mm from its start".into(),
    ))
}

/// Diameters against station. Points that are absent in the chosen set are taken off the path.
fn diameters(
    table: &Table<'_>,
    path: &mut PathSpec,
    set: Option<&Entry<'_>>,
) -> Checked<Vec<(f64, f64)>> {
    const WAYS: [&str; 3] = ["diameter_mm", "diameters_mm", "point_diameters_mm"];
    let mut given = WAYS.into_iter().filter(|field| table.has(field));
    let Some(way) = given.next() else {
        return Err(table.missing("diameter_mm"));
    };
    if let Some(other) = given.next() {
        return Err(table.disagreement(
            other,
            format!("{way} says the diameter already"),
            format!("keep one of {}", WAYS.join(", ")),
        ));
    }
    let entry = table.required(way)?;
    match (way, path) {
        ("diameter_mm", _) => Ok(vec![(0.0, entry.number(&allowed::LUMEN)?)]),
        ("point_diameters_mm", PathSpec::Points(points)) => {
            let diameters = point_diameters(&chosen(&entry, set, table)?, points.len())?;
            points.truncate(diameters.len());
            Ok(measure::chord_stations(points)
                .into_iter()
                .zip(diameters)
                .collect())
        }
        _ => entry.profile(&allowed::LUMEN),
    }
}

/// The list of diameters: the value itself, or the one of the chosen set.
fn chosen<'a>(entry: &Entry<'a>, set: Option<&Entry<'_>>, table: &Table<'_>) -> Checked<Entry<'a>> {
    let Some(sets) = entry.free_table() else {
        return Ok(entry.clone());
    };
    let names: Vec<&str> = sets.keys().map(|key| key.get_ref().as_ref()).collect();
    let Some(set) = set else {
        return Err(Problem::new(
            Fault::Disagreement {
                field: "point_diameters_mm".into(),
                table: table.title.clone(),
                value: "a table of diameter sets".into(),
                reason: format!(
                    "[vessel] does not say which: allowed are {}",
                    names.join(", ")
                ),
                remedy: "add diameter_set to [vessel]".into(),
            },
            entry.place(),
        ));
    };
    entry
        .inside(set.text()?)
        .ok_or_else(|| set.unknown("a diameter set of the tree", &names))
}

/// One diameter for each point; the word "absent" from some point to the end leaves those out.
fn point_diameters(list: &Entry<'_>, points: usize) -> Checked<Vec<f64>> {
    let entries = list.list()?;
    if entries.len() != points {
        return Err(list.disagreement(
            format!("the branch has {points} points; give one diameter for each"),
            "write \"absent\" for points at the end that this vessel does not have".into(),
        ));
    }
    let is_absent = |entry: &Entry<'_>| entry.text().is_ok_and(|text| text == "absent");
    let present = entries.iter().position(is_absent).unwrap_or(points);
    if present < 2 {
        return Err(list.disagreement(
            "fewer than two points are present".into(),
            "a branch needs two points or more".into(),
        ));
    }
    if let Some(entry) = entries[present..].iter().find(|entry| !is_absent(entry)) {
        return Err(entry.disagreement(
            "an absent point stands before it".into(),
            "only points at the end of a branch may be absent".into(),
        ));
    }
    entries[..present]
        .iter()
        .map(|entry| entry.number(&allowed::LUMEN))
        .collect()
}

/// The branch at which a table points and the station on it in mm: `at_mm`, or, where a
/// coordinate points at it, the place nearest to that.
fn stands<'b>(
    table: &Table<'_>,
    branches: &'b [BranchSpec],
    imported: Option<&Imported>,
) -> Checked<(&'b BranchSpec, f64)> {
    let entry = anatomy::said_branch(table)?;
    let (name, near) = anatomy::branch(table, imported)?;
    let branch = match branches.iter().find(|b| b.name == name) {
        Some(branch) => branch,
        None => named(&entry, branches, "the name of a branch")?,
    };
    match (table.optional("at_mm"), near) {
        (None, Some(near)) => Ok((branch, near)),
        _ => Ok((branch, station(&table.required("at_mm")?, branch)?)),
    }
}

fn narrowing(
    table: &Table<'_>,
    branches: &[BranchSpec],
    imported: Option<&Imported>,
) -> Checked<NarrowingSpec> {
    let (branch, station_mm) = stands(table, branches, imported)?;
    Ok(NarrowingSpec {
        branch: branch.name.clone(),
        station_mm,
        length_mm: table.number("length_mm", &allowed::LENGTH)?,
        diameter_mm: table.number("diameter_mm", &allowed::LUMEN)?,
        place: table.place,
    })
}
