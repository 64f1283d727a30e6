//! The rod and the solver against values from outside: closed forms, published tables and
//! solutions computed independently.
//!
//! `cargo test --release --test mechanics validation_rod -- --nocapture` prints a table
//! `check | measured | limit`.
#![expect(
    clippy::print_stdout,
    reason = "the table of measured values is what these tests are read for"
)]

mod cantilever;
mod circle;
mod column;
mod curved_cantilever;
mod helix;
mod ring;
mod support;
mod symmetry;
