//! A support catheter: from catalogue quantities to profiles along its length.

use super::DeviceError;
use super::check;
use super::profile::StiffnessProfile;
use super::shaped_tip::ShapedTip;
use super::tip_load::{HELD_BEHIND_TIP_MM, buckling_load};
use super::wire::{SMALLEST_REFERENCE_FORCE_MN, STRAIN_AT_REFERENCE_FORCE};
use crate::scenario::model::{BendSpec, CatheterSpec, EndCondition};

/// A support catheter with its properties along its length.
///
/// Lengths `c` are distances from the catheter's tip in mm. The tip may hold a bend whose angle is
/// set once, or steered within a range while the catheter is in use.
#[derive(Debug, Clone, PartialEq)]
pub struct Catheter {
    name: String,
    radius_mm: f64,
    bore_radius_mm: f64,
    friction: f64,
    friction_inside: f64,
    torsion_ratio: f64,
    profile: StiffnessProfile,
    /// The tip's bend at an angle of one radian; straight where there is none.
    unit_tip: ShapedTip,
    tip: ShapedTip,
    angle_rad: f64,
    range_rad: Option<(f64, f64)>,
}

impl Catheter {
    /// Builds a catheter from its description. Between the stations of its list the logarithm of
    /// the stiffness runs linearly.
    ///
    /// # Errors
    ///
    /// [`DeviceError`] where a quantity lies outside its range, where the list of stiffness values
    /// is empty or does not rise, where the catheter is not wider outside than inside, where the
    /// bend is tighter than the catheter's radius or its angle lies outside the steerable range.
    pub fn from_spec(spec: &CatheterSpec) -> Result<Self, DeviceError> {
        check::catheter(spec)?;
        let unit = spec.tip.map(|tip| BendSpec {
            from_tip_mm: 0.0,
            length_mm: tip.length_mm,
            angle_rad: 1.0,
            plane_rad: 0.0,
        });
        let catheter = Self {
            name: spec.name.clone(),
            radius_mm: 0.5 * spec.outer_diameter_mm,
            bore_radius_mm: 0.5 * spec.inner_diameter_mm,
            friction: spec.friction,
            friction_inside: spec.friction_inside,
            torsion_ratio: spec.torsion_ratio,
            profile: StiffnessProfile::listed(&spec.stiffness),
            unit_tip: ShapedTip::new(unit.iter()),
            tip: ShapedTip::default(),
            angle_rad: 0.0,
            range_rad: spec.tip.and_then(|tip| tip.range_rad),
        };
        Ok(catheter.bent(spec.tip.map_or(0.0, |tip| tip.angle_rad)))
    }

    /// The same catheter with its tip bent by `angle_rad`, kept within the steerable range if it
    /// has one.
    #[must_use]
    pub fn bent(mut self, angle_rad: f64) -> Self {
        self.angle_rad = match self.range_rad {
            Some((low, high)) => angle_rad.clamp(low, high),
            None => angle_rad,
        };
        self.tip = self.unit_tip.scaled(self.angle_rad);
        self
    }

    /// The same with an angle that may lie beyond the range, as a derivative at its end needs.
    #[must_use]
    pub(crate) fn bent_beyond(mut self, angle_rad: f64) -> Self {
        self.tip = self.unit_tip.scaled(angle_rad);
        self
    }

    /// The same catheter with another Coulomb coefficient against the vessel wall.
    #[must_use]
    pub fn with_friction(&self, friction: f64) -> Self {
        Self {
            friction,
            ..self.clone()
        }
    }

    /// Name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Outer radius in mm.
    #[must_use]
    pub fn radius_mm(&self) -> f64 {
        self.radius_mm
    }

    /// Radius of its bore in mm.
    #[must_use]
    pub fn bore_radius_mm(&self) -> f64 {
        self.bore_radius_mm
    }

    /// Coulomb coefficient of its bore against a wire in it.
    #[must_use]
    pub fn friction_inside(&self) -> f64 {
        self.friction_inside
    }

    /// Coulomb coefficient against the vessel wall.
    #[must_use]
    pub fn friction(&self) -> f64 {
        self.friction
    }

    /// Torsional over bending stiffness, GJ/EI, the same all along the catheter.
    #[must_use]
    pub fn torsion_ratio(&self) -> f64 {
        self.torsion_ratio
    }

    /// Angle of the tip's bend in rad.
    #[must_use]
    pub fn angle_rad(&self) -> f64 {
        self.angle_rad
    }

    /// Smallest and largest angle in rad to which the tip can be steered; `None` for a tip that
    /// cannot be steered.
    #[must_use]
    pub fn range_rad(&self) -> Option<(f64, f64)> {
        self.range_rad
    }

    /// Bending stiffness in mN mm² at `c`.
    #[must_use]
    pub fn bending_stiffness(&self, c: f64) -> f64 {
        self.profile.at(c)
    }

    /// Integral of `ds / B` from `a` to `b` in 1/(mN mm).
    #[must_use]
    pub fn compliance_between(&self, a: f64, b: f64) -> f64 {
        self.profile.compliance_between(a, b)
    }

    /// Integral of the natural curvature from `a` to `b` in rad, along the two directions of the
    /// material frame.
    #[must_use]
    pub fn natural_curvature_between(&self, a: f64, b: f64) -> [f64; 2] {
        self.tip.turned_between(a, b)
    }

    /// Energy in mN mm that a straight channel stores in the part of the bent tip beyond `c`.
    #[must_use]
    pub fn stored_shape_energy_beyond(&self, c: f64) -> f64 {
        self.tip.straightened_energy_beyond(c, &self.profile)
    }

    /// Axial stiffness EA in mN to compute with: strained by 1e-3 at the load under which the
    /// last 10 mm buckle (see [`super::Wire::axial_stiffness_cap`]).
    #[must_use]
    pub fn axial_stiffness_cap(&self) -> f64 {
        let tip = self.profile.at(0.0);
        let load = buckling_load(tip, HELD_BEHIND_TIP_MM, EndCondition::FixedPinned);
        load.max(SMALLEST_REFERENCE_FORCE_MN) / STRAIN_AT_REFERENCE_FORCE
    }

    /// Distance from the tip in mm behind which the catheter is naturally straight.
    #[must_use]
    pub fn bends_end_mm(&self) -> f64 {
        self.unit_tip.end_mm()
    }
}
