//! From a scenario file to everything that a command needs, with errors that point back at it.

use std::path::Path;

use super::failure::Failure;
use crate::assay;
use crate::device::{Wire, tip_load_off};
use crate::scenario::model::WireSpec;
use crate::scenario::{self, Loaded, LoadedBench, Source, Warning, point_at};
use crate::trial::Prepared;

/// Reads and checks the scenario file.
pub(super) fn load(path: &Path) -> Result<Loaded, Failure> {
    if scenario::holds_wires_alone(path) {
        return Err(Failure::Input(miette::miette!(
            help = "run `bendwise assay` on it, or add a vessel, a guide, a target and a technique",
            "{} holds wires and no vessel, so there is nothing to run",
            path.display()
        )));
    }
    scenario::load(path).map_err(|error| Failure::Input(error.into()))
}

/// Reads and checks the wires and bench tests of a scenario or a file of wires.
pub(super) fn load_bench(path: &Path) -> Result<LoadedBench, Failure> {
    scenario::load_bench(path).map_err(|error| Failure::Input(error.into()))
}

/// Builds the wires of a bench and reads its curves.
pub(super) fn prepare_bench(loaded: &LoadedBench) -> Result<assay::Prepared, Failure> {
    assay::Prepared::new(&loaded.bench).map_err(|error| {
        Failure::Input(point_at(
            &loaded.source,
            error.place(),
            error.to_string(),
            error.remedy().into(),
        ))
    })
}

/// What is allowed but odd in a scenario, each with its line.
pub(super) fn warnings(source: &Source, warnings: &[Warning]) -> Vec<String> {
    let worded = warnings.iter().map(|warning| {
        let line = source.line(warning.place);
        format!("line {line}: {}", warning.message)
    });
    worded.collect()
}

/// What is allowed but odd in the wires as they are built, each with its line.
pub(super) fn wire_warnings(source: &Source, specs: &[WireSpec], wires: &[Wire]) -> Vec<String> {
    let off = specs.iter().zip(wires).filter_map(|(spec, wire)| {
        let message = tip_load_off(spec, wire)?;
        Some(format!("line {}: {message}", source.line(spec.place)))
    });
    off.collect()
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
