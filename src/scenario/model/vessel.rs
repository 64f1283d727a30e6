//! The vessel of a checked scenario.

use std::f64::consts::PI;
use std::ops::RangeInclusive;
use std::sync::Arc;

use nalgebra::Vector3;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Place;
use crate::anatomy::surface::Mesh;
use crate::contact::WallSpec;
use crate::units::degrees;

/// The vessel tree as the scenario describes it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct VesselSpec {
    /// Branches; a branch stands after its parent.
    pub branches: Vec<BranchSpec>,
    /// Local narrowings.
    pub narrowings: Vec<NarrowingSpec>,
    /// Width in mm over which the tubes of two branches blend into each other (rounds the
    /// carina); 0 or more.
    pub carina_blend_mm: f64,
    /// How the wall gives way under a device.
    pub wall: WallSpec,
    /// The surface that a wire touches, where the vessel comes from one; the branches then name
    /// parts of it and measure progress. `None`: the wall is that of the branches' tubes.
    pub surface: Option<Arc<Mesh>>,
    /// Whether bends may be tighter than the lumen radius, as those of every file of centrelines
    /// may. If the lumen radius is more than 0.75 of that of a bend, the lumen is then the union of
    /// the balls along the centrelines.
    pub folds: bool,
}

impl VesselSpec {
    /// Width in mm over which two tubes blend where nothing else is said.
    pub const CARINA_BLEND_MM: f64 = 0.5;

    /// Tubes of these branches, without narrowings, with the blend and the wall of a scenario that
    /// says neither. Other fields are given by struct update.
    #[must_use]
    pub fn new(branches: Vec<BranchSpec>) -> Self {
        Self {
            branches,
            narrowings: Vec::new(),
            carina_blend_mm: Self::CARINA_BLEND_MM,
            wall: WallSpec::default(),
            surface: None,
            folds: false,
        }
    }

    /// A single tube of this diameter in mm, from the origin along +x and bending towards +y in plane 0.
    #[must_use]
    pub fn single_tube(pieces: Vec<PieceSpec>, diameter_mm: f64) -> Self {
        Self {
            carina_blend_mm: 0.0,
            ..Self::new(vec![BranchSpec {
                name: "tube".into(),
                attached: None,
                path: PathSpec::Pieces {
                    start_mm: Vector3::zeros(),
                    direction: Vector3::x(),
                    take_off_rad: 0.0,
                    take_off_plane_rad: 0.0,
                    pieces,
                },
                diameters: vec![(0.0, diameter_mm)],
                place: Place::default(),
            }])
        }
    }
}

/// One branch of the tree.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BranchSpec {
    /// Unique name.
    pub name: String,
    /// How it is attached to its parent; `None` for an inlet.
    pub attached: Option<AttachmentSpec>,
    /// The path of the centreline.
    pub path: PathSpec,
    /// Lumen diameter in mm against station (mm from the start of the branch), in rising
    /// order of station; between them cubics that keep the data's shape (Fritsch and Carlson 1980),
    /// constant outside. At least one entry, each above 0.
    pub diameters: Vec<(f64, f64)>,
    /// Where the branch is described.
    pub place: Place,
}

/// Attachment of a branch to its parent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AttachmentSpec {
    /// Name of the parent branch.
    pub parent: String,
    /// Station on the parent in mm from its start; `None` means "the parent's nearest point to
    /// the first point of this branch" (only for branches given as points).
    pub station_mm: Option<f64>,
    /// Where the attachment is described.
    pub place: Place,
}

/// Take-off angles that a branch may have, in rad: straight on to straight back.
pub const TAKE_OFF_RAD: RangeInclusive<f64> = 0.0..=PI;

/// The path of a branch's centreline.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum PathSpec {
    /// Built from pieces, one behind the other, each starting where the last one ended with the
    /// same tangent.
    Pieces {
        /// Start of an inlet in mm; ignored for a branch with a parent.
        start_mm: Vector3<f64>,
        /// Direction of an inlet at its start (any length above 0); ignored for a branch with a
        /// parent.
        direction: Vector3<f64>,
        /// Take-off angle in rad for a branch with a parent: the turn a wire must make, 0
        /// straight on, pi/2 square, above that backwards; in [`TAKE_OFF_RAD`].
        take_off_rad: f64,
        /// Plane of the take-off in rad, counted about the parent's tangent from its normal
        /// direction (see [`crate::vessel`]).
        take_off_plane_rad: f64,
        /// The pieces, at least one.
        pieces: Vec<PieceSpec>,
    },
    /// A smooth curve through points in mm, at least two.
    Points(Vec<Vector3<f64>>),
}

