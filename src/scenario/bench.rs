//! The checked `[assay]` table: what is measured on the bench, in internal units, and a file of
//! wires for the bench.

use std::path::PathBuf;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::model::{EndCondition, Place, Tissue, WireSpec};
use super::surface::FRICTION;
use crate::contact::WallSpec;
use crate::units::degrees;

/// Distances from the tip in mm at which wires are measured where a file does not say where.
pub const STATIONS_MM: [f64; 8] = [20.0, 40.0, 60.0, 80.0, 100.0, 150.0, 200.0, 250.0];

/// Length of wire beyond each support of three-point bending over the span.
pub const OVERHANG_OVER_SPAN: f64 = 0.1;

/// Wires and the settings of their bench tests.
#[derive(Debug, Clone, PartialEq)]
pub struct Bench {
    /// Short name of the file's subject.
    pub name: String,
    /// The wires, at least one.
    pub wires: Vec<WireSpec>,
    /// Settings of the tests.
    pub assay: AssaySpec,
}

/// Settings of all bench tests.
#[derive(Debug, Clone, PartialEq)]
pub struct AssaySpec {
    /// Longest edge of a rod on a fixture, in mm; above 0.
    pub edge_mm: f64,
    /// Tip load.
    pub tip_load: TipLoadTest,
    /// Tip flexibility.
    pub flexibility: FlexibilityTest,
    /// Three-point bending.
    pub three_point: ThreePointTest,
    /// Torque response.
    pub torque: TorqueTest,
    /// Tubes of torque response and track.
    pub paths: PathSettings,
    /// Pinch.
    pub pinch: PinchTest,
    /// Kink.
    pub kink: KinkTest,
    /// Straightening.
    pub straightening: StraighteningTest,
    /// Measured curves for which a stiffness profile is wanted.
    pub fits: Vec<FitSpec>,
}

/// The wire held behind its tip and driven against a plate.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct TipLoadTest {
    /// Free length.
    #[schemars(range(min = 1, max = 200), extend("x-example" = "10"))]
    pub held_mm: f64,
    /// Coulomb coefficient between tip and plate. A wire whose tip load is stated for a free tip
    /// meets a smooth plate whatever stands here.
    #[schemars(range(min = *FRICTION.start(), max = *FRICTION.end()), extend(
        "x-default" = "the wire's own",
        "x-suspect" = "friction",
        "x-example" = "0.1"
    ))]
    pub plate_friction: Option<f64>,
    /// How far the chuck drives a straight tip after it has touched the plate.
    #[schemars(range(max = 50), extend("exclusiveMinimum" = 0, "x-example" = "0.3"))]
    pub travel_mm: f64,
    /// The same for a shaped tip, whose force rises and falls slowly.
    #[schemars(range(max = 50), extend("exclusiveMinimum" = 0, "x-example" = "2"))]
    pub shaped_travel_mm: f64,
}

impl Default for TipLoadTest {
    fn default() -> Self {
        Self {
            held_mm: 10.0,
            plate_friction: None,
            travel_mm: 0.3,
            shaped_travel_mm: 2.0,
        }
    }
}

/// A side force that turns the tip.
#[derive(Debug, Clone, PartialEq)]
pub struct FlexibilityTest {
    /// Free lengths in mm.
    pub held_mm: Vec<f64>,
    /// Angles to be reached, in rad, rising.
    pub angles_rad: Vec<f64>,
}

/// The wire on two supports, pressed down between them.
#[derive(Debug, Clone, PartialEq)]
pub struct ThreePointTest {
    /// Distance of the supports in mm.
    pub span_mm: f64,
    /// Distances of the load from the tip in mm, rising; the same for all wires.
    pub stations_mm: Vec<f64>,
    /// Largest deflection under the load in mm.
    pub deflection_mm: f64,
}

