//! The manifest in a finished folder: which files this program wrote there, with length and hash.
//! Only a file that is still as the manifest says is ever replaced or removed.

use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::io;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::disk::{Disk, Fingerprint, PathKind};
use super::record;
use super::written::is_inside;

/// Name of the manifest.
pub const MANIFEST: &str = "manifest.jsonl";
/// Folders in folders that are looked into at most; deeper ones are somebody's own.
const DEPTH: usize = 32;

/// A file as this program wrote it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FileMark {
    /// Name in the folder, with slashes.
    pub path: String,
    /// Length in bytes.
    pub bytes: u64,
    /// SHA-256, hexadecimal.
    pub sha256: String,
}

impl FileMark {
    /// The mark of a file.
    #[must_use]
    pub fn new(path: String, found: Fingerprint) -> Self {
        Self {
            path,
            bytes: found.bytes,
            sha256: found.sha256,
        }
    }

    /// Whether the file in `folder` is as it was written.
    ///
    /// # Errors
    ///
    /// Where it cannot be read.
    pub fn holds(&self, disk: &dyn Disk, folder: &Path) -> io::Result<bool> {
        let path = folder.join(&self.path);
        if !is_inside(&self.path) || disk.kind(&path)? != Some(PathKind::File) {
            return Ok(false);
        }
        let found = disk.fingerprint(&path)?;
        Ok((found.bytes, &found.sha256) == (self.bytes, &self.sha256))
    }
}

/// First line of a manifest.
#[derive(Debug, Serialize, Deserialize)]
struct Head {
    written_by: String,
    version: String,
}

/// What a folder says that this program wrote there; a file may have several marks while it is
/// being replaced.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Manifest {
    marks: BTreeMap<String, Vec<FileMark>>,
}

impl Manifest {
    /// Adds a file.
    pub fn add(&mut self, mark: FileMark) {
        let marks = self.marks.entry(mark.path.clone()).or_default();
        if !marks.contains(&mark) {
            marks.push(mark);
        }
    }

    /// Names of the files, sorted.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.marks.keys().map(String::as_str)
    }

    /// All marks, sorted by name.
    pub fn marks(&self) -> impl Iterator<Item = &FileMark> {
        self.marks.values().flatten()
    }

    /// The manifest of a folder; an empty one where there is none of this program.
    ///
    /// # Errors
    ///
    /// Where it cannot be read.
    pub fn read(disk: &dyn Disk, folder: &Path) -> io::Result<Self> {
        let path = folder.join(MANIFEST);
        if disk.kind(&path)? != Some(PathKind::File) {
            return Ok(Self::default());
        }
        let bytes = disk.read(&path)?;
        let mut manifest = Self::default();
        for (_, line) in record::lines(0, &bytes, 1).good {
            let mark = serde_json::from_slice(line).ok();
            if let Some(mark) = mark.filter(|mark: &FileMark| is_inside(&mark.path)) {
                manifest.add(mark);
            }
        }
        Ok(manifest)
    }

    /// The manifest as the bytes of its file.
    ///
    /// # Errors
    ///
    /// Where a name cannot be written.
    pub fn bytes(&self) -> io::Result<Vec<u8>> {
        let head = Head {
            written_by: env!("CARGO_PKG_NAME").to_owned(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
        };
        let mut bytes = record::line(0, &head)?;
        for mark in self.marks() {
            bytes.extend(record::line(0, mark)?);
        }
        Ok(bytes)
    }

    /// Whether the file of this name in `folder` is as this program wrote it.
    ///
    /// # Errors
    ///
    /// Where it cannot be read.
    pub fn has(&self, disk: &dyn Disk, folder: &Path, name: &str) -> io::Result<bool> {
        for mark in self.marks.get(name).into_iter().flatten() {
            if mark.holds(disk, folder)? {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Whether a file of the manifest lies below this folder.
    #[must_use]
    pub fn has_folder(&self, name: &str) -> bool {
        let below = format!("{name}/");
        let mut from = self.marks.range(below.clone()..);
        from.next()
            .is_some_and(|(path, _)| path.starts_with(&below))
    }
}

/// Whether the manifest itself is whole: every line of it is the program's.
///
/// # Errors
///
/// Where it cannot be read.
pub fn manifest_is_own(disk: &dyn Disk, folder: &Path) -> io::Result<bool> {
    let bytes = disk.read(&folder.join(MANIFEST))?;
    let lines = record::lines(0, &bytes, 1);
    Ok(lines.damaged.is_empty() && !lines.torn && !lines.good.is_empty())
}

/// What in a finished folder is not the program's: names, sorted; folders end in a slash.
///
/// # Errors
///
/// Where the folder or a file in it cannot be read.
pub fn others(disk: &dyn Disk, folder: &Path) -> io::Result<Vec<String>> {
    let manifest = Manifest::read(disk, folder)?;
    let mut found = Vec::new();
    walk(disk, folder, "", &mut |name, kind| {
        let own = match kind {
            PathKind::File if name == MANIFEST => manifest_is_own(disk, folder)?,
            PathKind::File => manifest.has(disk, folder, name)?,
            PathKind::Folder => manifest.has_folder(name),
            PathKind::Other => false,
        };
        if !own {
            let slash = if kind == PathKind::Folder { "/" } else { "" };
            found.push(format!("{name}{slash}"));
        }
        Ok(own)
    })?;
    Ok(found)
}

/// Visits what is in a folder, by name; goes into a folder where `visit` returns true.
///
/// # Errors
///
/// Where a folder cannot be read, or what `visit` says.
pub fn walk(
    disk: &dyn Disk,
    folder: &Path,
    below: &str,
    visit: &mut dyn FnMut(&str, PathKind) -> io::Result<bool>,
) -> io::Result<()> {
    for (name, kind) in disk.list(folder)? {
        let child = joined(below, &name);
        let shallow = child.matches('/').count() < DEPTH;
        if visit(&child, kind)? && kind == PathKind::Folder && shallow {
            walk(disk, &folder.join(&name), &child, visit)?;
        }
    }
    Ok(())
}

/// A name in a folder of this name. What is not Unicode is replaced: such a name is in no manifest.
#[must_use]
pub fn joined(below: &str, name: &OsStr) -> String {
    let name = name.to_string_lossy();
    if below.is_empty() {
        name.into_owned()
    } else {
        format!("{below}/{name}")
    }
}
