//! A wire: from catalogue quantities to profiles along its length.

use super::DeviceError;
use super::check;
use super::profile::{StiffnessProfile, round_core_diameter, round_core_stiffness};
use super::shaped_tip::ShapedTip;
use super::tip_load::{self, HELD_BEHIND_TIP_MM, buckling_load, stiffness_from_tip_load};
use crate::scenario::model::{BendSpec, CoreLawSpec, EndCondition, StiffnessSpec, WireSpec};

/// Smallest force in mN that the axial stiffness is measured by.
pub(super) const SMALLEST_REFERENCE_FORCE_MN: f64 = 20.0;

/// Reference force over the buckling load of the tip.
const REFERENCE_OVER_TIP_LOAD: f64 = 10.0;

/// Axial strain at the reference force.
pub(super) const STRAIN_AT_REFERENCE_FORCE: f64 = 1e-3;

/// A wire with its properties along its length.
///
/// Lengths `s` are distances from the tip in mm. Forward of the tip (`s < 0`) and behind the last
/// station of its description the stiffness stays what it is there.
#[derive(Debug, Clone, PartialEq)]
pub struct Wire {
    name: String,
    radius_mm: f64,
    friction: f64,
    torsion_ratio: f64,
    strain_limit: f64,
    core_law: CoreLawSpec,
    modulus: f64,
    profile: StiffnessProfile,
    tip: ShapedTip,
    axial_stiffness: Option<f64>,
}

impl Wire {
    /// Builds a wire from its description.
    ///
    /// A tip load fixes the stiffness of the last 10 mm by Euler's buckling load (see
    /// [`buckling_load`]); from there the equivalent core diameter runs linearly to the first station
    /// of the core grind. A tip load without a core grind gives a wire of the tip's stiffness
    /// throughout. Core diameters of a grind are linear between stations; a list of stiffness
    /// values interpolates the stiffness: its logarithm is linear between stations. A tip load
    /// stated beside such a list changes nothing: it is what the list can be compared with.
    ///
    /// # Errors
    ///
    /// [`DeviceError`] where a quantity lies outside its range, where a list of stations is empty
    /// or does not rise, where a core grind begins within the last 10 mm although a tip load is
    /// given, where the core would be thicker than the wire, and where bends overlap or are
    /// tighter than the wire's radius.
    pub fn from_spec(spec: &WireSpec) -> Result<Self, DeviceError> {
        check::quantities(spec)?;
        let (values, modulus) = stiffness_values(&spec.stiffness);
        let profile = match &spec.stiffness {
            StiffnessSpec::List { .. } | StiffnessSpec::ListWithTipLoad { .. } => {
                StiffnessProfile::listed(&values)
            }
            StiffnessSpec::TipLoad { .. } | StiffnessSpec::Grind { .. } => {
                StiffnessProfile::ground(&values)
            }
        };
        check::core_fits(spec, &values, modulus)?;
        check::bends(spec)?;
        Ok(Self {
            name: spec.name.clone(),
            radius_mm: spec.diameter_mm / 2.0,
            friction: spec.friction,
            torsion_ratio: spec.torsion_ratio,
            strain_limit: spec.strain_limit,
            core_law: spec.core_law,
            modulus,
            profile,
            tip: ShapedTip::new(spec.tip.primary.iter().chain(&spec.tip.secondary)),
            axial_stiffness: None,
        })
    }

    /// The same wire with the angle of every tip bend times `factor`. The bends are not checked
    /// again.
    #[must_use]
    pub fn with_bend_factor(&self, factor: f64) -> Self {
        Self {
            tip: self.tip.scaled(factor),
            ..self.clone()
        }
    }

    /// The same wire with one more bend, behind its shaped tip.
    #[must_use]
    pub fn with_fold(&self, fold: &BendSpec) -> Self {
        Self {
            tip: self.tip.with(fold),
            ..self.clone()
        }
    }

    /// The same wire with another Coulomb coefficient against the vessel wall.
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

    /// Coulomb coefficient against the vessel wall.
    #[must_use]
    pub fn friction(&self) -> f64 {
        self.friction
    }

    /// Torsional over bending stiffness, GJ/EI, the same all along the wire.
    #[must_use]
    pub fn torsion_ratio(&self) -> f64 {
        self.torsion_ratio
    }

    /// Bending strain at which the core yields, or at which its plateau begins.
    #[must_use]
    pub fn strain_limit(&self) -> f64 {
        self.strain_limit
    }

    /// What the core does beyond that strain.
    #[must_use]
    pub fn core_law(&self) -> CoreLawSpec {
        self.core_law
    }

    /// Curvature in 1/mm at which a part of the bending stiffness `stiffness` (mN mm²) reaches the
    /// strain limit: `2 eps/d`, with `d` the diameter of the round core of that stiffness.
    ///
    /// All the stiffness is taken for the core's: coils and jackets add little to it.
    #[must_use]
    pub fn yield_curvature(&self, stiffness: f64) -> f64 {
        2.0 * self.strain_limit / round_core_diameter(stiffness, self.modulus)
    }

    /// Bending stiffness in mN mm² at `s`.
    #[must_use]
    pub fn bending_stiffness(&self, s: f64) -> f64 {
        self.profile.at(s)
    }

    /// Integral of `ds / B` from `a` to `b` in 1/(mN mm), in closed form; negative where `b < a`.
    #[must_use]
    pub fn compliance_between(&self, a: f64, b: f64) -> f64 {
        self.profile.compliance_between(a, b)
    }

