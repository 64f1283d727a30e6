//! An elastic foundation whose force is proportional to the depth.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::NamedLaw;
use crate::contact::law::{Response, WallLaw};

/// An elastic foundation whose force is proportional to the depth.
///
/// Equation: `E = k δ²/2` per mm of device.
/// Symbols: `k` foundation stiffness in mN/mm per mm of device, `δ` depth in mm.
/// Source: Winkler's elastic foundation.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LinearFoundation {
    /// Stiffness of the wall's elastic foundation, per mm of wire.
    #[serde(rename = "stiffness_mN_per_mm2", default = "super::usual_stiffness")]
    #[schemars(range(max = 1_000_000), extend("exclusiveMinimum" = 0, "x-example" = "300"))]
    pub stiffness: f64,
}

impl NamedLaw for LinearFoundation {
    #[cfg(test)]
    const EXAMPLE: Self = Self {
        stiffness: super::WallSpec::DEFAULT_STIFFNESS_MN_PER_MM2,
    };

    fn times(self, factor: f64) -> Self {
        Self {
            stiffness: factor * self.stiffness,
        }
    }

    fn words(&self) -> String {
        format!("{} mN/mm for each mm of wire", self.stiffness)
    }
}

impl WallLaw for LinearFoundation {
    fn respond(&self, depth: f64) -> Response {
        Response::linear(depth, self.stiffness)
    }

    fn tangential_stiffness(&self) -> f64 {
        self.stiffness
    }
}
