//! `kind = "looped-back"`: settings and checks.

use schemars::JsonSchema;
use serde::Deserialize;

use super::carrier::{FIRST_WIRE_PAST_MM, carrier};
use super::{Said, Settings, keeps_guide};
use crate::scenario::model::{BendSpec, PlanSpec};
use crate::schema::{Read, Refusal, defaults};
use crate::units::degrees;

/// Fold the wire back on itself; feed the fold ahead until the tip has passed the branch;
/// withdraw, so that the free leg drops into it; feed on. When it does not, turn and try again.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct LoopedBack {
    /// Attempts in all.
    #[serde(default = "defaults::count::<5>")]
    #[schemars(range(min = 1, max = 100), extend("x-unit" = "attempts", "x-example" = "5"))]
    attempts: u32,
    /// Turn of the hand between attempts.
    #[schemars(range(min = -360, max = 360), extend(
        "x-default" = "drawn from the circle",
        "x-example" = "60"
    ))]
    turn_deg: Option<f64>,
    /// Middle of the fold behind the tip.
    #[serde(default = "defaults::number::<30>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "30"))]
    fold_mm: f64,
    /// Length of wire in the fold, below fold_mm; long is round, short is sharp.
    #[serde(default = "defaults::number::<6>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "6"))]
    fold_length_mm: f64,
    /// Angle that the fold keeps when it is free.
    #[serde(
        default = "defaults::degrees::<150>",
        rename = "fold_set_deg",
        with = "degrees"
    )]
    #[schemars(with = "f64", range(max = 180), extend("exclusiveMinimum" = 0, "x-example" = "150"))]
    fold_set_rad: f64,
    /// Direction of the fold about the wire, as that of a bend.
    #[serde(default, rename = "fold_plane_deg", with = "degrees")]
    #[schemars(with = "f64", range(min = -360, max = 360), extend("x-example" = "0"))]
    fold_plane_rad: f64,
    /// How far past the branching the tip is fed.
    #[serde(default = "defaults::number::<3>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "3"))]
    past_mm: f64,
    /// Catheter with a side port, out of which the wire comes; without it the wire is loaded
    /// through the guide alone.
    #[schemars(extend("x-example" = "\"straight\""))]
    catheter: Option<String>,
    /// Wire over which that catheter rides.
    #[schemars(extend("x-example" = "\"workhorse 1 gf\""))]
    first_wire: Option<String>,
    /// How far past the branching that wire lies.
    #[schemars(range(max = 10_000), extend(
        "exclusiveMinimum" = 0,
        "default" = FIRST_WIRE_PAST_MM,
        "x-example" = "25"
    ))]
    first_wire_past_mm: Option<f64>,
}

impl Settings for LoopedBack {
    fn checked(&self, said: Said<'_>) -> Read<PlanSpec> {
        keeps_guide(
            said,
            "the free leg of a folded wire may lie back in the guide",
        )?;
        let at = said.at;
        let named = [&self.catheter, &self.first_wire];
        let carried = named.iter().any(|name| name.is_some()) || self.first_wire_past_mm.is_some();
        let carrier = if carried {
            let past_mm = self.first_wire_past_mm.unwrap_or(FIRST_WIRE_PAST_MM);
            let named = named.map(Option::as_deref);
            Some(carrier(said, named, past_mm)?)
        } else {
            None
        };
        if self.fold_mm <= self.fold_length_mm {
            return Err(Refusal::at(
                at.field("fold_length_mm"),
                format!(
                    "the fold lies {} mm behind the tip and leaves no free leg",
                    self.fold_mm
                ),
                format!("choose fold_length_mm below {}", self.fold_mm),
            ));
        }
        Ok(PlanSpec::LoopedBack {
            fold: BendSpec {
                from_tip_mm: self.fold_mm - 0.5 * self.fold_length_mm,
                length_mm: self.fold_length_mm,
                angle_rad: self.fold_set_rad,
                plane_rad: self.fold_plane_rad,
            },
            past_mm: self.past_mm,
            attempts: self.attempts,
            turn_rad: self.turn_deg.map(f64::to_radians),
            carrier,
        })
    }
}
