//! The scenario file: schema, defaults and validation.
pub mod model;
