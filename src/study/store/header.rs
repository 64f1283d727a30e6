//! The first line of a journal: which work is kept in a work folder.

use std::io;

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use super::disk::PathKind;
use super::folder::Folders;
use super::record;
use super::records::{replace, tell_damage};
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

/// Claims the work folder for a command that keeps nothing before its end. What another such
/// command left is removed; trials that are kept for somebody are not, unless that is asked for.
///
/// # Errors
///
/// [`StudyError::OtherRun`], [`StudyError::DamagedJournal`], or the failure of a file operation.
pub fn claim(folders: &Folders, work: &str) -> Result<(), StudyError> {
    with_overwrite(folders, || {
        open_as(folders, work, false, &(), &|()| String::new())
    })
    .map(|_| ())
}

/// Opens the journal for the work that is asked for, creates it where there is none, and returns
/// the seed of its records. `header` is what must be the same for the work to go on, `differences`
/// says what differs between a kept header and this one; it is empty for equal ones.
///
/// A first line that is damaged is written anew where records in the folder of rows belong to it.
///
/// # Errors
///
/// [`StudyError::OtherRun`], [`StudyError::DamagedJournal`], or the failure of a file operation.
pub fn open<H: Serialize + DeserializeOwned>(
    folders: &Folders,
    work: &str,
    header: &H,
    differences: &dyn Fn(&H) -> String,
) -> Result<u32, StudyError> {
    with_overwrite(folders, || {
        open_as(folders, work, true, header, differences)
    })
}

/// Where results may be replaced, unfinished work of something else gives way.
fn with_overwrite(
    folders: &Folders,
    open: impl Fn() -> Result<u32, StudyError>,
) -> Result<u32, StudyError> {
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
    work: &str,
    keeps: bool,
    header: &H,
    differences: &dyn Fn(&H) -> String,
) -> Result<u32, StudyError> {
    let path = folders.journal();
    let failed = |e: io::Error| KeepError::at(&path)(e).into_study_error(folders.partial(), 0, 0);
    let own_line = Line {
        work: work.to_owned(),
        keeps,
        header,
    };
    let own_line = record::line(0, &own_line).map_err(|e| failed(e.into()))?;
    let own_seed = seed(&own_line);
    let disk = folders.disk();
    let kind = disk.kind(&path).map_err(failed)?;
    let (bytes, reason) = match kind {
        None => return begin(folders, &own_line),
        Some(PathKind::File) => (
            disk.read(&path).map_err(failed)?,
            "the checksum does not match",
        ),
        Some(PathKind::Folder | PathKind::Other) => (Vec::new(), "it is a link or no file"),
    };
    let end = bytes.iter().position(|&b| b == b'\n');
    let (first, rest) = bytes.split_at(end.map_or(bytes.len(), |at| at + 1));
    let whole = end.and_then(|_| record::record(0, first));
    let write_anew = |line: &[u8]| {
        tell_damage(disk, &path, &[1]);
        replace(disk, folders.partial(), JOURNAL, line).map_err(failed)
    };
    let Some(kept) = whole else {
        // A link is somebody's own, and says nothing about the rows beside it.
        let may_go_on = keeps && kind == Some(PathKind::File);
        if may_go_on && has_rows(folders, own_seed).map_err(failed)? {
            write_anew(&own_line)?;
            return Ok(own_seed);
        }
        if !keeps_trials(folders, rest).map_err(failed)? {
            return begin(folders, &own_line);
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
        return begin(folders, &own_line);
    }
    if common.work != work {
        return Err(other(format!(
            "work: kept '{}', asked for '{}'",
            common.work, work
        )));
    }
    let line: Line<H> =
        serde_json::from_slice(kept).map_err(|_| other("another version began it".to_owned()))?;
    let differences = differences(&line.header);
    if !differences.is_empty() {
        return Err(other(differences));
    }
    if !rest.is_empty() {
        write_anew(first)?;
    }
    Ok(seed(first))
}

/// Whether there are rows whose records have this seed.
fn has_rows(folders: &Folders, seed: u32) -> io::Result<bool> {
    let (disk, rows) = (folders.disk(), folders.rows());
    if disk.kind(&rows)? != Some(PathKind::Folder) {
        return Ok(false);
    }
    for (name, kind) in disk.list(&rows)? {
        if kind == PathKind::File {
            let bytes = disk.read(&rows.join(name))?;
            if !record::lines(seed, &bytes, 1).good.is_empty() {
                return Ok(true);
            }
        }
    }
    Ok(false)
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
        if OF_TRIALS.contains(&folder) && disk.kind(&work.join(&name))? == Some(PathKind::File) {
            return Ok(true);
        }
    }
    Ok(false)
}

/// What a journal says of its work, and the seed of its records; `None` where its first line is not whole,
/// or of other work.
#[must_use]
pub fn read<H: DeserializeOwned>(journal: &[u8]) -> Option<(H, u32)> {
    let end = journal.iter().position(|&byte| byte == b'\n')?;
    let first = &journal[..end];
    let line: Line<H> = serde_json::from_slice(record::record(0, first)?).ok()?;
    Some((line.header, seed(first)))
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
fn begin(folders: &Folders, first: &[u8]) -> Result<u32, StudyError> {
    folders.start_afresh()?;
    let (disk, path) = (folders.disk(), folders.journal());
    let write = || -> io::Result<()> {
        if disk.kind(&path)? == Some(PathKind::File) && is_torn_first_line(&disk.read(&path)?) {
            disk.remove_file(&path)?;
        }
        written::announce(disk, folders.partial(), &[JOURNAL.to_owned()])?;
        disk.create(&path, first)?;
        disk.sync(&path)?;
        disk.sync(folders.partial())
    };
    write().map_err(|e| KeepError::at(&path)(e).into_study_error(folders.partial(), 0, 0))?;
    Ok(seed(first))
}
