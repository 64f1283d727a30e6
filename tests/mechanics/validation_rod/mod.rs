//! The solver's effort on a rod, and what holds for every rod in every state.
//!
//! Rods against values from outside are checks of the catalogue (`src/evidence/checks`).
#![expect(
    clippy::print_stdout,
    reason = "the table of measured values is what these tests are read for"
)]

mod effort;
mod symmetry;

/// Prints a line of the table and fails where `measured` is above `limit`.
fn at_most(check: &str, measured: f64, limit: f64) {
    println!("{check} | {measured:.3e} | <= {limit:.1e}");
    assert!(measured <= limit, "{check}: {measured:e} above {limit:e}");
}
