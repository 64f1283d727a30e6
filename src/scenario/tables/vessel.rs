//! `[vessel]`: the wall, the branches and their narrowings, also from a tree file, and the bodies in
//! the lumen.

use schemars::JsonSchema;
use serde::Deserialize;

use super::anatomy::{self, AnatomyTable};
use super::bed::BedTable;
use super::branch::BranchTable;
use super::motion::MotionTable;
use super::odd_branch;
use super::pointer::Pointer;
use super::{Names, station};
use crate::anatomy::Imported;
use crate::contact::{WallSpec, usual_stiffness};
use crate::scenario::Warning;
use crate::scenario::model::{BedSpec, BranchSpec, NarrowingSpec, ObstacleSpec, VesselSpec};
use crate::schema::refusal::exclusive;
use crate::schema::{Place, Read, Refusal};
use crate::units::degrees;

/// The vessel.
#[derive(Debug, Deserialize, JsonSchema)]
pub(in crate::scenario) struct VesselTable {
    /// Width over which two tubes blend into each other, which rounds the carina.
    #[serde(default = "carina_blend_mm")]
    #[schemars(range(min = 0, max = 5), extend("x-example" = "0.5"))]
    carina_blend_mm: f64,
    /// Stiffness of a linear wall's elastic foundation, per mm of wire.
    #[serde(rename = "wall_stiffness_mN_per_mm2")]
    #[schemars(range(max = 1_000_000), extend(
        "exclusiveMinimum" = 0,
        "default" = WallSpec::DEFAULT_STIFFNESS_MN_PER_MM2,
        "x-example" = "300"
    ))]
    wall_stiffness_mn_per_mm2: Option<f64>,
    /// Another law of the wall, with its values, in place of a linear wall's stiffness.
    #[schemars(extend(
        "x-example" = "[vessel.wall]\nlaw = \"stiffening\"\nstiffness_mN_per_mm2 = 100\ndoubles_at_mm = 0.05"
    ))]
    wall: Option<WallSpec>,
    /// File with branch and narrowing tables, path from this file; they stand before those here.
    #[schemars(extend("x-example" = "\"trees/published-tree.toml\""))]
    pub(in crate::scenario) tree: Option<String>,
    /// Which set is meant where a branch's diameters are a table of sets.
    #[schemars(extend("x-example" = "\"right-dominant\""))]
    diameter_set: Option<String>,
    /// Branches; a parent stands before its branches.
    #[serde(default)]
    #[schemars(length(max = 2500), extend(
        "x-example" = "[[vessel.branch]]\nname = \"parent\"\ndiameter_mm = 3.0\npieces = [{ shape = \"straight\", length_mm = 50 }]"
    ))]
    branch: Vec<BranchTable>,
    /// Local narrowings.
    #[serde(default)]
    #[schemars(length(max = 2500), extend(
        "x-example" = "[[vessel.narrowing]]\nbranch = \"parent\"\nat_mm = 20\nlength_mm = 8\ndiameter_mm = 1.2"
    ))]
    narrowing: Vec<NarrowingTable>,
    /// Bodies in the lumen that wire and catheter cannot enter.
    #[serde(default)]
    #[schemars(length(max = 2500), extend(
        "x-example" = "[[vessel.obstacle]]\nbranch = \"parent\"\nat_mm = 20\nlength_mm = 4\ndiameter_mm = 1"
    ))]
    obstacle: Vec<ObstacleTable>,
    /// What the vessel lies in; without it only the wall's local dent gives way.
    #[schemars(extend("x-example" = "[vessel.bed]\ntissue = \"fat\""))]
    bed: Option<BedTable>,
    /// How it moves by itself, with the heart and with the breath; without it the vessel stands.
    #[schemars(extend("x-example" = "[vessel.motion.heart]\nbeats_per_minute = 70\nover_muscle = [\"LAD\"]"))]
    pub(in crate::scenario) motion: Option<MotionTable>,
    #[serde(flatten)]
    pub(in crate::scenario) anatomy: AnatomyTable,
}

fn carina_blend_mm() -> f64 {
    VesselSpec::CARINA_BLEND_MM
}

