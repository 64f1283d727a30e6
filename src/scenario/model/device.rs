//! Wires and catheters of a checked scenario.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Place;
use crate::schema::defaults;
use crate::units::degrees;

/// Length in mm behind the tip at which the wire is held when its tip load is measured (common
/// practice; no standard defines the test).
pub const HELD_BEHIND_TIP_MM: f64 = 10.0;

/// Outer diameter in mm of a wire of which nothing else is known: 0.014 inch, that of coronary wires.
pub const WIRE_DIAMETER_MM: f64 = 0.3556;

/// The material of a core of which nothing is said.
pub mod steel {
    /// Young's modulus in GPa.
    pub const MODULUS_GPA: f64 = 200.0;
    /// Poisson's ratio.
    pub const POISSON_RATIO: f64 = 0.3;
    /// Strain at which a core yields: spring-temper steel wire at 2000 N/mm² over 200 GPa. A
    /// cobalt-chromium core wire of 197 GPa breaks at 2600 N/mm², a strain of 0.013 (Adv. Mater. Process.,
    /// October 2019, p. 49), which bounds it.
    pub const STRAIN_LIMIT: f64 = 0.01;
}

/// GJ/EI of a round core whose material has this Poisson's ratio.
#[must_use]
pub fn round_core_torsion_ratio(poisson_ratio: f64) -> f64 {
    1.0 / (1.0 + poisson_ratio)
}

/// A wire as a catalogue describes it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WireSpec {
    /// Unique name.
    pub name: String,
    /// Outer diameter in mm.
    pub diameter_mm: f64,
    /// Where the bending stiffness comes from.
    pub stiffness: StiffnessSpec,
    /// Ratio of torsional to bending stiffness GJ/EI; 1/(1+nu) for a round core.
    pub torsion_ratio: f64,
    /// Coulomb coefficient against the vessel wall, 0 to 2.
    pub friction: f64,
    /// Shape of the tip.
    pub tip: TipSpec,
    /// Bending strain at which the core yields, or at which its plateau begins; above 0.
    pub strain_limit: f64,
    /// What the core does beyond that strain.
    #[serde(default)]
    pub core_law: CoreLawSpec,
    /// Where it is described.
    pub place: Place,
}

/// What a core does beyond its strain limit.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub enum CoreLawSpec {
    /// It stays elastic, whatever the strain.
    Elastic,
    /// It flows at constant stress and keeps a set.
    #[default]
    Plastic,
    /// It flows along a plateau and comes back along a lower one.
    Superelastic {
        /// Stress of the lower plateau over that of the upper, 0 to 1.
        lower_over_upper: f64,
        /// Length of the upper plateau in strain, above 0.
        plateau_strain: f64,
    },
}

/// A support catheter as a catalogue describes it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CatheterSpec {
    /// Unique name.
    pub name: String,
    /// Outer diameter in mm, above the inner one.
    pub outer_diameter_mm: f64,
    /// Diameter of the lumen for the wire in mm, above 0.
    pub inner_diameter_mm: f64,
    /// (Distance from the tip in mm, bending stiffness in mN mm²) in rising order, at least one.
    pub stiffness: Vec<(f64, f64)>,
    /// Ratio of torsional to bending stiffness GJ/EI.
    pub torsion_ratio: f64,
    /// Coulomb coefficient against the vessel wall, 0 to 2.
    pub friction: f64,
    /// Coulomb coefficient of its bore against a wire in it, 0 to 2.
    #[serde(default)]
    pub friction_inside: f64,
    /// Bend of the tip; `None` for a straight catheter.
    pub tip: Option<CatheterTipSpec>,
    /// Port of a second lumen; `None` for a catheter with one lumen.
    pub side_port: Option<SidePortSpec>,
    /// Where it is described.
    pub place: Place,
}

/// The bent tip of a catheter: a circular arc that ends at the tip.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CatheterTipSpec {
    /// Length of the bent part in mm, above 0.
    pub length_mm: f64,
    /// Angle turned in rad; of a steerable tip, the angle with which it is put in.
    pub angle_rad: f64,
    /// Smallest and largest angle in rad of a steerable tip; `None` for a preformed one.
    pub range_rad: Option<(f64, f64)>,
}

