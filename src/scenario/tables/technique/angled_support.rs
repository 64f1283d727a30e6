//! `kind = "angled-support"`: settings and checks.

use schemars::JsonSchema;
use serde::Deserialize;

use super::{Said, Settings, catheter};
use crate::scenario::model::{CatheterSpec, PlanSpec};
use crate::schema::{Place, Read, Refusal, defaults};
use crate::units::degrees;

/// A bent support catheter is brought to the ostium over the wire, the wire drawn back into it,
/// the bend aimed by turning the catheter at its hub, and the wire fed through it; when that fails
/// the wire is drawn back and the bend aimed again, a little to one side.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct AngledSupport {
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
    /// The catheter.
    #[schemars(extend("x-example" = "\"straight\""))]
    catheter: String,
    /// How far before the ostium the catheter's tip is brought; negative beyond it.
    #[serde(default = "defaults::number::<2>")]
    #[schemars(range(min = -20, max = 100), extend("x-example" = "2"))]
    before_ostium_mm: f64,
    /// Wire in front of the catheter on the way.
    #[serde(default = "defaults::number::<5>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "5"))]
    lead_mm: f64,
    /// Angle to which a steerable tip is bent there, in its range.
    #[schemars(range(min = -180, max = 180), extend(
        "x-default" = "its largest",
        "x-example" = "90"
    ))]
    angle_deg: Option<f64>,
    /// How far beyond the ostium the catheter is to follow the wire.
    #[schemars(range(max = 10_000), extend(
        "exclusiveMinimum" = 0,
        "x-default" = "it does not",
        "x-example" = "5"
    ))]
    follow_mm: Option<f64>,
}

impl Settings for AngledSupport {
    fn checked(&self, said: Said<'_>) -> Read<PlanSpec> {
        let catheter = catheter(said, &self.catheter)?;
        Ok(PlanSpec::AngledSupport {
            catheter,
            before_ostium_mm: self.before_ostium_mm,
            lead_mm: self.lead_mm,
            steer_rad: steered(&said.devices.catheters[catheter], self.angle_deg, said.at)?,
            attempts: self.attempts,
            beyond_rad: self.beyond_rad,
            follow_mm: self.follow_mm,
        })
    }
}

/// Angle in rad to which the tip of a catheter is bent at the ostium; `None` for a preformed one.
fn steered(catheter: &CatheterSpec, angle_deg: Option<f64>, at: &Place) -> Read<Option<f64>> {
    let name = &catheter.name;
    let Some(tip) = catheter.tip else {
        return Err(Refusal::at(
            at.field("catheter"),
            format!("the tip of catheter \"{name}\" is straight and cannot be aimed"),
            "give that catheter a tip, or set kind = \"support\"",
        ));
    };
    let Some((low, high)) = tip.range_rad else {
        return match angle_deg {
            None => Ok(None),
            Some(_) => Err(Refusal::at(
                at.field("angle_deg"),
                format!("the tip of catheter \"{name}\" is preformed and cannot be steered"),
                "remove angle_deg, or give that catheter a steerable tip",
            )),
        };
    };
    let (low, high) = (low.to_degrees(), high.to_degrees());
    let angle = angle_deg.unwrap_or(high);
    if angle < low - 1e-9 || angle > high + 1e-9 {
        return Err(Refusal::at(
            at.field("angle_deg"),
            format!("catheter \"{name}\" can be steered from {low:.0} to {high:.0} deg"),
            "choose an angle in that range",
        ));
    }
    Ok(Some(angle.to_radians()))
}