/// The hand turns the wire in a path.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct TorqueTest {
    /// Turn of the hand, there and back.
    #[serde(rename = "turn_deg", with = "degrees")]
    #[schemars(with = "f64", range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "1080"))]
    pub turn_rad: f64,
    /// Turn between two readings.
    #[serde(rename = "step_deg", with = "degrees")]
    #[schemars(with = "f64", range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "10"))]
    pub step_rad: f64,
}

impl Default for TorqueTest {
    fn default() -> Self {
        Self {
            turn_rad: 1080.0_f64.to_radians(),
            step_rad: 10.0_f64.to_radians(),
        }
    }
}

/// The tubes of torque response and track.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct PathSettings {
    /// Diameter of the tubes; every wire goes through it.
    #[schemars(range(max = 40), extend("exclusiveMinimum" = 0, "x-example" = "3"))]
    pub lumen_mm: f64,
    /// Radius of the siphon's bends.
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "7"))]
    pub siphon_radius_mm: f64,
    /// Radius of the 180-degree bends.
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "10"))]
    pub bend_radius_mm: f64,
    /// Radius of the 360-degree turns.
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "10"))]
    pub loop_radius_mm: f64,
    /// Stiffness of the tubes' wall per mm of wire.
    #[serde(rename = "wall_stiffness_mN_per_mm2")]
    #[schemars(range(max = 1_000_000), extend("exclusiveMinimum" = 0, "x-example" = "300"))]
    pub wall_stiffness_mn_per_mm2: f64,
    /// Largest fed length in one step.
    #[schemars(range(min = 0.001, max = 2), extend("x-example" = "0.5"))]
    pub step_mm: f64,
    /// Edge length at the tip.
    #[schemars(range(min = 0.02, max = 5), extend("x-example" = "0.5"))]
    pub edge_mm: f64,
}

impl Default for PathSettings {
    fn default() -> Self {
        Self {
            lumen_mm: 3.0,
            siphon_radius_mm: 7.0,
            bend_radius_mm: 10.0,
            loop_radius_mm: 10.0,
            wall_stiffness_mn_per_mm2: WallSpec::DEFAULT_STIFFNESS_MN_PER_MM2,
            step_mm: 0.5,
            edge_mm: 0.5,
        }
    }
}

/// The wire pulled out between two jaws.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PinchTest {
    /// Clamp force in mN.
    pub clamp_mn: f64,
    /// Length of the jaws in mm.
    pub jaw_mm: f64,
}

/// A loop of wire made smaller between two plates.
#[derive(Debug, Clone, PartialEq)]
pub struct KinkTest {
    /// Distances of the loop's middle from the tip in mm, rising; the same for all wires.
    pub stations_mm: Vec<f64>,
    /// Where they were said; `None` if they are the usual ones, of which those are used that fit
    /// every wire.
    pub said: Option<Place>,
}

/// A bend of a vessel that gives way in soft tissue, straightened by the wire.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct StraighteningTest {
    /// Radius of the bend.
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "15"))]
    pub radius_mm: f64,
    /// Angle of the bend.
    #[serde(rename = "angle_deg", with = "degrees")]
    #[schemars(with = "f64", range(min = 0, max = 180), extend("x-example" = "90"))]
    pub angle_rad: f64,
    /// Lumen diameter; every wire goes through it.
    #[schemars(range(max = 40), extend("exclusiveMinimum" = 0, "x-example" = "3"))]
    pub lumen_mm: f64,
    /// Stiffness of the tissue against moving the vessel sideways, per mm of vessel; along the vessel it
    /// is half of that.
    #[serde(rename = "tissue_stiffness_mN_per_mm2")]
    #[schemars(range(min = 0.05, max = 10_000), extend("x-example" = "20"))]
    pub tissue_stiffness_mn_per_mm2: f64,
    /// Young's modulus of the vessel's wall.
    #[serde(rename = "wall_modulus_MPa")]
    #[schemars(range(min = 0.01, max = 1000), extend("x-example" = "0.5"))]
    pub wall_modulus_mpa: f64,
    /// Thickness of the wall over the lumen's radius.
    #[schemars(range(min = 0.01, max = 2), extend("x-example" = "0.2"))]
    pub wall_share: f64,
    /// Stiffness of the wall against a dent under the wire, per mm of wire.
    #[serde(rename = "wall_stiffness_mN_per_mm2")]
    #[schemars(range(max = 1_000_000), extend("exclusiveMinimum" = 0, "x-example" = "300"))]
    pub wall_stiffness_mn_per_mm2: f64,
    /// How far the wire is fed.
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "150"))]
    pub fed_mm: f64,
}