/// One piece of a parametric path.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "shape", rename_all = "kebab-case")]
#[schemars(extend("x-kind" = "a shape"))]
pub enum PieceSpec {
    /// Straight on.
    Straight {
        /// Length.
        #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "30"))]
        length_mm: f64,
    },
    /// A circular arc.
    Arc {
        /// Radius of the centreline.
        #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "10"))]
        radius_mm: f64,
        /// Turn.
        #[serde(rename = "angle_deg", with = "degrees")]
        #[schemars(with = "f64", range(max = 1080), extend("exclusiveMinimum" = 0, "x-example" = "90"))]
        angle_rad: f64,
        /// Direction of the turn about the tangent, counted from the running normal.
        #[serde(default, rename = "plane_deg", with = "degrees")]
        #[schemars(with = "f64", range(min = -360, max = 360), extend("x-example" = "0"))]
        plane_rad: f64,
    },
    /// A helix of constant curvature and torsion, starting along the tangent.
    Helix {
        /// Radius of the helix's cylinder.
        #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "10"))]
        radius_mm: f64,
        /// Rise in one turn; its sign is the handedness (positive: right-handed).
        #[schemars(range(min = -1000, max = 1000), extend("x-example" = "8"))]
        pitch_mm: f64,
        /// Number of turns.
        #[schemars(range(max = 100), extend("exclusiveMinimum" = 0, "x-unit" = "turns", "x-example" = "1"))]
        turns: f64,
        /// Direction of the first turn about the tangent, counted from the running normal.
        #[serde(default, rename = "plane_deg", with = "degrees")]
        #[schemars(with = "f64", range(min = -360, max = 360), extend("x-example" = "0"))]
        plane_rad: f64,
    },
    /// Two arcs of the same radius and turn in opposite directions.
    SBend {
        /// Radius of the centreline.
        #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "10"))]
        radius_mm: f64,
        /// Turn of each of the two arcs.
        #[serde(rename = "angle_deg", with = "degrees")]
        #[schemars(with = "f64", range(max = 1080), extend("exclusiveMinimum" = 0, "x-example" = "90"))]
        angle_rad: f64,
        /// Direction of the first turn about the tangent, counted from the running normal.
        #[serde(default, rename = "plane_deg", with = "degrees")]
        #[schemars(with = "f64", range(min = -360, max = 360), extend("x-example" = "0"))]
        plane_rad: f64,
    },
}

/// A local narrowing: the diameter falls smoothly (cosine) to a smallest value and rises again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NarrowingSpec {
    /// Branch that is narrowed.
    pub branch: String,
    /// Station of its middle in mm from the start of the branch.
    pub station_mm: f64,
    /// Whole length in mm, above 0.
    pub length_mm: f64,
    /// Smallest diameter in mm, above 0.
    pub diameter_mm: f64,
    /// Where it is described.
    pub place: Place,
}

/// A body in the lumen that wire and catheter cannot enter: a plug, a nodule of the wall, an
/// inflated balloon. It is round, of one diameter, with round ends, and follows the centreline.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ObstacleSpec {
    /// Branch in which it stands.
    pub branch: String,
    /// Station of its middle in mm from the start of the branch.
    pub station_mm: f64,
    /// Whole length in mm, above 0; one shorter than it is wide is a ball.
    pub length_mm: f64,
    /// Its diameter in mm, above 0.
    pub diameter_mm: f64,
    /// How far its axis lies off the centreline in mm; 0 or more.
    pub off_axis_mm: f64,
    /// Direction to which it does, in rad about the centreline's tangent from its running normal.
    pub plane_rad: f64,
    /// Stiffness of its foundation in mN/mm², above 0; small for a soft body.
    pub stiffness_mn_per_mm2: f64,
    /// Where it is described.
    pub place: Place,
}

impl ObstacleSpec {
    /// Stations in mm of its two ends.
    #[must_use]
    pub fn reaches_mm(&self) -> (f64, f64) {
        let half = 0.5 * self.length_mm.max(self.diameter_mm);
        (self.station_mm - half, self.station_mm + half)
    }
}
