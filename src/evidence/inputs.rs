//! The uncertain inputs of a scenario, and within which spreads they vary.

use serde::{Deserialize, Serialize};

use crate::scenario::model::{Scenario, StiffnessSpec, VesselSpec, WireSpec};

/// An input that nobody knows well.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Uncertain {
    /// Friction of all devices on the wall: a factor.
    Friction,
    /// Tip load of all wires, and so the stiffness of their tips: a factor.
    TipLoad,
    /// Angle of the bend on the tip: a factor.
    TipAngle,
    /// Diameters of the vessel: a factor.
    Diameter,
    /// Stiffness of the wall, and of the bed where there is one: a factor.
    Tissue,
    /// Standard deviation of the hand's turns in degrees.
    Hand,
}

/// A spread of an input.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct InputSpread {
    /// Which input.
    pub input: Uncertain,
    /// Smallest value.
    pub low: f64,
    /// Largest value.
    pub high: f64,
    /// Where the spread comes from.
    pub source: String,
}

/// Standard deviation in degrees of the turns of a hand of which nothing is said.
const HAND_DEG: f64 = 5.0;

impl Uncertain {
    /// All inputs, in the order of tables.
    pub const ALL: [Self; 6] = [
        Self::Friction,
        Self::TipLoad,
        Self::TipAngle,
        Self::Diameter,
        Self::Tissue,
        Self::Hand,
    ];

    /// Name on the command line and in tables.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Friction => "friction",
            Self::TipLoad => "tip-load",
            Self::TipAngle => "tip-angle",
            Self::Diameter => "diameter",
            Self::Tissue => "tissue",
            Self::Hand => "hand",
        }
    }

    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Friction => "friction on the wall",
            Self::TipLoad => "tip load",
            Self::TipAngle => "angle of the tip's bend",
            Self::Diameter => "diameters of the vessel",
            Self::Tissue => "stiffness of wall and bed",
            Self::Hand => "noise of the hand's turns",
        }
    }

    /// Whether a value is a factor on what the scenario says; else it is the value itself.
    #[must_use]
    pub fn is_factor(self) -> bool {
        self != Self::Hand
    }

    /// What stands behind a value.
    #[must_use]
    pub fn unit(self) -> &'static str {
        if self.is_factor() { "times" } else { "deg" }
    }

    /// Smallest and largest value that may be stated.
    #[must_use]
    pub fn allowed(self) -> (f64, f64) {
        if self.is_factor() {
            (0.1, 10.0)
        } else {
            (0.0, 90.0)
        }
    }

    /// The spread where nobody states another.
    #[must_use]
    pub fn usual(self) -> InputSpread {
        let (low, high, source) = match self {
            Self::Friction => (
                0.71,
                1.41,
                "a coating's published range, 0.02 to 0.04 about its middle (ratios of Schroeder 1993, \
                 Cardiovasc. Intervent. Radiol. 16:93, anchored at a published 0.02)",
            ),
            Self::TipLoad => (0.8, 1.25, "common practice, no source"),
            Self::TipAngle => (0.9, 1.1, "common practice, no source: shaped by hand"),
            Self::Diameter => (
                0.93,
                1.07,
                "repeat error of 0.12 mm on 3.4 mm, twice (Dodge 1992, Circulation 86:232)",
            ),
            Self::Tissue => (
                0.5,
                2.0,
                "fat 2 to 10 mN/mm² about its middle (reckoned from MR elastography, 2023); of a wall nothing is known",
            ),
            Self::Hand => (0.0, 2.0 * HAND_DEG, "common practice, no source"),
        };
        InputSpread {
            input: self,
            low,
            high,
            source: source.to_owned(),
        }
    }

    /// Whether a change of it changes the scenario at all.
    #[must_use]
    pub fn acts(self, scenario: &Scenario) -> bool {
        match self {
            Self::Friction => {
                scenario.wires.iter().any(|wire| wire.friction > 0.0)
                    || scenario.catheters.iter().any(|c| c.friction > 0.0)
            }
            Self::TipLoad | Self::Tissue => true,
            Self::TipAngle => scenario.wires.iter().any(|w| w.tip.primary.is_some()),
            // A wall that is a surface has the size of its file.
            Self::Diameter => scenario.vessel.surface.is_none() && !scenario.vessel.folds,
            Self::Hand => scenario
                .techniques
                .iter()
                .any(|t| t.plan.technique().turns()),
        }
    }

    /// Sets it in a scenario.
    pub fn set(self, scenario: &mut Scenario, value: f64) {
        match self {
            Self::Friction => {
                for wire in &mut scenario.wires {
                    wire.friction *= value;
                }
                for catheter in &mut scenario.catheters {
                    catheter.friction *= value;
                }
            }
            Self::TipLoad => scenario.wires.iter_mut().for_each(|w| stiffen(w, value)),
            Self::TipAngle => {
                for wire in &mut scenario.wires {
                    if let Some(bend) = &mut wire.tip.primary {
                        bend.angle_rad *= value;
                    }
                }
            }
            Self::Diameter => widen(&mut scenario.vessel, value),
            Self::Tissue => {
                scenario.vessel.wall = scenario.vessel.wall.times(value);
                if let Some(bed) = &mut scenario.bed {
                    bed.across_mn_per_mm2 *= value;
                    bed.along_mn_per_mm2 *= value;
                }
            }
            Self::Hand => scenario.variation.turn_sd_rad = value.to_radians(),
        }
    }

    /// The value that the scenario has.
    #[must_use]
    pub fn stated(self, scenario: &Scenario) -> f64 {
        if self.is_factor() {
            1.0
        } else {
            scenario.variation.turn_sd_rad.to_degrees()
        }
    }
}

/// Makes the tip of a wire that many times as stiff: its stated tip load, or the stiffness and core over the
/// length at which the tip load is measured.
fn stiffen(wire: &mut WireSpec, factor: f64) {
    /// Part of the wire in mm that counts as its tip.
    const TIP_MM: f64 = crate::device::HELD_BEHIND_TIP_MM;
    match &mut wire.stiffness {
        StiffnessSpec::TipLoad { tip_load_mn, .. } => *tip_load_mn *= factor,
        // Stiffness goes with the fourth power of the diameter of a round core.
        StiffnessSpec::Grind { grind, .. } => {
            for (at, diameter) in grind {
                if *at <= TIP_MM {
                    *diameter *= factor.powf(0.25);
                }
            }
        }
        StiffnessSpec::List { values, .. } | StiffnessSpec::ListWithTipLoad { values, .. } => {
            for (at, stiffness) in values {
                if *at <= TIP_MM {
                    *stiffness *= factor;
                }
            }
        }
    }
}

fn widen(vessel: &mut VesselSpec, factor: f64) {
    for branch in &mut vessel.branches {
        for (_, diameter) in &mut branch.diameters {
            *diameter *= factor;
        }
    }
}
