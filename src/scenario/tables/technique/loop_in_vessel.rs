//! `kind = "loop-in-vessel"`: settings and checks.

use schemars::JsonSchema;
use serde::Deserialize;

use super::carrier::CarrierFields;
use super::{FIRST_WIRE_STAYS, Said, Settings, keeps_guide};
use crate::scenario::model::PlanSpec;
use crate::schema::{Read, defaults};
use crate::units::degrees;

/// The wire is fed out of a side port into another branch, the anchor; the catheter goes on over
/// its first wire, so that the wire lays itself into a loop, until its tip has come out and past
/// the target's branching; then all is withdrawn, so that the free leg drops into the target; the
/// wire is fed on.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct LoopInVessel {
    /// Attempts in all to enter the anchor.
    #[serde(default = "defaults::count::<5>")]
    #[schemars(range(min = 1, max = 100), extend("x-unit" = "attempts", "x-example" = "5"))]
    attempts: u32,
    /// How far beyond the aim each further attempt turns the catheter, alternately to either
    /// side.
    #[serde(
        default = "defaults::degrees::<30>",
        rename = "turn_deg",
        with = "degrees"
    )]
    #[schemars(with = "f64", range(min = -360, max = 360), extend("x-example" = "60"))]
    beyond_rad: f64,
    /// How far before the anchor's ostium the side port is brought; negative beyond it.
    #[serde(default = "defaults::number::<2>")]
    #[schemars(range(min = -20, max = 100), extend("x-example" = "2"))]
    before_ostium_mm: f64,
    /// Branch that holds the tip while the loop forms.
    #[schemars(extend("x-example" = "\"diagonal\""))]
    anchor: String,
    /// How deep the tip is fed into it.
    #[serde(default = "defaults::number::<15>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "15"))]
    hold_mm: f64,
    /// Wire paid out while the loop forms, beyond what the catheter takes along.
    #[serde(default = "defaults::number::<5>")]
    #[schemars(range(min = 0, max = 10_000), extend("x-example" = "5"))]
    slack_mm: f64,
    /// How far past the branching the tip is brought.
    #[serde(default = "defaults::number::<3>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "3"))]
    past_mm: f64,
    #[serde(flatten)]
    carrier: CarrierFields,
}

impl Settings for LoopInVessel {
    fn checked(&self, said: Said<'_>) -> Read<PlanSpec> {
        keeps_guide(said, FIRST_WIRE_STAYS)?;
        Ok(PlanSpec::LoopInVessel {
            carrier: self.carrier.checked(said)?,
            before_ostium_mm: self.before_ostium_mm,
            hold_mm: self.hold_mm,
            slack_mm: self.slack_mm,
            past_mm: self.past_mm,
            attempts: self.attempts,
            beyond_rad: self.beyond_rad,
        })
    }

    fn anchor(&self) -> Option<&str> {
        Some(&self.anchor)
    }
}
