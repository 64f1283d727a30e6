//! The part of `[vessel]` that says how a file of anatomy is read, and pointing at its branches.

use super::study::{GUIDE, TARGET};
use super::vessel::{NARROWING, OBSTACLE, VESSEL};
use super::{allowed, required};
use crate::anatomy::tree::{ImportedBranch, Naming, Settings, Which};
use crate::anatomy::{Arrays, Frame, Imported, Unit};
use crate::scenario::Warning;
use crate::scenario::error::{Checked, Fault, Problem};
use crate::scenario::measure;
use crate::scenario::model::{AttachmentSpec, BranchSpec, PathSpec, Place};
use crate::scenario::read::{Entry, Fields, Table};

/// Fields that have a meaning only with `file`.
const WITH_FILE: [&str; 17] = [
    "units",
    "frame",
    "radius_array",
    "name_array",
    "names_file",
    "inlet_mm",
    "cut_inlet_mm",
    "cut_inlet_radius_mm",
    "split_mm",
    "join_mm",
    "stub_mm",
    "smooth_mm",
    "tight_bends",
    "divide_at_mm",
    "resample_mm",
    "ends",
    "name",
];

const NAME: Fields = &[
    ("name", "\"LAD\""),
    ("branch", "\"branch-1.1\""),
    ("tip", "1"),
    ("near_mm", "[0, 0, 0]"),
];

/// Length over which the diameters of a branch are told beyond a fork, in mm: more than they are
/// averaged over.
const OVER_FORK_MM: f64 = 2.0;

/// Ways to point at a branch.
const POINTERS: [&str; 3] = ["branch", "tip", "near_mm"];

/// Which file of anatomy is wanted, and how it is to be read.
pub(in crate::scenario) struct Request {
    /// Its path, as written.
    pub(in crate::scenario) file: String,
    pub(in crate::scenario) settings: Settings,
    /// Where the file is named.
    pub(in crate::scenario) place: Place,
    /// Path of the file of names, as written, and where it is named.
    pub(in crate::scenario) names: Option<(String, Place)>,
}

/// The file of anatomy that `[vessel]` asks for, if any.
pub(in crate::scenario) fn request(root: &Table<'_>) -> Checked<Option<Request>> {
    let table = required(root, "vessel", VESSEL)?;
    let Some(file) = table.optional("file") else {
        return match WITH_FILE.iter().find(|field| table.has(field)) {
            None => Ok(None),
            Some(field) => Err(table.disagreement(
                field,
                "it goes with file".into(),
                format!("name the file of anatomy, or remove {field}"),
            )),
        };
    };
    for other in ["tree", "diameter_set"] {
        if table.has(other) {
            return Err(table.disagreement(
                other,
                "file says the vessel already".into(),
                "keep one of file and tree".into(),
            ));
        }
    }
    let default = Settings::default();
    let text = |field: &str| -> Checked<Option<String>> {
        let entry = table.optional(field);
        entry.map(|e| e.text().map(str::to_owned)).transpose()
    };
    let reach = |field: &str, default: f64| table.number_or(field, &allowed::REACH, default);
    let settings = Settings {
        arrays: Arrays {
            radius: text("radius_array")?,
            name: text("name_array")?,
        },
        units: choice(
            &table,
            "units",
            "a unit",
            &[
                ("mm", Unit::Millimetre),
                ("cm", Unit::Centimetre),
                ("m", Unit::Metre),
            ],
        )?,
        frame: choice(
            &table,
            "frame",
            "a frame",
            &[
                ("left-posterior-superior", Frame::LeftPosteriorSuperior),
                ("LPS", Frame::LeftPosteriorSuperior),
                ("right-anterior-superior", Frame::RightAnteriorSuperior),
                ("RAS", Frame::RightAnteriorSuperior),
                ("scene", Frame::Scene),
            ],
        )?,
        guess_units: false,
        frame_needed: root.has("view"),
        inlet: table.optional("inlet_mm").map(|e| e.point()).transpose()?,
        cut_mm: table.number_or("cut_inlet_mm", &allowed::STATION, default.cut_mm)?,
        cut_radius_mm: table.number_if("cut_inlet_radius_mm", &allowed::LUMEN)?,
        split_mm: reach("split_mm", default.split_mm)?,
        join_mm: reach("join_mm", default.join_mm)?,
        join_lumens: !table.has("join_mm"),
        stub_mm: reach("stub_mm", default.stub_mm)?,
        smooth_mm: table.number_or("smooth_mm", &allowed::SMOOTHING, default.smooth_mm)?,
        smooth_more: choice(
            &table,
            "tight_bends",
            "a way to treat bends",
            &[("eased", true), ("kept", false)],
        )?
        .unwrap_or(default.smooth_more),
        divide_mm: table.number_if("divide_at_mm", &allowed::STATION)?,
        spacing_mm: table.number_or("resample_mm", &allowed::SPACING, default.spacing_mm)?,
        open_ends: choice(
            &table,
            "ends",
            "a kind of end",
            &[("open", true), ("closed", false)],
        )?
        .unwrap_or(default.open_ends),
        names: names(&table)?,
    };
    Ok(Some(Request {
        file: file.text()?.to_owned(),
        settings,
        place: file.place(),
        names: match table.optional("names_file") {
            Some(names) => Some((names.text()?.to_owned(), names.place())),
            None => None,
        },
    }))
}

