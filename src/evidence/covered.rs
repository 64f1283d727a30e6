//! In which range of its inputs the program was compared with values from outside.

use serde::Serialize;

/// An input of a scenario that decides whether a check speaks for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Input {
    /// Turn that a wire must make into a branch, in degrees.
    TakeOff,
    /// Turns of the way before that, added up, in degrees.
    Turn,
    /// Angle of a bend on the tip of a device, in degrees.
    TipBend,
    /// Radius of such a bend in mm.
    TipBendRadius,
    /// Tip load of a wire (held 10 mm behind its tip, the tip on a pin), in gf.
    TipLoad,
    /// Coulomb coefficient against the wall.
    Friction,
    /// Bending stiffness of a wire or catheter in mN mm².
    Stiffness,
    /// Largest over smallest bending stiffness within the length that bends together.
    StiffnessRatio,
    /// Diameter of a device in mm.
    Device,
    /// Diameter of the lumen in mm.
    Lumen,
    /// Play of a device in its lumen, over the radius of the bend in which it lies.
    Clearance,
    /// Curvature of the tightest bend in 1/mm.
    Curvature,
    /// Length of device outside the guide, in mm.
    Length,
    /// Stiffness of the wall in mN/mm².
    Wall,
    /// Stiffness of what a vessel lies in, in mN/mm².
    Bed,
    /// Bending strain of a core over its limit.
    Strain,
}

impl Input {
    /// All of them, in the order of tables.
    pub const ALL: [Self; 16] = [
        Self::TakeOff,
        Self::Turn,
        Self::TipBend,
        Self::TipBendRadius,
        Self::TipLoad,
        Self::Friction,
        Self::Stiffness,
        Self::StiffnessRatio,
        Self::Device,
        Self::Lumen,
        Self::Clearance,
        Self::Curvature,
        Self::Length,
        Self::Wall,
        Self::Bed,
        Self::Strain,
    ];

    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::TakeOff => "take-off angle",
            Self::Turn => "turns of the way before the target",
            Self::TipBend => "angle of the bend on a tip",
            Self::TipBendRadius => "radius of the bend on a tip",
            Self::TipLoad => "tip load",
            Self::Friction => "friction on the wall",
            Self::Stiffness => "bending stiffness",
            Self::StiffnessRatio => "largest over smallest stiffness along a device",
            Self::Device => "diameter of a device",
            Self::Lumen => "diameter of the lumen",
            Self::Clearance => "play in the lumen over the radius of the bend",
            Self::Curvature => "curvature of the tightest bend",
            Self::Length => "length outside the guide",
            Self::Wall => "stiffness of the wall",
            Self::Bed => "stiffness of the bed",
            Self::Strain => "bending strain over its limit",
        }
    }

    /// Unit; empty for a ratio.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::TakeOff | Self::Turn | Self::TipBend => "deg",
            Self::TipLoad => "gf",
            Self::Stiffness => "mN mm²",
            Self::Curvature => "1/mm",
            Self::Length | Self::TipBendRadius | Self::Device | Self::Lumen => "mm",
            Self::Wall | Self::Bed => "mN/mm²",
            Self::Friction | Self::StiffnessRatio | Self::Clearance | Self::Strain => "",
        }
    }
}

/// A range of an input.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Covered {
    /// Which input.
    pub input: Input,
    /// Smallest value.
    pub low: f64,
    /// Largest value.
    pub high: f64,
}

impl Covered {
    /// The range that these values span; they are finite and at least one.
    #[must_use]
    pub fn over(input: Input, values: &[f64]) -> Self {
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        Self { input, low, high }
    }
}
