//! The solver: devices in a guide, banded factorisation, Newton's method on the incremental potential,
//! step control.

mod assembly;
mod axes_factor;
mod balance;
mod banded;
mod body;
mod bore;
mod chain;
mod consistent;
mod core_flow;
mod coupled;
mod giving;
mod guess;
mod guided;
mod hands;
mod lu;
mod newton;
mod pair_rod;
mod ported_pair;
mod release;
mod search;
mod settings;
mod shape;
mod together;
mod wire_rod;

pub use assembly::{Assembly, CatheterReading};
pub use balance::{EnergyBalance, Unresolved};
pub use banded::{Banded, Factor};
pub use body::{Body, ClampReaction, Load, Losses, Spring, Update};
pub use core_flow::{CoreSet, wire_cores};
pub use giving::Giving;
pub use hands::{Hands, Reactions};
pub use newton::Newton;
pub use pair_rod::{PairStart, SidePort};
pub use ported_pair::Second;
pub use search::{Equilibrium, NewtonFailure, NewtonOptions, Step};
pub(crate) use settings::equal_parts;
pub use settings::{GuideTip, Start, StepSettings};
pub use shape::WireShape;
pub use wire_rod::{FoldedStart, wire_hinge};
