//! `bendwise export`.

use super::args::ExportArgs;
use super::failure::Failure;
use super::say;
use super::setup;
use crate::report::export::write_scene;
use crate::study::Folders;
use crate::study::store::header::claim;

/// Writes the vessel of a scenario in open formats.
pub(super) fn export(args: &ExportArgs) -> Result<(), Failure> {
    let loaded = setup::load(&args.scenario)?;
    let prepared = setup::prepare(&loaded)?;
    let folders = Folders::prepare(&args.out, args.overwrite).map_err(Failure::of_study)?;
    claim(&folders, "export").map_err(Failure::of_study)?;
    write_scene(folders.partial(), &prepared, &loaded.axes(), args.tolerance)
        .and_then(|()| folders.complete())
        .map_err(|error| Failure::Incomplete(miette::miette!("{error}")))?;
    let text = format!(
        "centrelines.vtp, centrelines.swc, branches.csv and lumen.stl written to {}\n\
         lengths in mm, in the scene's frame: {axes}\n\
         read back: file = \"centrelines.vtp\", units = \"mm\", frame = \"scene\" in [vessel]\n",
        folders.target().display(),
        axes = loaded.axes()
    );
    say(&text)
}
