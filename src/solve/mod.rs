//! The solver: banded factorisation, Newton's method on the incremental potential, step control.

mod banded;

pub use banded::{Banded, Factor, HALF_BANDWIDTH};
