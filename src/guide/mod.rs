//! The guide.
