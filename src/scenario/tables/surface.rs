//! What wires and catheters say alike: friction and torsion.

use schemars::JsonSchema;
use serde::Deserialize;

use crate::scenario::model::{round_core_torsion_ratio, steel};
use crate::scenario::surface::{FRICTION, SurfaceName};
use crate::schema::refusal::exclusive;
use crate::schema::{Place, Read, Refusal};

/// How slippery a device is and how it twists.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
pub(super) struct SurfaceFields {
    /// Poisson's ratio of a round core, which gives the ratio of torsional to bending stiffness
    /// GJ/EI = 1/(1 + nu).
    #[schemars(range(min = 0, max = 0.5), extend("default" = steel::POISSON_RATIO, "x-example" = "0.3"))]
    poisson_ratio: Option<f64>,
    /// GJ/EI itself.
    #[schemars(range(max = 10), extend(
        "exclusiveMinimum" = 0,
        "x-default" = "from poisson_ratio",
        "x-example" = "0.77"
    ))]
    torsion_ratio: Option<f64>,
    /// Named surface; one of surface and friction is said.
    #[schemars(extend("x-example" = "\"hydrophilic\""))]
    surface: Option<SurfaceName>,
    /// Coulomb coefficient against the vessel wall.
    #[schemars(range(min = *FRICTION.start(), max = *FRICTION.end()), extend("x-suspect" = "friction", "x-example" = "0.03"))]
    friction: Option<f64>,
}

impl SurfaceFields {
    /// Friction coefficient and GJ/EI of the device at `at`.
    pub(super) fn checked(&self, at: &Place) -> Read<(f64, f64)> {
        let said = |field, said: Option<f64>| (field, said.is_some());
        exclusive(
            at,
            said("torsion_ratio", self.torsion_ratio),
            said("poisson_ratio", self.poisson_ratio),
        )?;
        let torsion_ratio = match self.torsion_ratio {
            Some(ratio) => ratio,
            None => round_core_torsion_ratio(self.poisson_ratio.unwrap_or(steel::POISSON_RATIO)),
        };
        exclusive(
            at,
            said("friction", self.friction),
            ("surface", self.surface.is_some()),
        )?;
        let friction = match (self.friction, self.surface) {
            (Some(friction), _) => friction,
            (None, Some(surface)) => surface.friction(),
            (None, None) => return Err(Refusal::missing(at.field("surface"))),
        };
        Ok((friction, torsion_ratio))
    }
}
