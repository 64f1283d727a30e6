//! From a scenario file to everything that a command needs, with errors that point back at it.

use std::path::Path;

use super::failure::Failure;
use crate::scenario::{self, Loaded, point_at};
use crate::trial::Prepared;

/// Reads and checks the scenario file.
pub(super) fn load(path: &Path) -> Result<Loaded, Failure> {
    scenario::load(path).map_err(|error| Failure::Input(error.into()))
}

/// What is allowed but odd in a scenario, each with its line.
pub(super) fn warnings(loaded: &Loaded) -> Vec<String> {
    let worded = loaded.warnings.iter().map(|warning| {
        let line = loaded.source.line(warning.place);
        format!("line {line}: {}", warning.message)
    });
    worded.collect()
}

/// Builds vessel and devices of a scenario.
pub(super) fn prepare(loaded: &Loaded) -> Result<Prepared, Failure> {
    Prepared::new(&loaded.scenario).map_err(|error| {
        Failure::Input(point_at(
            &loaded.source,
            error.place(),
            error.to_string(),
            error.remedy().into(),
        ))
    })
}
