//! `bendwise export`.

use std::path::PathBuf;

use clap::{ArgAction, Args as Group};

use super::failure::Failure;
use super::say;
use super::setup;
use super::values;
use crate::report::export::write_scene;
use crate::study::Folders;
use crate::study::store::header::claim;

/// Arguments of `export`.
#[derive(Debug, Clone, Group)]
pub struct ExportArgs {
    /// Scenario file (TOML)
    pub scenario: PathBuf,

    /// Folder for the files; it must not exist yet, or be empty
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,

    /// Largest distance of the facets of lumen.stl from the wall, in mm, 0.001 to 1
    #[arg(long, value_name = "MM", default_value_t = 0.01, value_parser = values::tolerance)]
    pub tolerance: f64,

    /// Replace what is in --out already, once the new files are complete
    #[arg(long, action = ArgAction::SetTrue)]
    pub overwrite: bool,
}

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
