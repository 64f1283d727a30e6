//! A wire in a few lines.

use crate::device::{DeviceError, Wire};
use crate::scenario::model::{
    BendSpec, CoreLawSpec, EndCondition, Place, StiffnessSpec, TipSpec, WIRE_DIAMETER_MM, WireSpec,
    round_core_torsion_ratio, steel,
};
use crate::units::{gpa_to_mn_per_mm2, gram_force_to_mn};

/// Describes a wire step by step.
///
/// Without further calls the wire has a diameter of 0.3556 mm (0.014 inch), no friction, a straight
/// tip, a steel core (200 GPa, GJ/EI = 1/1.3) and yields at a bending strain of 0.01.
///
/// # Examples
///
/// By its tip load and core grind, as a catalogue says it:
///
/// ```
/// use bendwise::prelude::*;
///
/// let wire = WireBuilder::from_tip_load_gf(1.0, &[(20.0, 0.07), (100.0, 0.13), (250.0, 0.18)])
///     .friction(0.05)
///     .bend_mm_deg(5.0, 60.0)
///     .build()?;
/// let tip_load_gf = wire.tip_load_mn(EndCondition::FixedPinned) / 9.80665;
/// assert!((tip_load_gf - 1.0).abs() < 1e-6);
/// # Ok::<(), DeviceError>(())
/// ```
///
/// By a list of stiffness, as a bench measures it; its logarithm is linear between stations:
///
/// ```
/// use bendwise::prelude::*;
///
/// let wire = WireBuilder::from_stiffness_mn_mm2(&[(0.0, 50.0), (30.0, 200.0)]).build()?;
/// assert!((wire.bending_stiffness(15.0) - 100.0).abs() < 1e-9);
/// # Ok::<(), DeviceError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct WireBuilder {
    spec: WireSpec,
}

impl WireBuilder {
    /// A wire with that tip load in gram-force (above 0), held at one end 10 mm behind its tip and
    /// pressed against a plate on which the tip cannot slide; and the core behind the tip: (distance
    /// from the tip in mm, core diameter in mm), rising, from 10 mm on. Without a core the stiffness
    /// of the tip holds throughout.
    #[must_use]
    pub fn from_tip_load_gf(tip_load_gf: f64, core_mm: &[(f64, f64)]) -> Self {
        Self::new(StiffnessSpec::TipLoad {
            tip_load_mn: gram_force_to_mn(tip_load_gf),
            end_condition: EndCondition::FixedPinned,
            grind: core_mm.to_vec(),
            modulus_mn_per_mm2: gpa_to_mn_per_mm2(steel::MODULUS_GPA),
        })
    }

    /// A wire with that round core: (distance from the tip in mm, core diameter in mm), rising, at
    /// least one.
    #[must_use]
    pub fn from_core_mm(core_mm: &[(f64, f64)]) -> Self {
        Self::new(StiffnessSpec::Grind {
            grind: core_mm.to_vec(),
            modulus_mn_per_mm2: gpa_to_mn_per_mm2(steel::MODULUS_GPA),
        })
    }

    /// A wire with that bending stiffness: (distance from the tip in mm, stiffness in mN mm²),
    /// rising, at least one; 1 N mm² is 1000 mN mm².
    #[must_use]
    pub fn from_stiffness_mn_mm2(stiffness: &[(f64, f64)]) -> Self {
        Self::new(StiffnessSpec::List {
            values: stiffness.to_vec(),
            modulus_mn_per_mm2: gpa_to_mn_per_mm2(steel::MODULUS_GPA),
        })
    }

    fn new(stiffness: StiffnessSpec) -> Self {
        Self {
            spec: WireSpec {
                name: "wire".to_owned(),
                diameter_mm: WIRE_DIAMETER_MM,
                stiffness,
                torsion_ratio: round_core_torsion_ratio(steel::POISSON_RATIO),
                friction: 0.0,
                tip: TipSpec {
                    primary: None,
                    secondary: None,
                },
                strain_limit: steel::STRAIN_LIMIT,
                core_law: CoreLawSpec::default(),
                place: Place::default(),
            },
        }
    }

    /// Its name, for messages and tables.
    #[must_use]
    pub fn named(mut self, name: &str) -> Self {
        name.clone_into(&mut self.spec.name);
        self
    }

    /// Outer diameter in mm, above 0.
    #[must_use]
    pub fn diameter_mm(mut self, diameter_mm: f64) -> Self {
        self.spec.diameter_mm = diameter_mm;
        self
    }

    /// Young's modulus of the core in GPa, above 0. It turns core diameters into stiffness, and
    /// stiffness into the core diameter by which strain is judged.
    #[must_use]
    pub fn modulus_gpa(mut self, modulus_gpa: f64) -> Self {
        match &mut self.spec.stiffness {
            StiffnessSpec::TipLoad {
                modulus_mn_per_mm2, ..
            }
            | StiffnessSpec::Grind {
                modulus_mn_per_mm2, ..
            }
            | StiffnessSpec::List {
                modulus_mn_per_mm2, ..
            }
            | StiffnessSpec::ListWithTipLoad {
                modulus_mn_per_mm2, ..
            } => *modulus_mn_per_mm2 = gpa_to_mn_per_mm2(modulus_gpa),
        }
        self
    }

    /// Coulomb coefficient against the vessel wall, 0 to 2.
    #[must_use]
    pub fn friction(mut self, friction: f64) -> Self {
        self.spec.friction = friction;
        self
    }

    /// The bend that ends at the tip: length of the arc in mm (above 0) and its angle in degrees.
    #[must_use]
    pub fn bend_mm_deg(mut self, length_mm: f64, angle_deg: f64) -> Self {
        self.spec.tip.primary = Some(BendSpec {
            from_tip_mm: 0.0,
            length_mm,
            angle_rad: angle_deg.to_radians(),
            plane_rad: 0.0,
        });
        self
    }

    /// A second bend in the same plane: distance of its distal end from the tip in mm, behind the
    /// first bend; length of the arc in mm (above 0); angle in degrees, negative to the other side.
    #[must_use]
    pub fn secondary_bend_mm_deg(
        mut self,
        from_tip_mm: f64,
        length_mm: f64,
        angle_deg: f64,
    ) -> Self {
        self.spec.tip.secondary = Some(BendSpec {
            from_tip_mm,
            length_mm,
            angle_rad: angle_deg.to_radians(),
            plane_rad: 0.0,
        });
        self
    }

    /// What the core does beyond its strain limit, and that limit (a bending strain above 0).
    #[must_use]
    pub fn core_law(mut self, core_law: CoreLawSpec, strain_limit: f64) -> Self {
        self.spec.core_law = core_law;
        self.spec.strain_limit = strain_limit;
        self
    }

    /// The description so far.
    #[must_use]
    pub fn spec(&self) -> &WireSpec {
        &self.spec
    }

    /// Builds the wire.
    ///
    /// # Errors
    /// [`DeviceError`] as [`Wire::from_spec`].
    pub fn build(&self) -> Result<Wire, DeviceError> {
        Wire::from_spec(&self.spec)
    }
}