/// A file with the branches of a vessel.
#[derive(Debug, Default, Deserialize, JsonSchema)]
pub(in crate::scenario) struct TreeTable {
    /// The published source of the anatomy, or "invented".
    #[schemars(extend("x-example" = "\"the published source\""))]
    pub(in crate::scenario) origin: Option<String>,
    /// Branches; a parent stands before its branches.
    #[serde(default)]
    #[schemars(length(max = 2500), extend(
        "x-example" = "[[branch]]\nname = \"trunk\"\npoints_mm = [[0, 0, 0], [10, 0, 0]]\ndiameter_mm = 3"
    ))]
    branch: Vec<BranchTable>,
    /// Local narrowings.
    #[serde(default)]
    #[schemars(length(max = 2500), extend(
        "x-example" = "[[narrowing]]\nbranch = \"trunk\"\nat_mm = 5\nlength_mm = 4\ndiameter_mm = 1"
    ))]
    narrowing: Vec<NarrowingTable>,
}

/// A local narrowing: the diameter falls smoothly to a smallest value and rises again.
#[derive(Debug, Deserialize, JsonSchema)]
struct NarrowingTable {
    #[serde(flatten)]
    said: Pointer,
    /// Station of its middle from the start of the branch.
    #[schemars(range(min = 0, max = 10_000), extend("x-example" = "20"))]
    at_mm: Option<f64>,
    /// Whole length.
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "8"))]
    length_mm: f64,
    /// Smallest diameter.
    #[schemars(range(max = 40), extend("exclusiveMinimum" = 0, "x-example" = "1.2"))]
    diameter_mm: f64,
}

/// A body in the lumen.
#[derive(Debug, Deserialize, JsonSchema)]
struct ObstacleTable {
    #[serde(flatten)]
    said: Pointer,
    /// Station of its middle from the start of the branch.
    #[schemars(range(min = 0, max = 10_000), extend("x-example" = "20"))]
    at_mm: Option<f64>,
    /// Whole length with its round ends, within the branch; if shorter than it is wide it is a ball.
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "4"))]
    length_mm: f64,
    /// Its diameter; as wide as the lumen it closes the branch.
    #[schemars(range(max = 40), extend("exclusiveMinimum" = 0, "x-example" = "1"))]
    diameter_mm: f64,
    /// How far its axis lies off the vessel's, such as for a nodule of the wall.
    #[serde(default)]
    #[schemars(range(min = 0, max = 20), extend("x-example" = "0.5"))]
    off_axis_mm: f64,
    /// To which side, about the vessel's axis.
    #[serde(default, rename = "plane_deg", with = "degrees")]
    #[schemars(with = "f64", range(min = -360, max = 360), extend("x-example" = "0"))]
    plane_rad: f64,
    /// Its stiffness per mm of wire; small for a soft body.
    #[serde(default = "usual_stiffness", rename = "stiffness_mN_per_mm2")]
    #[schemars(range(max = 1_000_000), extend("exclusiveMinimum" = 0, "x-example" = "300"))]
    stiffness_mn_per_mm2: f64,
}

impl VesselTable {
    /// Whether some branch, of its own or of its tree file, is told in the patient's frame, as a file of
    /// anatomy is.
    pub(super) fn is_in_patient(&self, tree: Option<&TreeTable>) -> bool {
        let of_tree = tree.iter().flat_map(|tree| &tree.branch);
        self.anatomy.is_said()
            || self
                .branch
                .iter()
                .chain(of_tree)
                .any(BranchTable::is_in_patient)
    }

    /// How its narrowings and obstacles point at branches, each with the title of its table.
    pub(super) fn pointers(&self) -> impl Iterator<Item = (&'static str, &Pointer)> {
        let narrowings = self.narrowing.iter();
        let obstacles = self.obstacle.iter();
        (narrowings.map(|n| ("[[vessel.narrowing]]", &n.said)))
            .chain(obstacles.map(|o| ("[[vessel.obstacle]]", &o.said)))
    }

