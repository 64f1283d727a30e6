//! `kind = "redirect"`: settings and checks.

use schemars::JsonSchema;
use serde::Deserialize;

use super::{Said, Settings};
use crate::scenario::model::PlanSpec;
use crate::schema::{Read, defaults};
use crate::units::degrees;

/// Feed; when the tip is astray or stopped, withdraw to before the ostium, turn, feed again.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct Redirect {
    /// Attempts in all.
    #[serde(default = "defaults::count::<5>")]
    #[schemars(range(min = 1, max = 100), extend("x-unit" = "attempts", "x-example" = "5"))]
    attempts: u32,
    /// Turn of the hand between attempts. With a projected sight: how far beyond the aim each
    /// further attempt turns, alternately to either side.
    #[schemars(range(min = -360, max = 360), extend(
        "x-default" = "drawn from the circle; with a projected sight 30",
        "x-example" = "60"
    ))]
    turn_deg: Option<f64>,
    /// How far before the ostium the tip is withdrawn.
    #[serde(default = "defaults::number::<3>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "3"))]
    withdraw_to_mm: f64,
    /// Turn of the hand to and fro while it feeds, to either side; 0 for none.
    #[serde(default, rename = "rock_deg", with = "degrees")]
    #[schemars(with = "f64", range(min = 0, max = 180), extend("x-example" = "30"))]
    rock_rad: f64,
}

impl Settings for Redirect {
    fn checked(&self, _: Said<'_>) -> Read<PlanSpec> {
        Ok(PlanSpec::Redirect {
            attempts: self.attempts,
            withdraw_to_mm: self.withdraw_to_mm,
            turn_rad: self.turn_deg.map(f64::to_radians),
            rock_rad: self.rock_rad,
        })
    }
}
