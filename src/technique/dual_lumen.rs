//! A dual-lumen catheter is brought over its first wire until its side port lies before the ostium,
//! and the wire fed out of the aimed port.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::angled_support::{AimedFeed, AngledSupportPlan};
use super::carrier::CarrierFields;
use super::fields::{Around, Fields};
use super::{Loading, Needs, PlanSpec, Technique, words};
use crate::hands::Plan;
use crate::scenario::model::{CarrierSpec, Scenario, TechniqueSpec};
use crate::scenario::view::SightSpec;
use crate::schema::{Read, defaults};
use crate::shown::degrees;
use crate::units;

/// A dual-lumen catheter is brought over its first wire until its side port lies before the
/// ostium, the port aimed by turning the catheter, and the wire fed out of it; when that fails the
/// wire is drawn back and the port aimed again, a little to one side.
#[derive(Debug, Deserialize, JsonSchema)]
pub(crate) struct DualLumenFields {
    /// Attempts in all.
    #[serde(default = "defaults::count::<5>")]
    #[schemars(range(min = 1, max = 100), extend("x-unit" = "attempts", "x-example" = "5"))]
    attempts: u32,
    /// How far beyond the aim each further attempt turns the catheter, alternately to either
    /// side.
    #[serde(
        default = "defaults::degrees::<30>",
        rename = "turn_deg",
        with = "units::degrees"
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

impl Fields for DualLumenFields {
    fn checked(&self, around: Around<'_>) -> Read<PlanSpec> {
        Ok(DualLumen {
            carrier: self.carrier.checked(around)?,
            before_ostium_mm: self.before_ostium_mm,
            attempts: self.attempts,
            beyond_rad: self.beyond_rad,
        }
        .into())
    }
}

/// A dual-lumen catheter is brought over its first wire until its side port lies before the
/// ostium, the port aimed by turning the catheter, and the wire fed out of it; when that fails
/// the wire is drawn back and the port aimed again, a little to one side.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DualLumen {
    /// The catheter.
    pub carrier: CarrierSpec,
    /// How far before the ostium the port is brought, in mm.
    pub before_ostium_mm: f64,
    /// Attempts in all, at least 1.
    pub attempts: u32,
    /// As in [`AngledSupport`](super::AngledSupport).
    pub beyond_rad: f64,
}

impl Technique for DualLumen {
    fn needs(&self) -> Needs {
        Needs::loaded_in(Loading::SidePort {
            carrier: self.carrier,
            port_past_mm: -self.before_ostium_mm,
        })
    }

    fn plan(&self, _: SightSpec) -> Box<dyn Plan> {
        Box::new(AngledSupportPlan::new(AimedFeed {
            before_ostium_mm: self.before_ostium_mm,
            steer_rad: None,
            attempts: self.attempts,
            beyond_rad: self.beyond_rad,
            follow_mm: None,
            turns_wire: true,
        }))
    }

    fn words(&self, _: &TechniqueSpec, scenario: &Scenario) -> String {
        format!(
            "the wire comes{}; bring the port to {} mm before the ostium, turn the hub \
             until it is seen to point to the side of the branch, feed the wire; when it goes astray \
             or stops draw it back, turn it by any angle, aim {} deg further to one side or the \
             other; {} at most",
            words::carried(&self.carrier, scenario),
            self.before_ostium_mm,
            degrees(self.beyond_rad),
            words::tries(self.attempts)
        )
    }

    fn turns(&self) -> bool {
        true
    }

    fn seconds_per_100_mm(&self) -> f64 {
        // 1 to 1.7 s were measured.
        1.4
    }
}
