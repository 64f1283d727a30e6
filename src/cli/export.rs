//! `bendwise export`.

use super::args::ExportArgs;
use super::failure::Failure;
use super::say;
use super::setup;
use crate::report::export::write_scene;
use crate::study::{Folders, StudyError, StudyErrorClass};

/// Writes the vessel of a scenario in open formats.
pub(super) fn export(args: &ExportArgs) -> Result<(), Failure> {
    let loaded = setup::load(&args.scenario)?;
    let prepared = setup::prepare(&loaded)?;
    let failed = |error: StudyError| match error.class() {
        StudyErrorClass::Input => Failure::Input(miette::miette!("{error}")),
        StudyErrorClass::Incomplete => Failure::Incomplete(miette::miette!("{error}")),
    };
    let folders = Folders::prepare(&args.out, args.overwrite).map_err(failed)?;
    folders.start_afresh().map_err(failed)?;
    write_scene(folders.partial(), &prepared, args.tolerance)
        .and_then(|()| folders.complete())
        .map_err(|error| Failure::Incomplete(miette::miette!("{error}")))?;
    let text = format!(
        "centrelines.vtp, centrelines.swc, branches.csv and lumen.stl written to {}\n",
        folders.target().display()
    );
    say(&text)
}
