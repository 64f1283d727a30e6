//! `[guide]` and `[target]`.

use schemars::JsonSchema;
use serde::Deserialize;

use super::pointer::{Pointed, Pointer};
use crate::anatomy::Imported;
use crate::scenario::model::{GuideSpec, TargetSpec};
use crate::schema::{Place, Read, Refusal, defaults};

/// The guiding catheter: a channel that ends in a branch.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct GuideTable {
    #[serde(flatten)]
    pub(super) said: Pointer,
    /// Station of its end.
    #[schemars(range(min = 0, max = 10_000), extend("default" = 0, "x-example" = "0"))]
    at_mm: Option<f64>,
    /// Stiffness against backing out along its axis; without it the guide holds.
    #[serde(rename = "backup_stiffness_mN_per_mm")]
    #[schemars(range(max = 1_000_000), extend("exclusiveMinimum" = 0, "x-example" = "50"))]
    backup_stiffness_mn_per_mm: Option<f64>,
    /// Backward movement at which it counts as lost.
    #[serde(default = "defaults::number::<10>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "10"))]
    back_out_limit_mm: f64,
    /// Diameter of its own lumen, for wire that lies back in it.
    #[serde(default = "defaults::hundredths::<180>")]
    #[schemars(range(min = 0.5, max = 4), extend("x-example" = "1.8"))]
    inner_diameter_mm: f64,
}

/// The target and what counts as success.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct TargetTable {
    #[serde(flatten)]
    pub(super) said: Pointer,
    /// How far beyond its whole mouth the tip must lie.
    #[serde(default = "defaults::number::<5>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "5"))]
    beyond_ostium_mm: f64,
    /// Test of whether the tip holds there: the wire is fed on by this length, and the tip must go
    /// deeper by hold_share of it.
    #[schemars(range(max = 10_000), extend(
        "exclusiveMinimum" = 0,
        "x-default" = "two diameters of the branch, and 5 mm beyond the mouth at the least",
        "x-example" = "5"
    ))]
    hold_mm: Option<f64>,
    /// Share of hold_mm by which the tip must go deeper when the wire is fed on; a tip that goes less
    /// deep does not count as reached.
    #[serde(default = "defaults::hundredths::<50>")]
    #[schemars(range(max = 1), extend("exclusiveMinimum" = 0, "x-example" = "0.5"))]
    hold_share: f64,
    /// By how much another point of the wire must lead the tip, beyond what the tip's own bend does,
    /// for a prolapse.
    #[serde(default = "defaults::number::<1>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "1"))]
    prolapse_lead_mm: f64,
    /// How far past the ostium, elsewhere, the tip is astray.
    #[serde(default = "defaults::number::<8>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "8"))]
    astray_mm: f64,
    /// Most wire outside the guide, above the way to the target.
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "80"))]
    max_fed_mm: f64,
    /// Most force on one millimetre of wall, at any place, leaving the guide included; without it
    /// there is no limit.
    #[serde(rename = "wall_force_limit_mN")]
    #[schemars(range(max = 100_000), extend("exclusiveMinimum" = 0, "x-example" = "500"))]
    wall_force_limit_mn: Option<f64>,
}

impl GuideTable {
    /// The guide, and the branch at which the table points.
    pub(super) fn checked(&self, imported: Option<&Imported>) -> Read<(GuideSpec, Pointed)> {
        let at = Place::top("guide");
        let pointed = self.said.branch(&at, imported)?;
        if pointed.nearest_mm.is_some() && self.at_mm.is_some() {
            return Err(Refusal::at(
                at.field("at_mm"),
                "near_mm says the station already",
                "keep one of near_mm and at_mm",
            ));
        }
        let guide = GuideSpec {
            branch: pointed.branch.clone(),
            station_mm: self.at_mm.or(pointed.nearest_mm).unwrap_or(0.0),
            backup_stiffness_mn_per_mm: self.backup_stiffness_mn_per_mm,
            back_out_limit_mm: self.back_out_limit_mm,
            inner_diameter_mm: self.inner_diameter_mm,
            place: at,
        };
        Ok((guide, pointed))
    }

    /// Whether the station of the guide's end is said.
    pub(super) fn says_station(&self) -> bool {
        self.at_mm.is_some()
    }
}

impl TargetTable {
    /// The target, and the branch at which the table points.
    pub(super) fn checked(&self, imported: Option<&Imported>) -> Read<(TargetSpec, Pointed)> {
        let at = Place::top("target");
        let pointed = self.said.branch(&at, imported)?;
        let target = TargetSpec {
            branch: pointed.branch.clone(),
            beyond_ostium_mm: self.beyond_ostium_mm,
            hold_mm: self.hold_mm,
            hold_share: self.hold_share,
            prolapse_lead_mm: self.prolapse_lead_mm,
            astray_mm: self.astray_mm,
            max_fed_mm: self.max_fed_mm,
            wall_force_limit_mn: self.wall_force_limit_mn,
            place: at,
        };
        Ok((target, pointed))
    }
}
