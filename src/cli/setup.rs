//! From a scenario file to everything that a command needs, with errors that point back at it.

use std::path::Path;

use super::bare;
use super::failure::Failure;
use crate::assay;
use crate::device::{Wire, tip_load_off};
use crate::scenario::model::WireSpec;
use crate::scenario::{self, FileKind, Loaded, LoadedBench, Source, Warning, point_at};
use crate::trial::{BuiltVessel, Prepared};

/// Reads and checks the scenario file.
pub(super) fn load(path: &Path) -> Result<Loaded, Failure> {
    bare::refuse(path, "a scenario")?;
    let shown = path.display();
    match scenario::kind(path) {
        FileKind::Wires => Err(Failure::Input(miette::miette!(
            help = "run `bendwise assay` on it, or add a vessel, a guide, a target and a technique",
            "{shown} holds wires and no vessel, so there is nothing to run",
        ))),
        FileKind::Sweep => Err(Failure::Input(miette::miette!(
            help = format!(
                "run `bendwise sweep {shown} --out DIR`, or give the scenario that it names"
            ),
            "{shown} is a sweep, not a scenario",
        ))),
        FileKind::Lesson => Err(Failure::Input(miette::miette!(
            help = format!(
                "build it by `bendwise lesson {shown} --out DIR`, or give the scenario that it names"
            ),
            "{shown} is a lesson, not a scenario",
        ))),
        FileKind::Scenario | FileKind::Tree | FileKind::Unknown => read(path),
    }
}

/// Refuses what is no sweep, with the command that takes it.
pub(super) fn expect_sweep(path: &Path) -> Result<(), Failure> {
    let or = ", or write a sweep file that names it: scenario = \"...\", a [design] and [[parameter]] tables";
    expect(path, FileKind::Sweep, "a sweep", or)
}

/// Refuses what is no lesson, with the command that takes it.
pub(super) fn expect_lesson(path: &Path) -> Result<(), Failure> {
    expect(path, FileKind::Lesson, "a lesson", "")
}

/// Refuses a file that is not of the `wanted` kind; `or` says what else can be done with a scenario.
fn expect(path: &Path, wanted: FileKind, named: &str, or: &str) -> Result<(), Failure> {
    bare::refuse(path, named)?;
    let shown = path.display();
    let found = scenario::kind(path);
    let (is, help) = match found {
        _ if found == wanted => return Ok(()),
        // What cannot be read, or is none of these, is reported by the reader of what is wanted.
        FileKind::Unknown => return Ok(()),
        FileKind::Scenario => (
            "a scenario",
            format!("run `bendwise run {shown} --out DIR`{or}"),
        ),
        FileKind::Sweep => ("a sweep", format!("run `bendwise sweep {shown} --out DIR`")),
        FileKind::Lesson => (
            "a lesson",
            format!("build it by `bendwise lesson {shown} --out DIR`"),
        ),
        FileKind::Wires => (
            "a file of wires",
            format!("run `bendwise assay {shown} --out DIR`"),
        ),
        FileKind::Tree => (
            "the tree of a vessel",
            "name it as tree in [vessel] of a scenario".to_owned(),
        ),
    };
    Err(Failure::Input(miette::miette!(
        help = help,
        "{shown} is {is}, not {named}"
    )))
}

fn read(path: &Path) -> Result<Loaded, Failure> {
    scenario::load(path).map_err(|error| Failure::Input(error.into()))
}

/// Reads and checks the wires and bench tests of a scenario or a file of wires.
pub(super) fn load_bench(path: &Path) -> Result<LoadedBench, Failure> {
    bare::refuse(path, "a scenario or a file of wires")?;
    let named = match scenario::kind(path) {
        FileKind::Sweep => Some("sweep"),
        FileKind::Lesson => Some("lesson"),
        _ => None,
    };
    if let Some(named) = named {
        let shown = path.display();
        return Err(Failure::Input(miette::miette!(
            help = "give the scenario that it names, or a file with [[wire]] tables",
            "{shown} is a {named} and holds no wires for the bench"
        )));
    }
    scenario::load_bench(path).map_err(|error| Failure::Input(error.into()))
}

/// Builds the wires of a bench and reads its curves.
pub(super) fn prepare_bench(loaded: &LoadedBench) -> Result<assay::PreparedBench, Failure> {
    assay::PreparedBench::new(&loaded.bench).map_err(|error| {
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
    let finder = source.finder();
    let worded = warnings.iter().map(|warning| {
        let line = finder.line(&warning.place);
        format!("line {line}: {}", warning.message)
    });
    worded.collect()
}

/// What is allowed but odd in the wires as they are built, each with its line.
pub(super) fn wire_warnings(source: &Source, specs: &[WireSpec], wires: &[Wire]) -> Vec<String> {
    let finder = source.finder();
    let off = specs.iter().zip(wires).filter_map(|(spec, wire)| {
        let message = tip_load_off(spec, wire)?;
        Some(format!("line {}: {message}", finder.line(&spec.place)))
    });
    off.collect()
}

/// Builds vessel and devices of a scenario.
pub(super) fn prepare(loaded: &Loaded) -> Result<Prepared, Failure> {
    prepare_in(loaded, &mut None)
}

/// As [`prepare`]; the vessel is that of an earlier scenario, if that has the same one, and is left for
/// later ones.
pub(super) fn prepare_in(
    loaded: &Loaded,
    vessel: &mut Option<BuiltVessel>,
) -> Result<Prepared, Failure> {
    let spec = &loaded.scenario.vessel;
    let prepared = match vessel.take().filter(|built| built.is(spec)) {
        Some(built) => Ok(built),
        None => BuiltVessel::new(spec),
    }
    .and_then(|built| Prepared::in_vessel(&loaded.scenario, vessel.insert(built)));
    prepared.map_err(|error| {
        Failure::Input(point_at(
            &loaded.source,
            error.place(),
            error.to_string(),
            error.remedy().into(),
        ))
    })
}
