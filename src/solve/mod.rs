//! The solver: banded factorisation, Newton's method on the incremental potential, step control.

mod banded;
mod body;
mod chain;
mod consistent;
mod core_flow;
mod coupled;
mod dual_lumen;
mod folded;
mod guess;
mod insertion;
mod intake;
mod loads;
mod lu;
mod newton;
mod release;
mod rig;
mod search;
mod settings;
mod shape;
mod surroundings;
mod telescope;

pub use banded::{Banded, Factor};
pub use body::{Body, Load, Losses, Spring, Update};
pub use core_flow::{CoreSet, wire_cores};
pub use dual_lumen::{DualLumen, Second};
pub use folded::FoldedStart;
pub use insertion::{EnergyBalance, Insertion, Unresolved};
pub use intake::wire_hinge;
pub use loads::ClampReaction;
pub use newton::Newton;
pub use rig::{CatheterReading, Rig};
pub use search::{Equilibrium, NewtonFailure, NewtonOptions, Step};
pub use settings::{GuideTip, Start, StepSettings, equal_parts};
pub use shape::WireShape;
pub use telescope::{Hands, PairStart, Reactions, SidePort, Telescope};
