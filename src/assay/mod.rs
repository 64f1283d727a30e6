//! Virtual bench tests of one wire.
pub mod fixture;
pub mod piece;
mod result;
pub mod tip_load;
pub mod flexibility;
pub mod three_point;
pub mod kink;
pub mod pinch;
pub mod path;
pub mod torque;
pub mod track;
pub mod straightening;
pub use result::{Fault, Measured, Reading, Series};
