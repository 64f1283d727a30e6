//! `kind = "support"`: settings and checks.

use schemars::JsonSchema;
use serde::Deserialize;

use super::{Said, Settings, catheter};
use crate::scenario::model::PlanSpec;
use crate::schema::{Read, defaults};

/// A straight support catheter follows the wire, which is redirected; the two advance in turn.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct Support {
    /// Attempts in all.
    #[serde(default = "defaults::count::<5>")]
    #[schemars(range(min = 1, max = 100), extend("x-unit" = "attempts", "x-example" = "5"))]
    attempts: u32,
    /// Turn of the wire between attempts.
    #[schemars(range(min = -360, max = 360), extend(
        "x-default" = "drawn from the circle; with a projected sight 30",
        "x-example" = "60"
    ))]
    turn_deg: Option<f64>,
    /// How far before the ostium the wire's tip is withdrawn.
    #[serde(default = "defaults::number::<3>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "3"))]
    withdraw_to_mm: f64,
    /// The catheter.
    #[schemars(extend("x-example" = "\"straight\""))]
    catheter: String,
    /// Wire in front of the catheter when that has followed.
    #[serde(default = "defaults::number::<10>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "10"))]
    behind_tip_mm: f64,
    /// How much further the wire goes before the catheter follows.
    #[serde(default = "defaults::number::<5>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "5"))]
    stride_mm: f64,
    /// How far before the ostium the catheter stays; negative beyond it.
    #[serde(default = "defaults::number::<2>")]
    #[schemars(range(min = -20, max = 100), extend("x-example" = "2"))]
    before_ostium_mm: f64,
    /// How far beyond the ostium the catheter is to follow the wire.
    #[schemars(range(max = 10_000), extend(
        "exclusiveMinimum" = 0,
        "x-default" = "it does not",
        "x-example" = "5"
    ))]
    follow_mm: Option<f64>,
}

impl Settings for Support {
    fn checked(&self, said: Said<'_>) -> Read<PlanSpec> {
        Ok(PlanSpec::Support {
            catheter: catheter(said, &self.catheter)?,
            behind_tip_mm: self.behind_tip_mm,
            stride_mm: self.stride_mm,
            before_ostium_mm: self.before_ostium_mm,
            attempts: self.attempts,
            withdraw_to_mm: self.withdraw_to_mm,
            turn_rad: self.turn_deg.map(f64::to_radians),
            follow_mm: self.follow_mm,
        })
    }
}
