//! Files as other programs and people write them: what can be mended is mended and said with
//! numbers, what changes meaning is asked for, a bare file is described and drawn.
#![allow(
    clippy::cast_possible_truncation,
    reason = "meshes and counts of tests are small"
)]
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "where a helper fails the test has failed; measured values are printed"
)]

mod bare;
mod lines;
mod other_writers;
mod own;
mod read_back;
mod surfaces;
mod trees;
mod write;
mod write_surface;
