//! A catheter over a wire: what the hands feel of a load, the balance of their work, symmetry.
#![allow(clippy::print_stdout, reason = "the table of checks")]

mod balance;
mod stiffness;
mod symmetry;
