//! The sweep file: which parameters of a scenario vary, how, and over which points.
//!
//! A parameter is named by its path in the scenario, such as
//! `wire."workhorse 1 gf".bend.length_mm`: keys joined by dots, the entry of a list by its `name`
//! (or, where it has none, its `kind`, or its number counted from 1), `*` for all entries of a
//! list. A branch of a tree file stands under `vessel.branch` like any other.
//!
//! Texts are categories, and so are numbers that only tell things apart: a path that ends in `tip` (the
//! number of a vessel's tip) and `anatomy.draw`. Tables, figures and regressions take each of their
//! levels as a name.
//!
//! What else may stand in the file is said by the structs into which it is read; `bendwise schema
//! sweep --markdown` prints all fields with unit, range, default and meaning.

mod anatomy;
mod load;
pub mod model;
mod parameter;

pub(super) use anatomy::SPREAD;
pub use load::{LoadedSweep, load_sweep, load_sweep_text};
pub(super) use load::{SWEEP, SetTable, anything};
pub use model::SweepSpec;