fn choice<T: Copy>(
    table: &Table<'_>,
    field: &str,
    kind: &'static str,
    words: &[(&str, T)],
) -> Checked<Option<T>> {
    let entry = table.optional(field);
    entry.map(|e| e.choice(kind, words)).transpose()
}

fn names(table: &Table<'_>) -> Checked<Vec<Naming>> {
    let mut out: Vec<Naming> = Vec::new();
    for entry in table.tables("name", "[[vessel.name]]", NAME)? {
        let taken: Vec<&str> = out.iter().map(|n| n.name.as_str()).collect();
        out.push(Naming {
            name: super::unique_name(&entry, &taken, None)?,
            which: which(&said_branch(&entry)?)?,
            said: None,
        });
    }
    Ok(out)
}

/// The value by which a table points at a branch: a name, a tip or a point.
pub(in crate::scenario) fn said_branch<'a>(table: &Table<'a>) -> Checked<Entry<'a>> {
    let mut said = POINTERS.into_iter().filter(|field| table.has(field));
    let Some(field) = said.next() else {
        return Err(table.missing("branch"));
    };
    if let Some(other) = said.next() {
        return Err(table.disagreement(
            other,
            format!("{field} says the branch already"),
            format!("keep one of {}", POINTERS.join(", ")),
        ));
    }
    table.required(field)
}

fn which(entry: &Entry<'_>) -> Checked<Which> {
    Ok(match entry.name() {
        "tip" => Which::Tip(usize::try_from(entry.whole(&allowed::TIP)?).unwrap_or(usize::MAX)),
        "near_mm" => Which::Near(entry.point()?),
        _ => Which::Branch(entry.text()?.to_owned()),
    })
}

/// Name of the branch at which a table points, and, where it does so by a point, the station of
/// the nearest place on it in mm.
pub(super) fn branch(
    table: &Table<'_>,
    imported: Option<&Imported>,
) -> Checked<(String, Option<f64>)> {
    let entry = said_branch(table)?;
    let which = which(&entry)?;
    let Some(imported) = imported else {
        return match which {
            Which::Branch(name) => Ok((name, None)),
            _ => Err(entry.disagreement(
                "the vessel does not come from a file".into(),
                "name the branch: branch = \"...\"".into(),
            )),
        };
    };
    match imported.find(&which) {
        Ok((branch, place)) => Ok((branch.name.clone(), place.map(|(station, _)| station))),
        // A branch that the scenario describes beside the file; its name is checked later.
        Err(_) if matches!(which, Which::Branch(_)) => Ok((entry.text()?.to_owned(), None)),
        Err(fault) => Err(Problem::new(
            Fault::Anatomy {
                message: fault.to_string(),
                remedy: fault.help(),
            },
            entry.place(),
        )),
    }
}

