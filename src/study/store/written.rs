//! What this program wrote into a work folder: a list of names, each added before its file is
//! created, so that nothing else in the folder is ever taken for the program's own.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io;
use std::path::{Component, Path, PathBuf};

use super::disk::{Disk, PathKind, RealDisk};
use super::record;
use crate::study::KeepError;

/// Name of the list in the work folder.
pub const WRITTEN: &str = "written.jsonl";
/// Name of a list that is about to replace another.
pub const WRITTEN_NEW: &str = "written.jsonl.new";
/// Folders between a file and the work folder that it is in, at most.
const DEPTH: usize = 4;
/// Names tried for a file that is moved aside.
const FREE_NAMES: usize = 1000;

/// The names in the list of a work folder; `None` where there is no list of this program.
///
/// # Errors
///
/// Where the list cannot be read.
pub fn known(disk: &dyn Disk, work: &Path) -> io::Result<Option<BTreeSet<String>>> {
    let path = work.join(WRITTEN);
    if disk.kind(&path)? != Some(PathKind::File) {
        return Ok(None);
    }
    let bytes = disk.read(&path)?;
    let lines = record::lines(0, &bytes, 1);
    if lines.good.is_empty() && !lines.damaged.is_empty() {
        return Ok(None);
    }
    let names = lines.good.iter();
    let names = names.filter_map(|(_, name)| serde_json::from_slice(name).ok());
    let names = names.filter(|name: &String| is_inside(name));
    Ok(Some(names.collect()))
}

/// Whether a name, with slashes, leads from a folder to something in it, on no other way than
/// through folders in it.
#[must_use]
pub fn is_inside(name: &str) -> bool {
    let is_normal = |part| matches!(part, Component::Normal(_));
    let is_plain = |part: &str| !["", ".", ".."].contains(&part);
    name.split('/').all(is_plain) && Path::new(name).components().all(is_normal)
}

/// Writes the list anew with these names alone.
///
/// # Errors
///
/// What the system says.
pub fn renew(disk: &dyn Disk, work: &Path, names: &BTreeSet<String>) -> io::Result<()> {
    let mut text = Vec::new();
    for name in names {
        text.extend(record::line(0, name)?);
    }
    let path = work.join(WRITTEN);
    let fresh = work.join(WRITTEN_NEW);
    if is_file_or_link(disk.kind(&fresh)?) {
        move_aside(disk, &fresh)?;
    }
    if disk.kind(&path)? == Some(PathKind::Other) {
        move_aside(disk, &path)?;
    }
    disk.create(&fresh, &text)?;
    disk.sync(&fresh)?;
    disk.rename(&fresh, &path)?;
    disk.sync(work)
}

/// Adds names to the list and returns once they are on the disk. A file that is there already
/// under one of them, without being in the list, is somebody's own and is moved to a free name
/// beside it; so does a link in any case, as this program makes none.
///
/// # Errors
///
/// What the system says.
pub fn announce(disk: &dyn Disk, work: &Path, names: &[String]) -> io::Result<()> {
    add(disk, work, names)?;
    disk.sync(&work.join(WRITTEN))
}

/// [`announce`] without waiting for the disk: after a power cut a file may be there without its
/// name, and is moved aside as if it were somebody's own.
fn add(disk: &dyn Disk, work: &Path, names: &[String]) -> io::Result<()> {
    // A part that a full disk left of an earlier name ends here.
    let mut text = vec![b'\n'];
    let mut known_names = None;
    for name in names {
        let path = work.join(name);
        let kind = disk.kind(&path)?;
        if is_file_or_link(kind) && !(kind == Some(PathKind::Other) && leads_to_device(&path)) {
            if known_names.is_none() {
                known_names = known(disk, work)?;
            }
            let is_known = known_names.as_ref().is_some_and(|k| k.contains(name));
            if is_known && kind == Some(PathKind::File) {
                continue;
            }
            move_aside(disk, &path)?;
        }
        text.extend(record::line(0, name)?);
    }
    if text.len() > 1 {
        disk.append(&work.join(WRITTEN))?.append(&text)?;
    }
    Ok(())
}

/// Whether a link leads to a device, which holds nothing that could be lost.
fn leads_to_device(path: &Path) -> bool {
    path.is_symlink() && fs::metadata(path).is_ok_and(|at| !at.is_file() && !at.is_dir())
}

fn is_file_or_link(kind: Option<PathKind>) -> bool {
    matches!(kind, Some(PathKind::File | PathKind::Other))
}

/// Moves a file that is not the program's to a free name beside it.
fn move_aside(disk: &dyn Disk, path: &Path) -> io::Result<()> {
    for number in 1..=FREE_NAMES {
        let mut free = path.as_os_str().to_owned();
        free.push(format!(".found-{number}"));
        let free = PathBuf::from(free);
        match disk.move_to_free(path, &free) {
            Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {}
            Err(e) => return Err(e),
            Ok(()) => {
                disk.tell(&format!(
                    "{} was not written by this run; it is kept as {}",
                    path.display(),
                    free.display()
                ));
                return Ok(());
            }
        }
    }
    Err(io::ErrorKind::AlreadyExists.into())
}

/// The work folder that a path is in, and the path's name there.
fn work_folder(path: &Path) -> Option<(&Path, String)> {
    let work = path
        .ancestors()
        .skip(1)
        .take(DEPTH)
        .find(|folder| folder.join(WRITTEN).is_file())?;
    Some((work, name_in(work, path)?))
}

/// The name of a path in a folder, with slashes; `None` where it has none in Unicode.
#[must_use]
pub fn name_in(folder: &Path, path: &Path) -> Option<String> {
    let parts = path.strip_prefix(folder).ok()?.components();
    let parts: Option<Vec<&str>> = parts.map(|part| part.as_os_str().to_str()).collect();
    Some(parts?.join("/"))
}

/// Creates a file of a result. In the work folder of a run it is listed as the program's own
/// first; elsewhere it is created as it is.
///
/// # Errors
///
/// The failure of a file operation.
pub fn create_file(path: &Path) -> Result<File, KeepError> {
    create(path).map_err(KeepError::at(path))
}

/// [`create_file`] with the system's own error.
///
/// # Errors
///
/// What the system says.
pub fn create(path: &Path) -> io::Result<File> {
    if let Some((work, name)) = work_folder(path) {
        add(&RealDisk, work, &[name])?;
    }
    File::create(path)
}

/// Writes a file of a result, see [`create_file`].
///
/// # Errors
///
/// The failure of a file operation.
pub fn write_file(path: &Path, content: impl AsRef<[u8]>) -> Result<(), KeepError> {
    let write = || io::Write::write_all(&mut create(path)?, content.as_ref());
    write().map_err(KeepError::at(path))
}
