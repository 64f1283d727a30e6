//! Laws of the wall that a scenario can name, a file for each.
//!
//! A law's file holds everything that is its own: the fields that `[vessel.wall]` may say, as a plain
//! struct with units, ranges and defaults, the law itself ([`WallLaw`]), and what a scenario asks of it
//! besides ([`NamedLaw`]). The registry below names every law once.

mod linear;
mod stiffening;

use super::law::{Wall, WallLaw};

/// What a scenario asks of a law that it can name.
trait NamedLaw: WallLaw + Sized {
    /// One of the kind with which the tests compare force and stiffness with differences of the energy.
    #[cfg(test)]
    const EXAMPLE: Self;

    /// The same law with `factor` times the force at every depth.
    fn times(self, factor: f64) -> Self;

    /// What it does, in the words of `bendwise check`.
    fn words(&self) -> String;
}

/// Stiffness in mN/mm² of a wall of which nothing is said, as the default of a field.
pub(crate) fn usual_stiffness() -> f64 {
    WallSpec::DEFAULT_STIFFNESS_MN_PER_MM2
}

/// Makes of a line `"name" => file::Law` for each law the choice that a scenario has, and the ways from
/// it to the law and to its words.
macro_rules! registry {
    ($($name:literal => $file:ident::$law:ident,)+) => {
        $(pub use self::$file::$law;)+

        /// The law of a vessel's wall, with its values.
        #[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
        #[serde(tag = "law")]
        #[schemars(extend("x-kind" = "a law of the wall"))]
        #[allow(missing_docs, reason = "what a law is stands at its struct, and goes into the schema from there")]
        pub enum WallSpec {
            $(
                #[serde(rename = $name)]
                $law($law),
            )+
        }

        impl WallSpec {
            /// What it does, in the words of `bendwise check`.
            #[must_use]
            pub fn words(&self) -> String {
                match self {
                    $(Self::$law(law) => law.words(),)+
                }
            }

            /// The same law with `factor` times the force at every depth.
            #[must_use]
            pub fn times(self, factor: f64) -> Self {
                match self {
                    $(Self::$law(law) => Self::$law(law.times(factor)),)+
                }
            }

            /// Stiffness at first contact in mN/mm².
            #[must_use]
            pub fn stiffness_mn_per_mm2(&self) -> f64 {
                match self {
                    $(Self::$law(law) => law.respond(0.0).stiffness(),)+
                }
            }
        }

        #[cfg(test)]
        impl WallSpec {
            /// An example of each law.
            fn examples() -> Vec<Self> {
                vec![$(Self::$law($law::EXAMPLE),)+]
            }
        }

        impl From<WallSpec> for Wall {
            fn from(spec: WallSpec) -> Self {
                match spec {
                    $(WallSpec::$law(law) => Self::new(law),)+
                }
            }
        }
    };
}

registry! {
    "linear" => linear::LinearFoundation,
    "stiffening" => stiffening::StiffeningFoundation,
}

impl From<f64> for WallSpec {
    /// A linear foundation of that stiffness in mN/mm².
    fn from(stiffness: f64) -> Self {
        Self::LinearFoundation(LinearFoundation { stiffness })
    }
}

impl Default for WallSpec {
    fn default() -> Self {
        Self::from(Self::DEFAULT_STIFFNESS_MN_PER_MM2)
    }
}

impl WallSpec {
    /// Stiffness in mN/mm² of a wall of which nothing is said: it keeps the deflection under the forces of
    /// a coronary wire to some hundredths of a millimetre.
    pub const DEFAULT_STIFFNESS_MN_PER_MM2: f64 = 300.0;
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contact::Response;

    /// Force and stiffness of every law, as derivatives of its energy: differences over steps of 1e-5 and 2e-5 mm
    /// are off by the fourth power of the step, however strongly a law stiffens, and by what rounding leaves of
    /// the energy.
    #[test]
    fn forces_of_all_laws_are_derivatives_of_their_energies() {
        for spec in WallSpec::examples() {
            let wall = Wall::from(spec);
            let k = wall.respond(0.0).stiffness();
            for depth in [-0.003, 0.004, 0.03, 0.4] {
                let at = |by: f64| -> Response { wall.respond(depth + by) };
                let slope = |of: fn(&Response) -> f64| {
                    let h = 1e-5;
                    let across = |by: f64| of(&at(by)) - of(&at(-by));
                    (8.0 * across(h) - across(2.0 * h)) / (12.0 * h)
                };
                let (force, stiffness) = (slope(Response::energy), slope(Response::force));
                let here = at(0.0);
                assert!(
                    (force - here.force()).abs() < 1e-6 * k,
                    "{spec:?} at {depth}"
                );
                assert!(
                    (stiffness / here.stiffness() - 1.0).abs() < 1e-6,
                    "{spec:?} at {depth}"
                );
            }
        }
    }
}