    /// A field that is said and describes the vessel otherwise than a file of anatomy.
    pub(in crate::scenario) fn beside_file(&self) -> Option<&'static str> {
        match (&self.tree, &self.diameter_set) {
            (Some(_), _) => Some("tree"),
            (None, Some(_)) => Some("diameter_set"),
            (None, None) => None,
        }
    }

    /// What holds the vessel, if it gives way.
    pub(super) fn bed(&self) -> Read<Option<BedSpec>> {
        let at = Place::top("vessel").field("bed");
        match &self.bed {
            Some(bed) => bed.checked(at),
            None => Ok(None),
        }
    }

    /// The vessel, with the tree file that it names and the tree that its file of anatomy became;
    /// also the bodies in its lumen.
    pub(super) fn checked(
        self,
        tree: Option<TreeTable>,
        imported: Option<&Imported>,
        warnings: &mut Vec<Warning>,
    ) -> Read<(VesselSpec, Vec<ObstacleSpec>)> {
        let at = Place::top("vessel");
        let TreeTable {
            branch: mut tables,
            mut narrowing,
            ..
        } = tree.unwrap_or_default();
        tables.extend(self.branch);
        narrowing.extend(self.narrowing);
        let mut branches: Vec<BranchSpec> = match imported {
            Some(imported) => anatomy::branches(imported, warnings),
            None => Vec::new(),
        };
        if tables.is_empty() && branches.is_empty() {
            return Err(Refusal::missing(at.field("branch")));
        }
        let set = self.diameter_set.as_deref();
        let mut names = Names::of(branches.iter().map(|branch| branch.name.as_str()));
        for (index, table) in tables.into_iter().enumerate() {
            let at = at.field("branch").entry(index);
            let branch = table.checked(at, (&branches, &mut names), set)?;
            warnings.extend(odd_branch::straight_on(&branch));
            warnings.extend(odd_branch::wider(&branch, &branches));
            branches.push(branch);
        }
        let narrowings = narrowing.iter().enumerate().map(|(index, table)| {
            let at = at.field("narrowing").entry(index);
            let (branch, station_mm) = stands(&table.said, table.at_mm, &at, &branches, imported)?;
            Ok(NarrowingSpec {
                branch,
                station_mm,
                length_mm: table.length_mm,
                diameter_mm: table.diameter_mm,
                place: at,
            })
        });
        let narrowings = narrowings.collect::<Read<_>>()?;
        let obstacles = self.obstacle.iter().enumerate().map(|(index, table)| {
            let at = at.field("obstacle").entry(index);
            let (branch, station_mm) = stands(&table.said, table.at_mm, &at, &branches, imported)?;
            Ok(ObstacleSpec {
                branch,
                station_mm,
                length_mm: table.length_mm,
                diameter_mm: table.diameter_mm,
                off_axis_mm: table.off_axis_mm,
                plane_rad: table.plane_rad,
                stiffness_mn_per_mm2: table.stiffness_mn_per_mm2,
                place: at,
            })
        });
        let obstacles = obstacles.collect::<Read<_>>()?;
        exclusive(
            &at,
            ("wall", self.wall.is_some()),
            (
                "wall_stiffness_mN_per_mm2",
                self.wall_stiffness_mn_per_mm2.is_some(),
            ),
        )?;
        let linear = self.wall_stiffness_mn_per_mm2.map(WallSpec::from);
        let wall = self.wall.or(linear).unwrap_or_default();
        let vessel = VesselSpec {
            branches,
            narrowings,
            carina_blend_mm: self.carina_blend_mm,
            wall,
            surface: imported.and_then(|i| i.surface.clone()),
            folds: imported.is_some(),
        };
        Ok((vessel, obstacles))
    }
}

/// The branch at which a table points and the station on it in mm: that of `at_mm`, or, where a
/// coordinate points at it, of the place nearest to that.
fn stands(
    said: &Pointer,
    at_mm: Option<f64>,
    at: &Place,
    branches: &[BranchSpec],
    imported: Option<&Imported>,
) -> Read<(String, f64)> {
    let pointed = said.branch(at, imported)?;
    let branch = branches.iter().find(|b| b.name == pointed.branch);
    let Some(branch) = branch else {
        let names = branches.iter().map(|branch| &branch.name);
        return Err(Refusal::unknown(
            pointed.place,
            "the name of a branch",
            names,
        ));
    };
    let station_mm = match (at_mm, pointed.nearest_mm) {
        (None, Some(nearest_mm)) => nearest_mm,
        (Some(at_mm), _) => station(at_mm, at.field("at_mm"), branch)?,
        (None, None) => return Err(Refusal::missing(at.field("at_mm"))),
    };
    Ok((branch.name.clone(), station_mm))
}
