//! The simulated bench tests against closed forms, published values and numbers from `SciPy`
//! (`tests/reference/assay_reference.py`, which says how they are made, writes
//! `assay_reference.json`; its versions stand in it).

#![allow(clippy::print_stdout, reason = "the table of checks")]

mod bending;
mod fit;
mod joint_fit;
mod reference;
mod tip_load;
mod tubes;
