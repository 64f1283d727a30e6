//! Cores that yield, against closed forms and against sections of many fibres.
//!
//! `cargo test --release --test mechanics validation_core -- --nocapture` prints a table
//! `check | measured | limit`.
#![allow(
    clippy::print_stdout,
    reason = "the table of measured values is what these tests are read for"
)]

mod carried;
mod derivatives;
mod energy;
mod fibres;
mod hairpin;
mod plastic;
mod superelastic;
mod trial;
mod turned;

/// By how much a moment of a core may be off the closed form, in %: the curve of moment against curvature
/// is met at knots that lie 14 % of the curvature beyond yield apart (`rod::section`), and a chord of
/// that length lies below a curve of curvature `M''` by `h² |M''| / 8`, which is largest, 7e-4 of the
/// moment at first yield, at twice the curvature of first yield. A path that turns back doubles the scale,
/// and against fibres the error of these, as large, comes on top.
pub const CHORDS: f64 = 0.1;
