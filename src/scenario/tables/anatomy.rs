//! The part of `[vessel]` that says how a file of anatomy is read, and what its branches become.

use nalgebra::Vector3;
use schemars::JsonSchema;
use serde::Deserialize;

use super::Names;
use super::pointer::Pointer;
use crate::anatomy::tree::{ImportSettings, ImportedBranch, Naming};
use crate::anatomy::{Arrays, Frame, Imported, Unit};
use crate::scenario::Warning;
use crate::scenario::measure;
use crate::scenario::model::{AttachmentSpec, BranchSpec, PathSpec};
use crate::schema::{Place, Read, Refusal, shapes};

/// Length over which the diameters of a branch are told beyond a fork, in mm: more than they are
/// averaged over.
const OVER_FORK_MM: f64 = 2.0;

/// Fields of `[vessel]` that say which file of anatomy is read and how.
#[derive(Debug, Default, Deserialize, JsonSchema)]
pub(in crate::scenario) struct AnatomyTable {
    /// File of anatomy: centrelines with radius (.vtp, .vtk, .swc, .csv) or a lumen surface (.stl,
    /// .ply, .obj, .vtp, .vtk), path from this file.
    #[schemars(extend("x-example" = "\"anatomy.vtp\""))]
    file: Option<String>,
    /// Unit of the file.
    #[schemars(extend("x-default" = "from the size, with a warning", "x-example" = "\"mm\""))]
    units: Option<UnitWord>,
    /// Which way the axes of the file point: in the patient, or as the scene's (x to the patient's
    /// left, y to the head, z to the front).
    #[schemars(extend(
        "x-default" = "what the file states as SPACE=; else left-posterior-superior with a warning, and with [view] it must be given",
        "x-example" = "\"left-posterior-superior\""
    ))]
    frame: Option<FrameWord>,
    /// Name of the radius array or column.
    #[schemars(extend(
        "x-default" = "MaximumInscribedSphereRadius, radius; twice: diameter",
        "x-example" = "\"radius\""
    ))]
    radius_array: Option<String>,
    /// Name of the array of texts (at lines or points) or column that names the branches.
    #[schemars(extend("x-default" = "name, label", "x-example" = "\"segment\""))]
    name_array: Option<String>,
    /// Table (.csv) with a column name and one of branch, tip or x, y, z (mm, scene's frame), path
    /// from this file.
    #[schemars(extend("x-example" = "\"names.csv\""))]
    names_file: Option<String>,
    /// Point near which the tree begins, in mm in the scene's frame; no further from an end than two lumen
    /// diameters there or 3 mm.
    #[schemars(schema_with = "shapes::point_mm")]
    #[schemars(extend(
        "x-default" = "the root in the file, the place where all lines start (or end) side by side, or the widest end",
        "x-example" = "[0, 0, 0]"
    ))]
    #[serde(default)]
    inlet_mm: Option<[f64; 3]>,
    /// Length cut off every line that begins at the inlet.
    #[schemars(range(min = 0, max = 10_000), extend("default" = ImportSettings::default().cut_mm, "x-example" = "10"))]
    cut_inlet_mm: Option<f64>,
    /// Cut up to where, behind its widest point, the radius first falls below this.
    #[schemars(range(max = 40), extend("exclusiveMinimum" = 0, "x-example" = "2.5"))]
    cut_inlet_radius_mm: Option<f64>,
    /// Distance from which on two lines are two vessels.
    #[schemars(range(min = 0, max = 50), extend("default" = ImportSettings::default().split_mm, "x-example" = "0.2"))]
    split_mm: Option<f64>,
    /// Largest distance from its parent at which a branch may begin.
    #[schemars(range(min = 0, max = 50), extend(
        "x-default" = "2, or as far as the lumens run into each other",
        "x-example" = "2"
    ))]
    join_mm: Option<f64>,
    /// Side branches shorter than this are dropped.
    #[schemars(range(min = 0, max = 50), extend("default" = ImportSettings::default().stub_mm, "x-example" = "3"))]
    stub_mm: Option<f64>,
    /// Scale to which path and radius are smoothed.
    #[schemars(range(min = 0, max = 10), extend("default" = ImportSettings::default().smooth_mm, "x-example" = "1"))]
    smooth_mm: Option<f64>,
    /// What is done about bends with a lumen radius of more than 0.7 of their own; either way the
    /// lumen is the union of the balls along the lines if one of more than 0.75 is left.
    #[schemars(extend("default" = "eased", "x-example" = "\"eased\""))]
    tight_bends: Option<TightBends>,
    /// Where a vessel without forks is divided, so that its second part can be the target.
    #[schemars(range(min = 0, max = 10_000), extend("x-example" = "10"))]
    divide_at_mm: Option<f64>,
    /// Distance between the points of a branch.
    #[schemars(range(min = 0.05, max = 20), extend("default" = ImportSettings::default().spacing_mm, "x-example" = "0.5"))]
    resample_mm: Option<f64>,
    /// Holes of a surface: extended straight, or closed flat.
    #[schemars(extend("default" = "open", "x-example" = "\"open\""))]
    ends: Option<Ends>,
    /// Names for branches of the file.
    #[schemars(length(max = 2500), extend("x-example" = "[[vessel.name]]\ntip = 1\nname = \"LAD\""))]
    name: Option<Vec<NameTable>>,
}

