//! Cores that yield, against closed forms and against sections of many fibres.
//!
//! `cargo test --release --test mechanics validation_core -- --nocapture` prints a table
//! `check | measured | limit`.
#![allow(
    clippy::print_stdout,
    reason = "the table of measured values is what these tests are read for"
)]

mod cantilever;
mod carried;
mod derivatives;
mod energy;
mod fibres;
mod hairpin;
mod plastic;
mod superelastic;
mod trial;
mod turned;
