//! How stiff the bed of a vessel and its wall are.

use nalgebra::{Matrix3, Vector3};

use super::bending::{AtRest, WallBeam};
use crate::products::outer;
use crate::scenario::model::BedSpec;

/// What holds a vessel in its place, and how stiff its wall is as a beam.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bed {
    /// Stiffness of the bed against displacement across the axis, in mN/mm per mm of vessel, above 0.
    pub across: f64,
    /// The same along the axis, above 0.
    pub along: f64,
    /// The wall's stiffness as a beam.
    pub wall: WallStiffness,
    /// Largest distance of the control values of a displacement along a branch, in mm, above 0.
    pub spacing_mm: f64,
}

/// How stiff a vessel's wall is as a beam.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WallStiffness {
    /// The same everywhere.
    Beam(WallBeam),
    /// A tube around the lumen.
    ///
    /// Equation: `B = E pi r³ h`, `A = 2 E pi r h` of a thin tube.
    /// Symbols: `E` Young's modulus in mN/mm² (kPa), `r` radius of the lumen and half the wall in mm, `h` thickness
    /// in mm.
    Tube {
        /// Young's modulus in mN/mm².
        modulus: f64,
        /// Thickness over the radius of the lumen.
        share: f64,
    },
}

impl WallStiffness {
    /// The beam where the lumen has that radius in mm.
    #[must_use]
    pub fn at(&self, lumen_mm: f64) -> WallBeam {
        match *self {
            Self::Beam(beam) => beam,
            Self::Tube { modulus, share } => {
                let thickness = share * lumen_mm;
                let middle = lumen_mm + 0.5 * thickness;
                let area = 2.0 * std::f64::consts::PI * middle * thickness;
                WallBeam {
                    bending: 0.5 * modulus * area * middle * middle,
                    axial: modulus * area,
                }
            }
        }
    }
}

impl From<&BedSpec> for Bed {
    fn from(spec: &BedSpec) -> Self {
        let bed = Self::around(
            [spec.across_mn_per_mm2, spec.along_mn_per_mm2],
            spec.wall_modulus_mpa,
            spec.wall_share,
        );
        Self {
            spacing_mm: spec.spacing_factor * bed.spacing_mm,
            ..bed
        }
    }
}

impl Bed {
    /// A bed of these stiffnesses across and along the axis (mN/mm², above 0) around a vessel whose wall has
    /// that Young's modulus (`MPa`, above 0) and that thickness over the radius of the lumen (above 0).
    #[must_use]
    pub fn around([across, along]: [f64; 2], wall_modulus_mpa: f64, wall_share: f64) -> Self {
        let wall = WallStiffness::Tube {
            // 1 MPa is 1000 mN/mm².
            modulus: 1000.0 * wall_modulus_mpa,
            share: wall_share,
        };
        // A wall of a lumen of 3 mm stands for all.
        let length = (4.0 * wall.at(1.5).bending / across).powf(0.25);
        Self {
            across,
            along,
            wall,
            spacing_mm: (0.3 * length).clamp(0.5, 2.0),
        }
    }

    /// The same bed with the control values of displacements that many times as far apart.
    #[must_use]
    pub fn with_spacing(self, times: f64) -> Self {
        Self {
            spacing_mm: times * self.spacing_mm,
            ..self
        }
    }

    /// Twice the bed's energy in mN mm per mm of axis displaced by `u` (mm).
    pub(super) fn energy(&self, rest: &AtRest, u: &Vector3<f64>) -> f64 {
        let along = rest.tangent.dot(u);
        self.across * (u.norm_squared() - along * along) + self.along * along * along
    }

    pub(super) fn stiffness(&self, rest: &AtRest) -> Matrix3<f64> {
        let t = &rest.tangent;
        Matrix3::identity() * self.across + outer(t, t) * (self.along - self.across)
    }
}