    /// Natural curvature in 1/mm at `s` in the material frame: a bend in plane `p` gives
    /// `kappa [cos p, sin p]`.
    #[must_use]
    pub fn natural_curvature(&self, s: f64) -> [f64; 2] {
        self.tip.curvature(s)
    }

    /// Integral of the natural curvature from `a` to `b` in rad, exact.
    #[must_use]
    pub fn natural_curvature_between(&self, a: f64, b: f64) -> [f64; 2] {
        self.tip.turned_between(a, b)
    }

    /// Energy in mN mm that a straight channel stores in the part of the shaped tip beyond `s`:
    /// the integral of `B kappa_nat² / 2` from `s` on.
    #[must_use]
    pub fn stored_shape_energy_beyond(&self, s: f64) -> f64 {
        self.tip.straightened_energy_beyond(s, &self.profile)
    }

    /// Radius in mm of the round core of the wire's bending stiffness at `s`. The bending strain
    /// of the core is this radius times the curvature beyond the natural one.
    #[must_use]
    pub fn core_radius(&self, s: f64) -> f64 {
        round_core_diameter(self.profile.at(s), self.modulus) / 2.0
    }

    /// Buckling load in mN of the last 10 mm, whatever the wire was described by.
    #[must_use]
    pub fn tip_load_mn(&self, end: EndCondition) -> f64 {
        tip_load::tip_load_mn(&self.profile, end)
    }

    /// Force in mN that stands for the largest push force of a run:
    /// `max(20 mN, 10 P)`, with `P` the fixed-pinned buckling load over 10 mm of a wire as stiff
    /// as this one at its tip.
    ///
    /// In a vessel a wire folds at its tip long before its hand feels ten tip loads.
    #[must_use]
    pub fn reference_force_mn(&self) -> f64 {
        let tip = self.profile.at(0.0);
        let load = buckling_load(tip, HELD_BEHIND_TIP_MM, EndCondition::FixedPinned);
        (REFERENCE_OVER_TIP_LOAD * load).max(SMALLEST_REFERENCE_FORCE_MN)
    }

    /// The same wire with an axial stiffness EA of its own in mN, above 0, in place of the one that is
    /// computed with otherwise (see [`Wire::axial_stiffness_cap`]): for a wire that is extensible along its
    /// length, such as an open coil.
    ///
    /// ```
    /// use bendwise::prelude::*;
    ///
    /// let wire = WireBuilder::from_tip_load_gf(1.0, &[(20.0, 0.07), (100.0, 0.13)]).build()?;
    /// let coil = wire.with_axial_stiffness(200.0); // a load of 2 mN stretches it by 1 %
    /// assert_eq!(coil.axial_stiffness_cap(), 200.0);
    /// assert!(wire.axial_stiffness_cap() > 200.0);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn with_axial_stiffness(&self, axial_stiffness: f64) -> Self {
        Self {
            axial_stiffness: Some(axial_stiffness),
            ..self.clone()
        }
    }

    /// Axial stiffness EA in mN to compute with: its own where it was given one, and otherwise such that
    /// it is strained by 1e-3 at the reference force.
    ///
    /// The axial stiffness of a core wire inside closed coils is larger by orders of magnitude.
    /// It changes no result, but Newton's method crawls along the surface of states without
    /// stretch; results report the largest axial strain, which shows whether the cap mattered.
    #[must_use]
    pub fn axial_stiffness_cap(&self) -> f64 {
        self.axial_stiffness
            .unwrap_or_else(|| self.reference_force_mn() / STRAIN_AT_REFERENCE_FORCE)
    }

    /// Distance from the tip in mm behind which the wire is naturally straight.
    #[must_use]
    pub fn bends_end_mm(&self) -> f64 {
        self.tip.end_mm()
    }

    /// Beginning and end of each bend, distances from the tip in mm.
    #[must_use]
    pub fn bends_mm(&self) -> Vec<(f64, f64)> {
        self.tip.bends_mm().collect()
    }

    /// Distances from the tip in mm, rising, at which bends end or the taper changes.
    #[must_use]
    pub fn features_mm(&self) -> Vec<f64> {
        let mut features: Vec<f64> = self
            .tip
            .bends_mm()
            .flat_map(|(from, to)| [from, to])
            .chain(self.profile.stations().iter().copied())
            .collect();
        features.sort_by(f64::total_cmp);
        features.dedup();
        features
    }
}

/// Stations and stiffness values of a description that has been checked, and the core's modulus.
fn stiffness_values(spec: &StiffnessSpec) -> (Vec<(f64, f64)>, f64) {
    let ground = |grind: &[(f64, f64)], modulus: f64| -> Vec<(f64, f64)> {
        let stiffness = |&(s, d): &(f64, f64)| (s, round_core_stiffness(d, modulus));
        grind.iter().map(stiffness).collect()
    };
    match spec {
        StiffnessSpec::TipLoad {
            tip_load_mn,
            end_condition,
            grind,
            modulus_mn_per_mm2: modulus,
        } => {
            let tip = stiffness_from_tip_load(*tip_load_mn, *end_condition);
            let mut values = vec![(HELD_BEHIND_TIP_MM, tip)];
            values.extend(ground(grind, *modulus));
            (values, *modulus)
        }
        StiffnessSpec::Grind {
            grind,
            modulus_mn_per_mm2: modulus,
        } => (ground(grind, *modulus), *modulus),
        StiffnessSpec::List {
            values,
            modulus_mn_per_mm2: modulus,
        }
        | StiffnessSpec::ListWithTipLoad {
            values,
            modulus_mn_per_mm2: modulus,
            ..
        } => (values.clone(), *modulus),
    }
}
