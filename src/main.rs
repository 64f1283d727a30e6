//! Command-line entry.
fn main() {}
