//! `bendwise check` of a bare file of anatomy: a scenario to start from is made of it and described.

use std::fs::{self, OpenOptions};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};

use super::check::CheckArgs;
use super::check::describe_and_draw;
use super::failure::Failure;
use super::{say, setup};
use crate::anatomy::tree::ImportSettings;
use crate::anatomy::{AnatomyError, Imported, Importer};
use crate::report::starter::{self, Said};
use crate::scenario::{self, Loaded};
use crate::shown;
use crate::trial::Prepared;

/// Endings of files of anatomy.
const ENDINGS: [&str; 7] = ["vtp", "vtk", "swc", "csv", "stl", "ply", "obj"];
/// Most targets that are tried.
const TARGETS: usize = 6;

/// Whether a path names a file of anatomy by its ending.
pub(super) fn is_anatomy(path: &Path) -> bool {
    let ending = path.extension().unwrap_or_default();
    let ending = ending.to_string_lossy().to_ascii_lowercase();
    ENDINGS.contains(&ending.as_str())
}

/// The failure that a file of anatomy was given where `wanted` is, with the command that takes it.
pub(super) fn refuse(path: &Path, wanted: &str) -> Result<(), Failure> {
    // What is there and is no file is refused for that where it is opened.
    let is_no_file = fs::metadata(path).is_ok_and(|found| !found.is_file());
    if !is_anatomy(path) || is_no_file {
        return Ok(());
    }
    let shown = shown::path(path);
    Err(Failure::Input(miette::miette!(
        help = format!(
            "make a scenario of it with `bendwise check {shown} --start my.toml` and give that"
        ),
        "{shown} is a vessel file, not {wanted}"
    )))
}

/// Describes the file, and draws it and writes the scenario if asked to.
pub(super) fn check(args: &CheckArgs) -> Result<(), Failure> {
    let file = &args.scenario;
    if let Some(start) = &args.start
        && fs::symlink_metadata(start).is_ok()
    {
        return Err(not_written(start, &ErrorKind::AlreadyExists.into()));
    }
    let said = Said {
        units: args.units,
        frame: args.frame,
    };
    let importer = Importer::default();
    let (imported, settings) = read(file, &said, &importer).map_err(|e| refused(&e))?;
    let standing = standing(args);
    let written = written(file, &standing);
    let read = Read {
        imported,
        settings,
        said,
        importer,
    };
    let (text, mut loaded, prepared) = started(&written, &standing, &read)?;
    // The scenario states what was found, which nobody gave.
    if let Some(of_loaded) = &mut loaded.imported {
        of_loaded
            .changes
            .notes
            .clone_from(&read.imported.changes.notes);
    }
    let guesses = starter::guesses(&read.imported, &read.settings, &read.said);
    describe_and_draw(&loaded, &prepared, args.picture.as_deref(), &guesses)?;
    // Last, so that a command that fails before can be given again as it was.
    if let Some(start) = &args.start {
        write_new(start, &text)?;
    }
    let shown = file.display();
    let mut next = String::from("\nNEXT\n");
    match &args.picture {
        Some(folder) => next += &format!("  drawn: {}\n", folder.join("tree.png").display()),
        None => {
            next +=
                &format!("  a picture of the tree: bendwise check {shown} --picture pictures\n");
        }
    }
    match &args.start {
        Some(start) => {
            next += &format!(
                "  written: {start}; what the program chose is marked GUESS in it: put the right value there, or \
                 let it stand, and delete the mark\n  run it: bendwise run \
                 {start} --out results\n",
                start = start.display()
            );
        }
        None => {
            next +=
                &format!("  a scenario to start from: bendwise check {shown} --start my.toml\n");
        }
    }
    say(&next)
}

/// Writes a scenario to a file that does not exist yet; what is written in part is removed.
fn write_new(start: &Path, text: &str) -> Result<(), Failure> {
    let made = OpenOptions::new().write(true).create_new(true).open(start);
    let written = made.and_then(|mut file| {
        file.write_all(text.as_bytes()).inspect_err(|_| {
            // The error of writing is the one to tell.
            let _ = fs::remove_file(start);
        })
    });
    written.map_err(|cause| not_written(start, &cause))
}

/// The failure that a scenario cannot be written.
fn not_written(start: &Path, cause: &io::Error) -> Failure {
    let shown = shown::path(start);
    if cause.kind() == ErrorKind::AlreadyExists {
        return Failure::Input(miette::miette!(
            help = "give --start the name of a file that does not exist yet, or move that one away first",
            "{shown} exists already, and --start writes over nothing"
        ));
    }
    let report = miette::miette!(
        help = remedy(cause.kind()),
        "the scenario {shown} cannot be written: {cause}"
    );
    match cause.kind() {
        ErrorKind::NotFound | ErrorKind::NotADirectory => Failure::Input(report),
        _ => Failure::Incomplete(report),
    }
}

