//! `bendwise check`.

use std::path::{Path, PathBuf};

use clap::Args as Group;

use super::bare;
use super::check_lesson::check_lesson;
use super::check_sweep::check_sweep;
use super::failure::Failure;
use super::say;
use super::scene_words::in_words;
use super::setup;
use super::values;
use crate::anatomy::{Frame, Unit};
use crate::report::SceneOutline;
use crate::report::figures::{ReachedPicture, TreeBranch, TreePicture, save};
use crate::report::scene::{self, BranchLine, describe_wires};
use crate::scenario::{self, FileKind, Loaded};
use crate::study::store::header::claim;
use crate::study::{Folders, KeepError};
use crate::trial::Prepared;

/// Arguments of `check`.
#[derive(Debug, Clone, Group)]
pub struct CheckArgs {
    /// Scenario, sweep, lesson or file of wires (TOML), or a bare file of anatomy (.vtp, .vtk, .swc,
    /// .csv, .stl, .ply, .obj)
    pub scenario: PathBuf,

    /// Write a scenario to start from for a bare file of anatomy, every choice with its reason; the
    /// file must not exist yet
    #[arg(long, value_name = "FILE")]
    pub start: Option<PathBuf>,

    /// Unit of a bare file of anatomy: mm, cm or m [default: guessed from its size, and said]
    #[arg(long, value_name = "UNIT", value_parser = values::unit)]
    pub units: Option<Unit>,

    /// Which way the axes of a bare file of anatomy point: left-posterior-superior (LPS),
    /// right-anterior-superior (RAS) or scene [default: what the file states, else guessed]
    #[arg(long, value_name = "FRAME", value_parser = values::frame)]
    pub frame: Option<Frame>,

    /// Also draw the tree into this folder: names, diameters, take-off angles and tightest bends
    /// in two projections (tree.png, tree.svg)
    #[arg(long, value_name = "DIR")]
    pub picture: Option<PathBuf>,
}

/// Reads and validates a scenario, builds its vessel and wires, and prints the scene.
pub(super) fn check(args: &CheckArgs) -> Result<(), Failure> {
    if bare::is_anatomy(&args.scenario) {
        return bare::check(args);
    }
    if args.start.is_some() || args.units.is_some() || args.frame.is_some() {
        return Err(Failure::Input(miette::miette!(
            help = "give a file of anatomy, such as tree.vtp, or leave the option out",
            "--start, --units and --frame go with a file of anatomy, but {} is a scenario",
            args.scenario.display()
        )));
    }
    let kind = scenario::kind(&args.scenario);
    let without_tree = match kind {
        FileKind::Wires => Some(("wires", "give a scenario with those wires")),
        FileKind::Sweep => Some(("a sweep", "give the sweep's base scenario")),
        FileKind::Lesson => Some(("a lesson", "give the lesson's scenario")),
        FileKind::Scenario | FileKind::Tree | FileKind::Unknown => None,
    };
    if let (Some(_), Some((what, remedy))) = (&args.picture, without_tree) {
        return Err(Failure::Input(miette::miette!(
            help = format!("{remedy}, or leave the option out"),
            "--picture draws the tree of one scenario, but {} is a file of {what}",
            args.scenario.display()
        )));
    }
    match kind {
        FileKind::Wires => return check_bench(&args.scenario),
        FileKind::Sweep => return check_sweep(&args.scenario),
        FileKind::Lesson => return check_lesson(&args.scenario),
        FileKind::Scenario | FileKind::Tree | FileKind::Unknown => {}
    }
    let loaded = setup::load(&args.scenario)?;
    let prepared = setup::prepare(&loaded)?;
    describe_and_draw(&loaded, &prepared, args.picture.as_deref(), &[])
}

/// Prints the scene, and draws its tree if there is a folder for it; `guesses` stand before the
/// warnings.
pub(super) fn describe_and_draw(
    loaded: &Loaded,
    prepared: &Prepared,
    picture: Option<&Path>,
    guesses: &[String],
) -> Result<(), Failure> {
    let (sections, lines) = in_words(loaded, prepared, guesses);
    let text = scene::text(&sections);
    if let Some(folder) = picture {
        let folders = Folders::prepare_addition(folder).map_err(Failure::of_study)?;
        claim(&folders, "picture").map_err(Failure::of_study)?;
        draw(folders.partial(), loaded, prepared, lines)
            .and_then(|()| folders.complete())
            .map_err(|error| Failure::Incomplete(miette::miette!("{error}")))?;
    }
    say(&text)
}

/// Draws the tree into a folder.
fn draw(
    folder: &Path,
    loaded: &Loaded,
    prepared: &Prepared,
    lines: Vec<BranchLine>,
) -> Result<(), KeepError> {
    let tips = loaded.imported.iter().flat_map(|i| &i.branches);
    let tips: Vec<(&str, Option<usize>)> = tips.map(|b| (b.name.as_str(), b.tip)).collect();
    let branches = lines.into_iter().zip(prepared.tree().branches());
    let branches = branches.map(|(line, branch)| TreeBranch {
        tip: tips.iter().find(|t| t.0 == line.name).and_then(|t| t.1),
        tightest_mm: branch.centreline.position(line.tightest_at_mm),
        line,
    });
    let outline = SceneOutline::new(prepared);
    let picture = TreePicture::new(
        &loaded.scenario.name,
        &loaded.axes(),
        outline,
        branches.collect(),
    );
    save(folder, &picture)?;
    ReachedPicture::new(prepared).map_or(Ok(()), |picture| save(folder, &picture))
}

/// Reads a file of wires for the bench, builds them and prints them.
fn check_bench(path: &Path) -> Result<(), Failure> {
    let loaded = setup::load_bench(path)?;
    let prepared = setup::prepare_bench(&loaded)?;
    let mut warnings = setup::warnings(&loaded.source, &loaded.warnings);
    warnings.extend(setup::wire_warnings(
        &loaded.source,
        &prepared.bench.wires,
        &prepared.wires,
    ));
    let text = describe_wires(
        &prepared.bench.name,
        &loaded.content_hash,
        &warnings,
        &prepared.bench.wires,
        &prepared.wires,
    );
    say(&text)
}