/// The port through which a wire leaves the second lumen of a catheter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SidePortSpec {
    /// Distance behind the catheter's tip.
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "8"))]
    pub behind_tip_mm: f64,
    /// Angle between the catheter's forward direction and the one in which a wire leaves.
    #[serde(
        default = "defaults::degrees::<30>",
        rename = "angle_deg",
        with = "degrees"
    )]
    #[schemars(with = "f64", range(min = 0, max = 90), extend("x-example" = "30"))]
    pub angle_rad: f64,
    /// Side of the catheter, counted about it from the plane in which its tip bends.
    #[serde(default, rename = "plane_deg", with = "degrees")]
    #[schemars(with = "f64", range(min = -360, max = 360), extend("x-example" = "0"))]
    pub plane_rad: f64,
}

/// End conditions under which a tip load was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[schemars(extend("x-kind" = "an end condition"))]
pub enum EndCondition {
    /// Held at one end, the tip pressed against a plate on which it cannot slide.
    FixedPinned,
    /// Held at one end, the tip free to move sideways.
    FixedFree,
}

impl EndCondition {
    /// As a scenario says it.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::FixedPinned => "fixed-pinned",
            Self::FixedFree => "fixed-free",
        }
    }

    /// The other way of holding the tip.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::FixedPinned => Self::FixedFree,
            Self::FixedFree => Self::FixedPinned,
        }
    }
}

/// Bending stiffness along the wire, from its tip.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum StiffnessSpec {
    /// Tip load (buckling load of the last 10 mm) with a core that grows thicker behind it.
    TipLoad {
        /// Tip load in mN, above 0.
        tip_load_mn: f64,
        /// End condition of the tip-load test.
        end_condition: EndCondition,
        /// Core behind the tip: (distance from tip in mm, core diameter in mm) in rising order,
        /// from 10 mm on; the stiffness runs smoothly from the tip's value to the core's.
        /// Empty for a wire of the tip's stiffness throughout.
        grind: Vec<(f64, f64)>,
        /// Young's modulus of the core in mN/mm².
        modulus_mn_per_mm2: f64,
    },
    /// A core-grind profile alone.
    Grind {
        /// (Distance from tip in mm, core diameter in mm) in rising order, at least one.
        grind: Vec<(f64, f64)>,
        /// Young's modulus of the core in mN/mm².
        modulus_mn_per_mm2: f64,
    },
    /// Bending stiffness said directly; its logarithm is linear between stations.
    List {
        /// (Distance from tip in mm, bending stiffness in mN mm²) in rising order, at least one.
        values: Vec<(f64, f64)>,
        /// Young's modulus used to derive the core diameter for the strain check, in mN/mm².
        modulus_mn_per_mm2: f64,
    },
    /// Bending stiffness said directly, beside the tip load of the catalogue. The list alone says
    /// how stiff the wire is; the tip load is what it is compared with.
    ListWithTipLoad {
        /// As in [`StiffnessSpec::List`].
        values: Vec<(f64, f64)>,
        /// As in [`StiffnessSpec::List`].
        modulus_mn_per_mm2: f64,
        /// Tip load of the catalogue in mN, above 0.
        tip_load_mn: f64,
        /// End condition under which it was measured.
        end_condition: EndCondition,
    },
}

impl StiffnessSpec {
    /// Young's modulus of the core in mN/mm².
    #[must_use]
    pub fn modulus_mn_per_mm2(&self) -> f64 {
        match self {
            Self::TipLoad {
                modulus_mn_per_mm2, ..
            }
            | Self::Grind {
                modulus_mn_per_mm2, ..
            }
            | Self::List {
                modulus_mn_per_mm2, ..
            }
            | Self::ListWithTipLoad {
                modulus_mn_per_mm2, ..
            } => *modulus_mn_per_mm2,
        }
    }

    /// The tip load that the description states, in mN, and how it was measured.
    #[must_use]
    pub fn tip_load_mn(&self) -> Option<(f64, EndCondition)> {
        match self {
            Self::TipLoad {
                tip_load_mn,
                end_condition,
                ..
            }
            | Self::ListWithTipLoad {
                tip_load_mn,
                end_condition,
                ..
            } => Some((*tip_load_mn, *end_condition)),
            Self::Grind { .. } | Self::List { .. } => None,
        }
    }
}

/// Shape set into the tip.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TipSpec {
    /// Primary bend: an arc that ends at the tip.
    pub primary: Option<BendSpec>,
    /// Secondary bend further back.
    pub secondary: Option<BendSpec>,
}

/// One bend shaped into the wire: a circular arc.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct BendSpec {
    /// Distance of the bend's distal end from the tip in mm; 0 or more.
    pub from_tip_mm: f64,
    /// Length of the bent part in mm, above 0.
    pub length_mm: f64,
    /// Angle turned in rad.
    pub angle_rad: f64,
    /// Direction of the bend about the wire's axis in rad.
    pub plane_rad: f64,
}