/// What to do about a file that cannot be written.
fn remedy(kind: ErrorKind) -> &'static str {
    match kind {
        ErrorKind::NotFound | ErrorKind::NotADirectory => "name a file in a folder that exists",
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            "name a file in a folder that you may write to"
        }
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => {
            "make room on the disk, or name a file on another one"
        }
        _ => "name a file in another folder, and look whether the disk is sound",
    }
}

/// Where the scenario stands, or would.
fn standing(args: &CheckArgs) -> PathBuf {
    args.start.clone().unwrap_or_else(|| {
        let folder = args.scenario.parent().unwrap_or(Path::new(""));
        folder.join("start.toml")
    })
}

/// The path of the file as a scenario at `standing` names it: from its own folder by the name alone,
/// else the whole path.
fn written(file: &Path, standing: &Path) -> String {
    let folder = |p: &Path| {
        let parent = p.parent().filter(|f| !f.as_os_str().is_empty());
        fs::canonicalize(parent.unwrap_or(Path::new("."))).ok()
    };
    let name = file.file_name().unwrap_or_default();
    let path = if folder(file).is_some() && folder(file) == folder(standing) {
        PathBuf::from(name)
    } else {
        fs::canonicalize(file).unwrap_or_else(|_| file.to_owned())
    };
    path.to_string_lossy().into_owned()
}

/// Reads the file with what is said, the unit guessed otherwise; cuts off an inlet that is another
/// vessel and divides a vessel without forks.
fn read(
    file: &Path,
    said: &Said,
    importer: &Importer,
) -> Result<(Imported, ImportSettings), Box<AnatomyError>> {
    let mut settings = ImportSettings {
        units: said.units,
        frame: said.frame,
        guess_units: true,
        ..ImportSettings::default()
    };
    let (mut imported, _) = importer.import(file, &settings)?;
    settings.cut_radius_mm = starter::cut_radius_mm(&imported);
    if settings.cut_radius_mm.is_some() {
        match importer.import(file, &settings) {
            Ok((cut, _)) => imported = cut,
            Err(_) => settings.cut_radius_mm = None,
        }
    }
    settings.divide_mm = starter::divide_mm(&imported);
    if settings.divide_mm.is_some() {
        imported = importer.import(file, &settings)?.0;
    }
    Ok((imported, settings))
}

/// A file of anatomy that was read, and how.
struct Read {
    imported: Imported,
    settings: ImportSettings,
    said: Said,
    importer: Importer,
}

/// The first of the scenarios with likely targets that is one.
fn started(
    file: &str,
    standing: &Path,
    read: &Read,
) -> Result<(String, Loaded, Prepared), Failure> {
    let Read {
        imported,
        settings,
        said,
        importer,
    } = read;
    let mut first: Option<Failure> = None;
    let mut vessel = None;
    for candidate in starter::candidates(imported).iter().take(TARGETS) {
        let text = starter::starter(file, imported, settings, said, candidate);
        let made = scenario::load_text_with(standing, text.clone(), importer)
            .map_err(|error| Failure::Input(error.into()))
            .and_then(|loaded| Ok((setup::prepare_in(&loaded, &mut vessel)?, loaded)));
        match made {
            Ok((prepared, loaded)) => return Ok((text, loaded, prepared)),
            Err(failure) => first = first.or(Some(failure)),
        }
    }
    Err(first.unwrap_or_else(|| {
        Failure::Input(miette::miette!(
            help = "is the unit right? say --units mm, cm or m",
            "no branch of {file} is wide enough for a wire of 0.36 mm and reached from the inlet"
        ))
    }))
}

fn refused(error: &AnatomyError) -> Failure {
    Failure::Input(miette::miette!(help = error.fault.help(), "{error}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_start_file_is_never_written_over_and_the_help_fits_the_error() {
        let folder = tempfile::tempdir().expect("a folder");
        let start = folder.path().join("start.toml");
        write_new(&start, "first").expect("written");
        let again = write_new(&start, "second").expect_err("it exists");
        assert!(
            again
                .report()
                .help()
                .is_some_and(|h| h.to_string().contains("not exist yet"))
        );
        assert_eq!(fs::read_to_string(&start).expect("the file"), "first");
        let nowhere = write_new(&folder.path().join("none/start.toml"), "").expect_err("no folder");
        assert!(
            nowhere
                .report()
                .help()
                .is_some_and(|h| h.to_string().contains("folder"))
        );
        assert!(remedy(ErrorKind::StorageFull).contains("room"));
    }
}
