//! `kind = "dual-lumen"`: settings and checks.

use schemars::JsonSchema;
use serde::Deserialize;

use super::carrier::CarrierFields;
use super::{FIRST_WIRE_STAYS, Said, Settings, keeps_guide};
use crate::scenario::model::PlanSpec;
use crate::schema::{Read, defaults};
use crate::units::degrees;

/// A dual-lumen catheter is brought over its first wire until its side port lies before the
/// ostium, the port aimed by turning the catheter, and the wire fed out of it; when that fails the
/// wire is drawn back and the port aimed again, a little to one side.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct DualLumen {
    /// Attempts in all.
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
    /// How far before the ostium the side port is brought; negative beyond it.
    #[serde(default = "defaults::number::<2>")]
    #[schemars(range(min = -20, max = 100), extend("x-example" = "2"))]
    before_ostium_mm: f64,
    #[serde(flatten)]
    carrier: CarrierFields,
}

impl Settings for DualLumen {
    fn checked(&self, said: Said<'_>) -> Read<PlanSpec> {
        keeps_guide(said, FIRST_WIRE_STAYS)?;
        Ok(PlanSpec::DualLumen {
            carrier: self.carrier.checked(said)?,
            before_ostium_mm: self.before_ostium_mm,
            attempts: self.attempts,
            beyond_rad: self.beyond_rad,
        })
    }
}