#[derive(Debug, Clone, Copy, Deserialize, JsonSchema)]
#[schemars(extend("x-kind" = "a unit"))]
enum UnitWord {
    #[serde(rename = "mm")]
    Millimetre,
    #[serde(rename = "cm")]
    Centimetre,
    #[serde(rename = "m")]
    Metre,
}

#[derive(Debug, Clone, Copy, Deserialize, JsonSchema)]
#[schemars(extend("x-kind" = "a frame"))]
enum FrameWord {
    #[serde(rename = "left-posterior-superior")]
    LeftPosteriorSuperior,
    #[serde(rename = "LPS")]
    Lps,
    #[serde(rename = "right-anterior-superior")]
    RightAnteriorSuperior,
    #[serde(rename = "RAS")]
    Ras,
    #[serde(rename = "scene")]
    Scene,
}

#[derive(Debug, Clone, Copy, PartialEq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[schemars(extend("x-kind" = "a way to treat bends"))]
enum TightBends {
    /// Smoothed more.
    Eased,
    /// Left as they are.
    Kept,
}

#[derive(Debug, Clone, Copy, PartialEq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[schemars(extend("x-kind" = "a kind of end"))]
enum Ends {
    /// Led on straight.
    Open,
    /// Closed flat.
    Closed,
}

/// A name for a branch of the file.
#[derive(Debug, Deserialize, JsonSchema)]
struct NameTable {
    /// The name.
    #[schemars(extend("x-example" = "\"LAD\""))]
    name: String,
    #[serde(flatten)]
    said: Pointer,
}

/// Which file of anatomy is wanted, and how it is to be read.
pub(in crate::scenario) struct Request {
    /// Its path, as written.
    pub(in crate::scenario) file: String,
    pub(in crate::scenario) settings: ImportSettings,
    /// Path of the file of names, as written.
    pub(in crate::scenario) names: Option<String>,
}

/// Where the file of anatomy is named.
pub(in crate::scenario) fn file_place() -> Place {
    Place::top("vessel").field("file")
}

/// Where the files of further phases of a beat are named.
pub(in crate::scenario) fn phases_place() -> Place {
    let motion = Place::top("vessel").field("motion");
    motion.field("heart").field("phases")
}

/// Where the file of names is named.
pub(in crate::scenario) fn names_place() -> Place {
    Place::top("vessel").field("names_file")
}

impl AnatomyTable {
    /// Whether a file of anatomy is named.
    pub(super) fn is_said(&self) -> bool {
        self.file.is_some()
    }

