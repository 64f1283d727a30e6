//! The discrete elastic rod.
