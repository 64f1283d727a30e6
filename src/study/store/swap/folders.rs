//! Folders: made with those above them, removed where empty, and moves into places that somebody
//! else may take.

use std::collections::BTreeSet;
use std::io;
use std::path::Path;

use super::super::disk::{Disk, PathKind};

/// Whether somebody else has just taken the place.
pub(super) fn taken(error: &io::Error) -> bool {
    let kinds = [
        io::ErrorKind::AlreadyExists,
        io::ErrorKind::DirectoryNotEmpty,
    ];
    kinds.contains(&error.kind())
}

/// A move without a free goal leaves its source where it is; one whose source somebody has just
/// taken away has nothing to do.
pub(super) fn stays(moved: io::Result<()>) -> io::Result<()> {
    let gone = [io::ErrorKind::NotADirectory, io::ErrorKind::NotFound];
    match moved {
        Err(e) if taken(&e) || gone.contains(&e.kind()) => Ok(()),
        moved => moved,
    }
}

/// Removes a folder with nothing in it; one with something, or none, is left alone.
pub(super) fn remove_if_empty(disk: &dyn Disk, folder: &Path) -> io::Result<()> {
    let left_alone = [
        io::ErrorKind::NotFound,
        io::ErrorKind::DirectoryNotEmpty,
        io::ErrorKind::NotADirectory,
    ];
    match disk.remove_folder(folder) {
        Err(e) if left_alone.contains(&e.kind()) => Ok(()),
        removed => removed,
    }
}

/// Creates a folder and those above it.
///
/// # Errors
///
/// What the system says.
pub fn make_folders(disk: &dyn Disk, folder: &Path) -> io::Result<()> {
    if folder.as_os_str().is_empty() {
        return Ok(());
    }
    match disk.create_folder(folder) {
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists => match disk.kind(folder)? {
            Some(PathKind::File) => Err(io::ErrorKind::NotADirectory.into()),
            _ => Ok(()),
        },
        Err(e) if e.kind() == io::ErrorKind::NotFound => {
            let above = folder.parent().ok_or(e)?;
            make_folders(disk, above)?;
            make_folders(disk, folder)
        }
        made => made,
    }
}

/// The folders in which these files are, with those above them, sorted: the outer ones first.
pub(super) fn folders_of<'a>(names: impl Iterator<Item = &'a str>) -> BTreeSet<String> {
    let mut folders = BTreeSet::new();
    for name in names {
        let mut rest = name;
        while let Some((folder, _)) = rest.rsplit_once('/') {
            folders.insert(folder.to_owned());
            rest = folder;
        }
    }
    folders
}
