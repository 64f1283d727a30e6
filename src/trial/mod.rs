//! One trial.
pub mod result;
