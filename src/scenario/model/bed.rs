//! What holds a vessel, of a checked scenario.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Place;

/// What a vessel lies in.
///
/// Stiffness of a bed per mm of vessel against displacement across it, for an elastic medium about a
/// long cylinder: of the order of the medium's Young's modulus (Biot, J. Appl. Mech. 1937;4:A1; Hetenyi,
/// *Beams on Elastic Foundation*, 1946; both from memory). Along it half of that: drag of a slender body
/// in an incompressible elastic medium (from memory).
///
/// | tissue | across, mN/mm² | from |
/// |---|---|---|
/// | fat | 5 | shear modulus 0.75 kPa in vivo, stiffer when compressed (J. Mech. Behav. Biomed. Mater. 2023, MR elastography, 10 women): 2 to 10 |
/// | muscle | 25 | 10 to 50, reckoned from 1 kPa at rest (same study) and several times that when active (from memory) |
/// | free loop | 0.5 | our own: a vessel that hangs free between its ends, held by a fold of tissue |
/// | silicone | 1 | our own: a tube of a phantom that rests in a tray of water |
///
/// Wall: Young's modulus 0.5 `MPa` for an artery, 2 `MPa` for silicone; thickness a fifth of the lumen's radius,
/// for silicone half (from memory).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[schemars(extend("x-kind" = "a tissue"))]
pub enum Tissue {
    /// Nothing gives way but the wall's local dent.
    Rigid,
    /// Epicardial and other fat.
    Fat,
    /// Muscle.
    Muscle,
    /// A loop that hangs free between its ends.
    FreeLoop,
    /// A tube of a silicone phantom.
    Silicone,
}

/// What holds the axes of a vessel, and how stiff its wall is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BedSpec {
    /// What it lies in.
    pub tissue: Tissue,
    /// Stiffness of the bed against displacement across the axis in mN/mm per mm of vessel, above 0.
    pub across_mn_per_mm2: f64,
    /// The same along the axis, above 0.
    pub along_mn_per_mm2: f64,
    /// Young's modulus of the wall in `MPa`, above 0.
    pub wall_modulus_mpa: f64,
    /// Thickness of the wall over the radius of the lumen, above 0.
    pub wall_share: f64,
    /// Compression along the inner side of a bend from which its wall counts as folded.
    pub fold_strain: f64,
    /// Factor on the distance of the control values along an axis that suits bed and wall, above 0: 1, but where
    /// their convergence is looked at. No file says it.
    pub spacing_factor: f64,
    /// Where it is described.
    pub place: Place,
}

impl BedSpec {
    /// Tissue and values in words.
    #[must_use]
    pub fn words(&self) -> String {
        format!(
            "{}: {} mN/mm² across, {} along; wall {} MPa, {} of the lumen's radius thick; a fold is told from {} % \
             of compression on",
            self.tissue.name(),
            self.across_mn_per_mm2,
            self.along_mn_per_mm2,
            self.wall_modulus_mpa,
            self.wall_share,
            100.0 * self.fold_strain
        )
    }
}

impl Tissue {
    /// Stiffness of the bed across the axis in mN/mm².
    #[must_use]
    pub fn across_mn_per_mm2(self) -> f64 {
        match self {
            Self::Rigid => f64::INFINITY,
            Self::Fat => 5.0,
            Self::Muscle => 25.0,
            Self::FreeLoop => 0.5,
            Self::Silicone => 1.0,
        }
    }

    /// Stiffness along the axis over that across it.
    pub const ALONG: f64 = 0.5;

    /// Young's modulus of the wall in `MPa`.
    #[must_use]
    pub fn wall_modulus_mpa(self) -> f64 {
        match self {
            Self::Silicone => 2.0,
            _ => 0.5,
        }
    }

    /// Thickness of the wall over the radius of the lumen.
    #[must_use]
    pub fn wall_share(self) -> f64 {
        match self {
            Self::Silicone => 0.5,
            _ => 0.2,
        }
    }

    /// As scenarios name it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Rigid => "rigid",
            Self::Fat => "fat",
            Self::Muscle => "muscle",
            Self::FreeLoop => "free-loop",
            Self::Silicone => "silicone",
        }
    }
}
