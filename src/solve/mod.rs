//! The solver.
