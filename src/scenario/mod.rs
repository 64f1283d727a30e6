//! The scenario file: schema, defaults and validation.
//!
//! [`load`] reads a TOML file into a checked [`Scenario`] in internal units. The first fault ends
//! the reading with a message that names file, line, field, value and what is allowed. People
//! write angles in degrees, tip loads in gram-force, stiffness in N mm² and moduli in GPa; every
//! key carries its unit.
//!
//! What may stand in a file is said by the structs into which it is read (`tables`, one file a
//! subject, and those of [`model`] that need no conversion); [`crate::schema`] checks files against
//! them. `bendwise schema --markdown` prints all fields with unit, range, default and meaning.
mod acting;
pub mod bench;
mod document;
mod error;
mod excerpt;
pub mod guess;
mod kind;
pub mod lesson;
mod load;
mod load_bench;
mod measure;
pub mod model;
mod on_scenario;
mod parsed;
mod source;
pub mod surface;
pub mod sweep;
#[allow(
    clippy::doc_markdown,
    reason = "these comments are read by people who write scenarios, in editors and on the page"
)]
mod tables;
pub mod view;

pub use crate::schema::{DocumentFault, nearest};
pub use document::Document;
pub use error::{Located, ScenarioError};
pub use kind::{FileKind, holds_wires_alone, kind};
pub use load::{Loaded, Warning, load, load_text, load_text_with};
pub use load_bench::{LoadedBench, load_bench};
pub use model::Scenario;
pub use source::{Finder, Source, SourceFile, point_at};
