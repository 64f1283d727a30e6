//! Named wire surfaces and their friction coefficients.

use std::ops::RangeInclusive;

use schemars::JsonSchema;
use serde::Deserialize;

/// Coulomb coefficients that a device may have.
pub const FRICTION: RangeInclusive<f64> = 0.0..=2.0;
/// The same in words.
pub const FRICTION_ALLOWED: &str = "0 to 2";

/// A surface as a scenario names it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[schemars(extend("x-kind" = "a surface"))]
pub enum SurfaceName {
    /// Hydrophilic coating, wet.
    #[serde(rename = "hydrophilic")]
    Hydrophilic,
    /// Polytetrafluoroethylene.
    #[serde(rename = "PTFE")]
    Ptfe,
    /// Bare steel.
    #[serde(rename = "steel")]
    Steel,
}

impl SurfaceName {
    /// Coulomb friction coefficient against a wet vessel wall.
    ///
    /// The ratio steel : PTFE : hydrophilic = 6 : 3 : 1 is that of Schroeder J, Cardiovasc
    /// Intervent Radiol 1993;16:93-97 (sliding friction of PTFE one half, of hydrophilic surfaces
    /// about one sixth of that of steel). The ratio says nothing about size; the table is anchored
    /// at 0.03 for the hydrophilic surface, the middle of the range 0.02 to 0.04 that published
    /// values for hydrophilic coatings leave (the lower end measured on a coated polymer sheath).
    #[must_use]
    pub fn friction(self) -> f64 {
        match self {
            Self::Hydrophilic => 0.03,
            Self::Ptfe => 0.09,
            Self::Steel => 0.18,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{FRICTION, FRICTION_ALLOWED, SurfaceName};
    use approx::assert_relative_eq;

    #[test]
    fn the_range_is_the_one_in_words() {
        let words = format!("{} to {}", FRICTION.start(), FRICTION.end());
        assert_eq!(words, FRICTION_ALLOWED);
    }

    #[test]
    fn ratios_are_those_of_schroeder_1993() {
        let hydrophilic = SurfaceName::Hydrophilic.friction();
        let ratio = |surface: SurfaceName| surface.friction() / hydrophilic;
        assert_relative_eq!(ratio(SurfaceName::Steel), 6.0, max_relative = 1e-12);
        assert_relative_eq!(ratio(SurfaceName::Ptfe), 3.0, max_relative = 1e-12);
    }
}