    /// The first field that is said and has a meaning only with `file`.
    fn with_file(&self) -> Option<&'static str> {
        let said = [
            ("units", self.units.is_some()),
            ("frame", self.frame.is_some()),
            ("radius_array", self.radius_array.is_some()),
            ("name_array", self.name_array.is_some()),
            ("names_file", self.names_file.is_some()),
            ("inlet_mm", self.inlet_mm.is_some()),
            ("cut_inlet_mm", self.cut_inlet_mm.is_some()),
            ("cut_inlet_radius_mm", self.cut_inlet_radius_mm.is_some()),
            ("split_mm", self.split_mm.is_some()),
            ("join_mm", self.join_mm.is_some()),
            ("stub_mm", self.stub_mm.is_some()),
            ("smooth_mm", self.smooth_mm.is_some()),
            ("tight_bends", self.tight_bends.is_some()),
            ("divide_at_mm", self.divide_at_mm.is_some()),
            ("resample_mm", self.resample_mm.is_some()),
            ("ends", self.ends.is_some()),
            ("name", self.name.is_some()),
        ];
        said.iter().find(|(_, said)| *said).map(|(field, _)| *field)
    }

    /// The file of anatomy that the table asks for, if any. `other` is a field that is said and
    /// describes the vessel otherwise; `framed` says whether the scene lies in a patient.
    pub(in crate::scenario) fn request(
        &self,
        other: Option<&'static str>,
        framed: bool,
    ) -> Read<Option<Request>> {
        let at = Place::top("vessel");
        let Some(file) = &self.file else {
            return match self.with_file() {
                None => Ok(None),
                Some(field) => Err(Refusal::at(
                    at.field(field),
                    "it goes with file",
                    format!("name the file of anatomy, or remove {field}"),
                )),
            };
        };
        if let Some(other) = other {
            return Err(Refusal::at(
                at.field(other),
                "file says the vessel already",
                "keep one of file and tree",
            ));
        }
        let default = ImportSettings::default();
        let settings = ImportSettings {
            arrays: Arrays {
                radius: self.radius_array.clone(),
                name: self.name_array.clone(),
            },
            units: self.units.map(|word| match word {
                UnitWord::Millimetre => Unit::Millimetre,
                UnitWord::Centimetre => Unit::Centimetre,
                UnitWord::Metre => Unit::Metre,
            }),
            frame: self.frame.map(|word| match word {
                FrameWord::LeftPosteriorSuperior | FrameWord::Lps => Frame::LeftPosteriorSuperior,
                FrameWord::RightAnteriorSuperior | FrameWord::Ras => Frame::RightAnteriorSuperior,
                FrameWord::Scene => Frame::Scene,
            }),
            guess_units: false,
            frame_needed: framed,
            inlet: self.inlet_mm.map(Vector3::from),
            cut_mm: self.cut_inlet_mm.unwrap_or(default.cut_mm),
            cut_radius_mm: self.cut_inlet_radius_mm,
            split_mm: self.split_mm.unwrap_or(default.split_mm),
            join_mm: self.join_mm.unwrap_or(default.join_mm),
            join_lumens: self.join_mm.is_none(),
            stub_mm: self.stub_mm.unwrap_or(default.stub_mm),
            smooth_mm: self.smooth_mm.unwrap_or(default.smooth_mm),
            smooth_more: self
                .tight_bends
                .map_or(default.smooth_more, |bends| bends == TightBends::Eased),
            divide_mm: self.divide_at_mm,
            spacing_mm: self.resample_mm.unwrap_or(default.spacing_mm),
            open_ends: self
                .ends
                .map_or(default.open_ends, |ends| ends == Ends::Open),
            names: self.names(&at)?,
        };
        Ok(Some(Request {
            file: file.clone(),
            settings,
            names: self.names_file.clone(),
        }))
    }

    fn names(&self, vessel: &Place) -> Read<Vec<Naming>> {
        let mut out: Vec<Naming> = Vec::new();
        let mut taken = Names::default();
        for (index, table) in self.name.iter().flatten().enumerate() {
            let at = vessel.field("name").entry(index);
            taken.add(&table.name, &at)?;
            out.push(Naming {
                name: table.name.clone(),
                which: table.said.which(&at)?.0,
                said: None,
            });
        }
        Ok(out)
    }
}

/// The branches of a tree that came from a file; what is odd about it becomes warnings.
pub(super) fn branches(imported: &Imported, warnings: &mut Vec<Warning>) -> Vec<BranchSpec> {
    let place = file_place();
    warnings.extend(imported.warnings.iter().map(|w| Warning {
        message: format!("file of [vessel]: {w}"),
        place: place.clone(),
    }));
    let all = imported.branches.iter().enumerate();
    all.map(|(i, branch)| BranchSpec {
        name: branch.name.clone(),
        attached: branch.parent.map(|parent| AttachmentSpec {
            parent: imported.branches[parent].name.clone(),
            station_mm: None,
            place: place.clone(),
        }),
        path: PathSpec::Points(branch.points.clone()),
        diameters: diameters(&imported.branches, i),
        place: place.clone(),
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
