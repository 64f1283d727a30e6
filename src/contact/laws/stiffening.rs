//! An elastic foundation that becomes stiffer the deeper a device lies in it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::NamedLaw;
use crate::contact::law::{Response, WallLaw};

/// An elastic foundation that becomes stiffer with the depth, as tissue does that is soft until its
/// fibres are straight (common practice, no source).
///
/// Equation: `E = k δ²/2 + k δ³/(3 d)` per mm of device, so `F = k δ (1 + δ/d)`.
/// Symbols: `k` foundation stiffness at first contact in mN/mm per mm of device, `δ` depth in mm, `d` depth
/// in mm at which the force is twice that of a linear foundation. The second term is left out for `δ < 0`,
/// where an active contact is about to open.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StiffeningFoundation {
    /// Stiffness at first contact, per mm of wire.
    #[serde(rename = "stiffness_mN_per_mm2", default = "super::usual_stiffness")]
    #[schemars(range(max = 1_000_000), extend("exclusiveMinimum" = 0, "x-example" = "300"))]
    pub stiffness: f64,
    /// Depth at which the force is twice that of a linear foundation.
    #[schemars(range(min = 0.001, max = 10), extend("x-example" = "0.05"))]
    pub doubles_at_mm: f64,
}

impl NamedLaw for StiffeningFoundation {
    #[cfg(test)]
    const EXAMPLE: Self = Self {
        stiffness: 40.0,
        doubles_at_mm: 0.02,
    };

    fn times(self, factor: f64) -> Self {
        Self {
            stiffness: factor * self.stiffness,
            ..self
        }
    }

    fn words(&self) -> String {
        format!(
            "{} mN/mm for each mm of wire at first contact, twice the force of a linear wall {} mm deep",
            self.stiffness, self.doubles_at_mm
        )
    }
}

impl WallLaw for StiffeningFoundation {
    fn respond(&self, depth: f64) -> Response {
        let (k, more) = (self.stiffness, depth.max(0.0) / self.doubles_at_mm);
        Response::new(
            depth,
            k * depth * depth * (0.5 + more / 3.0),
            k * depth * (1.0 + more),
            k * (1.0 + 2.0 * more),
        )
    }

    fn tangential_stiffness(&self) -> f64 {
        self.stiffness
    }
}