/// What the points by which a scenario points at its file's branches have found, in words.
///
/// # Errors
/// As for the tables themselves.
pub(in crate::scenario) fn pointed(root: &Table<'_>, imported: &Imported) -> Checked<Vec<String>> {
    let vessel = required(root, "vessel", VESSEL)?;
    let mut tables = vec![
        required(root, "guide", GUIDE)?,
        required(root, "target", TARGET)?,
    ];
    tables.extend(vessel.tables("narrowing", "[[vessel.narrowing]]", NARROWING)?);
    tables.extend(vessel.tables("obstacle", "[[vessel.obstacle]]", OBSTACLE)?);
    let mut out = Vec::new();
    for table in tables.iter().filter(|table| table.has("near_mm")) {
        let (name, _) = branch(table, Some(imported))?;
        let point = table.required("near_mm")?.point()?;
        if let Some(said) = imported.say_near(&name, &point) {
            out.push(format!("near_mm of {}: {said}", table.title));
        }
    }
    Ok(out)
}

/// The branches of a tree that came from a file; what is odd about it becomes warnings.
pub(super) fn branches(
    imported: &Imported,
    file: &Entry<'_>,
    warnings: &mut Vec<Warning>,
) -> Vec<BranchSpec> {
    let place = file.place();
    warnings.extend(imported.warnings.iter().map(|w| Warning {
        message: format!("file of [vessel]: {w}"),
        place,
    }));
    let all = imported.branches.iter().enumerate();
    all.map(|(i, branch)| BranchSpec {
        name: branch.name.clone(),
        attached: branch.parent.map(|parent| AttachmentSpec {
            parent: imported.branches[parent].name.clone(),
            station_mm: None,
            place,
        }),
        path: PathSpec::Points(branch.points.clone()),
        diameters: diameters(&imported.branches, i),
        place,
    })
    .collect()
}

/// Diameter against station of branch `i` in mm.
///
/// The round end of a tube has no taper, so where a tapered one ends among others the wall would
/// have a kink on which a wire finds no rest. Where the same vessel goes on as another branch, some
/// stations of that are told too; where a branch begins or ends at a fork otherwise, they are
/// mirrored there, so that the mean over a short way has no slope at the end.
fn diameters(all: &[ImportedBranch], i: usize) -> Vec<(f64, f64)> {
    let profile = |b: &ImportedBranch| -> Vec<(f64, f64)> {
        let stations = measure::chord_stations(&b.points).into_iter();
        stations.zip(b.radii.iter().map(|r| 2.0 * r)).collect()
    };
    let mut own = profile(&all[i]);
    let length = own.last().map_or(0.0, |d| d.0);
    let child = goes_on(all, i);
    if let Some(child) = child {
        let beyond = profile(&all[child]).into_iter();
        let kept = beyond.filter(|d| d.0 > 0.0 && d.0 < OVER_FORK_MM);
        own.extend(kept.map(|(s, d)| (length + s, d)));
    } else if all.iter().any(|b| b.parent == Some(i)) {
        let kept = own.iter().rev().filter(|d| d.0 < length);
        let kept = kept.take_while(|d| d.0 > length - OVER_FORK_MM);
        let mirrored: Vec<_> = kept.map(|d| (2.0 * length - d.0, d.1)).collect();
        own.extend(mirrored);
    }
    let Some(parent) = all[i].parent else {
        return own;
    };
    if goes_on(all, parent) == Some(i) {
        let before = profile(&all[parent]);
        let end = before.last().map_or(0.0, |d| d.0);
        let kept = before.into_iter();
        let kept = kept.filter(|d| d.0 < end && d.0 > end - OVER_FORK_MM);
        own.splice(0..0, kept.map(|(s, d)| (s - end, d)));
    } else {
        let kept = own.iter().filter(|d| d.0 > 0.0 && d.0 < OVER_FORK_MM);
        let mirrored: Vec<_> = kept.map(|d| (-d.0, d.1)).rev().collect();
        own.splice(0..0, mirrored);
    }
    own
}

/// The branch as which the vessel of branch `i` goes on beyond the fork at its end.
fn goes_on(all: &[ImportedBranch], i: usize) -> Option<usize> {
    let turn = |child: usize| all[i].turn_into(&all[child]);
    (0..all.len())
        .filter(|child| all[*child].parent == Some(i))
        .filter_map(|child| Some((child, turn(child)?)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(child, _)| child)
}