impl Default for StraighteningTest {
    fn default() -> Self {
        Self {
            radius_mm: 15.0,
            angle_rad: 90.0_f64.to_radians(),
            lumen_mm: 3.0,
            tissue_stiffness_mn_per_mm2: 20.0,
            wall_modulus_mpa: Tissue::Muscle.wall_modulus_mpa(),
            wall_share: Tissue::Muscle.wall_share(),
            wall_stiffness_mn_per_mm2: WallSpec::DEFAULT_STIFFNESS_MN_PER_MM2,
            fed_mm: 150.0,
        }
    }
}

/// Measurements of one wire to which a stiffness profile is fitted, all in one go.
#[derive(Debug, Clone, PartialEq)]
pub struct FitSpec {
    /// Name of the wire that results.
    pub name: String,
    /// Index of the wire that was measured: diameter, modulus and surface are taken from it, and
    /// its stiffness where no reading reaches.
    pub wire: usize,
    /// The measured curves, at least one.
    pub curves: Vec<CurveSpec>,
    /// A measured tip load that is fitted as well.
    pub tip_load: Option<MeasuredTipLoad>,
    /// Distances from the tip in mm at which the stiffness is sought, rising.
    pub knots_mm: Vec<f64>,
    /// Where the knots are said.
    pub place: Place,
}

/// A measured curve.
#[derive(Debug, Clone, PartialEq)]
pub struct CurveSpec {
    /// The file with the curve.
    pub file: PathBuf,
    /// What was measured.
    pub kind: FitKind,
    /// Standard deviation of a reading over its value, if it is known.
    pub relative_error: Option<f64>,
    /// Distance of the supports in three-point bending in mm.
    pub span_mm: f64,
    /// Where the curve is named.
    pub place: Place,
}

/// A tip load that was measured on the wire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredTipLoad {
    /// The load in mN, above 0.
    pub tip_load_mn: f64,
    /// Whether the tip could slide on the plate.
    pub end_condition: EndCondition,
    /// Standard deviation of the load over its value, if it is known.
    pub relative_error: Option<f64>,
}

/// What a measured curve holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[schemars(extend("x-kind" = "a test that can be fitted"))]
pub enum FitKind {
    /// Load and deflection of three-point bending against station.
    ThreePoint,
    /// Side force against held length and angle of the tip.
    Flexibility,
}

/// The part of a wire that its description covers: up to its last station in mm; `None` for a
/// wire described by one value, which is uniform throughout.
#[must_use]
pub fn described_mm(wire: &WireSpec) -> Option<f64> {
    use super::model::StiffnessSpec;
    let (list, least) = match &wire.stiffness {
        StiffnessSpec::TipLoad { grind, .. } => (grind, 1),
        StiffnessSpec::Grind { grind, .. } => (grind, 2),
        StiffnessSpec::List { values, .. } | StiffnessSpec::ListWithTipLoad { values, .. } => {
            (values, 2)
        }
    };
    list.last()
        .filter(|_| list.len() >= least)
        .map(|&(station, _)| station)
}

/// Distance from the tip in mm behind which a wire is naturally straight.
#[must_use]
pub fn bends_end_mm(wire: &WireSpec) -> f64 {
    let bends = wire.tip.primary.iter().chain(&wire.tip.secondary);
    bends
        .map(|bend| bend.from_tip_mm + bend.length_mm)
        .fold(0.0, f64::max)
}
