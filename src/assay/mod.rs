//! Virtual bench tests of a wire: what a device engineer measures, computed from the same rod,
//! contact and friction as the trials.
//!
//! In: wires and the settings of the tests, [`Bench`](crate::scenario::bench::Bench). Out:
//! [`Findings`]: for each [`Test`] and wire curves and the numbers read from them. Every test is a
//! fixture (a chuck, a plate, supports, jaws, a tube), a movement and a reading; an assay has no
//! mechanics of its own, and no formula stands in for a test.

mod catalogue;
pub mod fit;
pub mod fixture;
pub mod flexibility;
pub mod kink;
mod measure;
pub mod path;
pub mod piece;
pub mod pinch;
mod prepare;
mod result;
mod run;
pub mod straightening;
pub mod three_point;
pub mod tip_load;
pub mod torque;
pub mod track;

pub use catalogue::{Column, Test};
pub use prepare::{BenchError, PreparedBench};
pub use result::{AssayError, Measured, Reading, Series};
pub use run::{Findings, run, work};
