//! The solver: banded factorisation, Newton's method on the incremental potential, step control.

mod banded;
mod body;
mod insertion;
mod intake;
mod newton;

pub use banded::{Banded, Factor, HALF_BANDWIDTH};
pub use body::{Body, Load, Spring, Update};
pub use insertion::{Channel, Insertion, Ledger, Start, StepSettings, Unresolved};
pub use newton::{Equilibrium, Newton, NewtonFailure, NewtonOptions, Step};
