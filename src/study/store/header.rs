//! The first line of a journal: which work is kept in a work folder.

use std::io;

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use super::disk::Kind;
use super::folder::Folders;
use super::record;
use super::swap::{JOURNAL, ROWS};
use super::written;
use crate::study::error::{KeepError, StudyError};

/// Folders of a work folder in which files of single trials are.
const OF_TRIALS: [&str; 4] = [ROWS, "traces", "hands", "shapes"];

/// The line.
#[derive(Debug, Serialize, Deserialize)]
struct Line<H> {
    /// The command, or the kind of it.
    work: String,
    /// Whether anything is kept of it before its end.
    keeps: bool,
    /// What must be the same for the work to go on.
    header: H,
}

/// The part of it that all have in common.
#[derive(Debug, Deserialize)]
struct Common {
    work: String,
    keeps: bool,
}

/// What a command asks of a journal.
pub struct Asked<'a, H> {
    /// The command, or the kind of it.
    pub work: &'a str,
    /// What must be the same for the work to go on.
    pub header: &'a H,
    /// What differs between a kept header and this one, in words; empty for equal ones.
    pub differences: &'a dyn Fn(&H) -> String,
    /// Whether records behind a damaged first line are of this header: given the seed of its
    /// records and the bytes behind the line.
    pub trusted: &'a dyn Fn(u32, &[u8]) -> io::Result<bool>,
}

/// An open journal.
#[derive(Debug, PartialEq, Eq)]
pub struct Opened {
    /// The seed of the records.
    pub seed: u32,
    /// The first line.
    pub first: Vec<u8>,
    /// What is behind it.
    pub rest: Vec<u8>,
    /// Whether the first line in the file is damaged and has to be written anew.
    pub is_damaged: bool,
}

/// Claims the work folder for a command that keeps nothing before its end. What another such
/// command left is removed; trials that are kept for somebody are not, unless that is asked for.
///
/// # Errors
///
/// [`StudyError::OtherRun`], [`StudyError::DamagedJournal`], or the failure of a file operation.
pub fn claim(folders: &Folders, work: &str) -> Result<(), StudyError> {
    let asked = Asked {
        work,
        header: &(),
        differences: &|()| String::new(),
        trusted: &|_, _| Ok(false),
    };
    with_overwrite(folders, || open_as(folders, &asked, false)).map(|_| ())
}

/// Opens the journal for the work that is asked for and creates it where there is none.
///
/// # Errors
///
/// [`StudyError::OtherRun`], [`StudyError::DamagedJournal`], or the failure of a file operation.
pub fn open<H: Serialize + DeserializeOwned>(
    folders: &Folders,
    asked: &Asked<'_, H>,
) -> Result<Opened, StudyError> {
    with_overwrite(folders, || open_as(folders, asked, true))
}

/// Where results may be replaced, unfinished work of something else gives way.
fn with_overwrite(
    folders: &Folders,
    open: impl Fn() -> Result<Opened, StudyError>,
) -> Result<Opened, StudyError> {
    match open() {
        Err(StudyError::OtherRun { .. } | StudyError::DamagedJournal { .. })
            if folders.replaces() =>
        {
            folders.start_afresh()?;
            open()
        }
        opened => opened,
    }
}

