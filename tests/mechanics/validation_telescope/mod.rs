//! A catheter over a wire against closed forms: stiffnesses that add, two bent devices turned
//! against each other, the balance of the hands' work, symmetry.
#![allow(clippy::print_stdout, reason = "the table of checks")]

mod balance;
mod snap;
mod stiffness;
mod symmetry;
