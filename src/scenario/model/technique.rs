//! Techniques of a checked scenario.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Place;
use crate::scenario::view::SightSpec;
use crate::technique::PlanSpec;
use crate::units::degrees;

/// A technique with its settings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TechniqueSpec {
    /// Unique name.
    pub name: String,
    /// What the hands do.
    pub plan: PlanSpec,
    /// What it brings along.
    pub aids: AidsSpec,
    /// What it may see.
    pub sight: SightSpec,
    /// Where it is described.
    pub place: Place,
}

/// What a technique brings along beside the plan.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct AidsSpec {
    /// A balloon that blocks the vessel which goes straight on.
    pub balloon: Option<BalloonSpec>,
    /// Another wire to go on with.
    pub exchange: Option<ExchangeSpec>,
    /// How the guide is pointed before the second attempt, the third and so on, from the first again after the last;
    /// empty for a guide that stays.
    pub guide_aims: Vec<GuideAimSpec>,
    /// The branch that holds the tip while a loop forms; for [`crate::technique::LoopInVessel`].
    pub anchor: Option<AnchorSpec>,
}

/// A branch that holds the tip of the wire for a while.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AnchorSpec {
    /// Name of the branch.
    pub branch: String,
    /// Where it is named.
    pub place: Place,
}

/// An occluding balloon in the vessel that goes straight on where the target leaves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BalloonSpec {
    /// Diameter to which it is inflated in mm, above 0.
    pub diameter_mm: f64,
    /// Length in mm, above 0.
    pub length_mm: f64,
    /// How far its near end lies beyond the branching, in mm; 0 or more.
    pub beyond_mm: f64,
    /// Stiffness of its foundation in mN/mm², above 0; small for a soft balloon.
    pub stiffness_mn_per_mm2: f64,
    /// Its shaft, where that shares the lumen with the wire.
    pub shaft: Option<ShaftSpec>,
    /// Where it is described.
    pub place: Place,
}

/// The shaft of a balloon, from the guide to the balloon: it lies where the wire over which the
/// balloon was brought comes to lie when it is fed there.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ShaftSpec {
    /// Diameter in mm, above 0.
    pub diameter_mm: f64,
    /// Index of the wire over which the balloon was brought.
    pub wire: usize,
}

/// A change of wire.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ExchangeSpec {
    /// Attempts with the first wire, at least 1.
    pub after: u32,
    /// Name of the wire to go on with.
    pub wire: String,
    /// Where it is described.
    pub place: Place,
}

/// How the guide is pointed, relative to how the scenario has it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct GuideAimSpec {
    /// Angle of its direction off the vessel's.
    #[serde(rename = "tilt_deg", with = "degrees")]
    #[schemars(with = "f64", range(min = 0, max = 60), extend("x-example" = "10"))]
    pub tilt_rad: f64,
    /// Plane of the tilt, counted about the vessel's tangent from its running normal.
    #[serde(rename = "plane_deg", with = "degrees")]
    #[schemars(with = "f64", range(min = -360, max = 360), extend("x-example" = "0"))]
    pub plane_rad: f64,
    /// How much deeper it stands.
    #[schemars(range(min = 0, max = 50), extend("x-example" = "0"))]
    pub deeper_mm: f64,
}

/// A dual-lumen catheter on a first wire, out of whose side port the wire comes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CarrierSpec {
    /// Index of the catheter, which has a side port.
    pub catheter: usize,
    /// Index of the wire over which it rides.
    pub first_wire: usize,
    /// How far past the branching the tip of that wire lies, in the vessel that goes on, in mm;
    /// above 0.
    pub first_wire_past_mm: f64,
}