fn open_as<H: Serialize + DeserializeOwned>(
    folders: &Folders,
    asked: &Asked<'_, H>,
    keeps: bool,
) -> Result<Opened, StudyError> {
    let path = folders.journal();
    let failed = |e: io::Error| KeepError::at(&path)(e).into_study_error(folders.partial(), 0, 0);
    let own_line = Line {
        work: asked.work.to_owned(),
        keeps,
        header: asked.header,
    };
    let own_line = record::line(0, &own_line).map_err(|e| failed(e.into()))?;
    let own_seed = seed(&own_line);
    let disk = folders.disk();
    let (bytes, reason) = match disk.kind(&path).map_err(failed)? {
        None => return begin(folders, own_line),
        Some(Kind::File) => (
            disk.read(&path).map_err(failed)?,
            "the checksum does not match",
        ),
        Some(Kind::Folder | Kind::Other) => (Vec::new(), "it is a link or no file"),
    };
    let end = bytes.iter().position(|&b| b == b'\n');
    let (first, rest) = bytes.split_at(end.map_or(bytes.len(), |at| at + 1));
    let whole = end.and_then(|_| record::record(0, first));
    let Some(kept) = whole else {
        let rest = behind_damaged(&bytes);
        if (asked.trusted)(own_seed, rest).map_err(failed)? {
            return Ok(Opened {
                seed: own_seed,
                first: own_line,
                rest: rest.to_vec(),
                is_damaged: true,
            });
        }
        if !keeps_trials(folders, rest).map_err(failed)? {
            return begin(folders, own_line);
        }
        return Err(StudyError::DamagedJournal {
            path,
            line: 1,
            reason: reason.to_owned(),
        });
    };
    let other = |differences: String| StudyError::OtherRun {
        path: folders.partial().to_owned(),
        differences,
    };
    let common: Common =
        serde_json::from_slice(kept).map_err(|_| other("another version began it".to_owned()))?;
    if !common.keeps {
        return begin(folders, own_line);
    }
    if common.work != asked.work {
        return Err(other(format!(
            "work: kept '{}', asked for '{}'",
            common.work, asked.work
        )));
    }
    let line: Line<H> =
        serde_json::from_slice(kept).map_err(|_| other("another version began it".to_owned()))?;
    let differences = (asked.differences)(&line.header);
    if !differences.is_empty() {
        return Err(other(differences));
    }
    Ok(Opened {
        seed: seed(first),
        first: first.to_vec(),
        rest: rest.to_vec(),
        is_damaged: false,
    })
}

/// What is behind a damaged first line, whose end may be what is damaged.
fn behind_damaged(bytes: &[u8]) -> &[u8] {
    let end = bytes.iter().position(|&b| b == b'\n');
    let end = end.map_or(bytes.len(), |at| at + 1);
    let at = record::next_start(&bytes[..end]).unwrap_or(end);
    &bytes[at..]
}

/// Whether a work folder whose journal says nothing about it keeps trials of any command: whole
/// lines behind the first one, or files of trials that are listed.
fn keeps_trials(folders: &Folders, rest: &[u8]) -> io::Result<bool> {
    let lines = record::lines(0, rest, 2);
    if !lines.good.is_empty() || !lines.damaged.is_empty() {
        return Ok(true);
    }
    let (disk, work) = (folders.disk(), folders.partial());
    for name in written::known(disk, work)?.unwrap_or_default() {
        let folder = name.split_once('/').map_or("", |(folder, _)| folder);
        if OF_TRIALS.contains(&folder) && disk.kind(&work.join(&name))? == Some(Kind::File) {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Whether a journal holds nothing but the beginning of its first line.
#[must_use]
pub fn is_torn_first_line(bytes: &[u8]) -> bool {
    record::begins_as_records(bytes) && !bytes.contains(&b'\n')
}

/// The seed of the records behind a first line.
fn seed(line: &[u8]) -> u32 {
    record::checksum(0, record::record(0, line).unwrap_or_default())
}

/// Begins a journal in a work folder from which everything that the program wrote is gone.
fn begin(folders: &Folders, first: Vec<u8>) -> Result<Opened, StudyError> {
    folders.start_afresh()?;
    let (disk, path) = (folders.disk(), folders.journal());
    let write = || -> io::Result<()> {
        if disk.kind(&path)? == Some(Kind::File) && is_torn_first_line(&disk.read(&path)?) {
            disk.remove_file(&path)?;
        }
        written::announce(disk, folders.partial(), &[JOURNAL.to_owned()])?;
        disk.create(&path, &first)?;
        disk.sync(&path)?;
        disk.sync(folders.partial())
    };
    write().map_err(|e| KeepError::at(&path)(e).into_study_error(folders.partial(), 0, 0))?;
    Ok(Opened {
        seed: seed(&first),
        first,
        rest: Vec::new(),
        is_damaged: false,
    })
}
