//! The output folder and the work folder beside it: a result appears whole or not at all.

use std::ffi::OsString;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::error::{KeepError, StudyError};

/// Name of the journal in the work folder.
const JOURNAL: &str = "journal.jsonl";

/// The target folder with its work folder `<target>.partial` and, for the moment of a swap,
/// `<target>.previous`.
#[derive(Debug, Clone)]
pub struct Folders {
    target: PathBuf,
    partial: PathBuf,
    previous: PathBuf,
}

impl Folders {
    /// Checks `target` and creates its work folder.
    ///
    /// # Errors
    ///
    /// Where the target is a file or has no name, where it exists, is not empty and `overwrite`
    /// is off, or where the work folder cannot be created.
    pub fn prepare(target: &Path, overwrite: bool) -> Result<Self, StudyError> {
        let Some(name) = target.file_name() else {
            return Err(StudyError::TargetHasNoName {
                path: target.to_owned(),
            });
        };
        let beside = |suffix: &str| {
            let mut other = OsString::from(name);
            other.push(suffix);
            target.with_file_name(other)
        };
        let folders = Self {
            target: target.to_owned(),
            partial: beside(".partial"),
            previous: beside(".previous"),
        };
        let filled = match fs::read_dir(target) {
            Ok(mut entries) => entries.next().is_some(),
            Err(e) if e.kind() == io::ErrorKind::NotADirectory => {
                return Err(StudyError::TargetIsNoFolder {
                    path: target.to_owned(),
                });
            }
            Err(_) => false,
        };
        if filled && !overwrite {
            return Err(StudyError::TargetExists {
                path: target.to_owned(),
            });
        }
        folders.create_partial()?;
        Ok(folders)
    }

    /// Nothing is computed yet, so whatever keeps the folder from being created, but for a full
    /// disk, is a fault of the target.
    fn create_partial(&self) -> Result<(), StudyError> {
        let failed = |e| match KeepError::at(&self.partial)(e).into_study_error(&self.partial, 0, 0)
        {
            StudyError::File { path, source, .. } => StudyError::NotWritable { path, source },
            other => other,
        };
        fs::create_dir_all(&self.partial).map_err(failed)
    }

    /// The target.
    #[must_use]
    pub fn target(&self) -> &Path {
        &self.target
    }

    /// The work folder.
    #[must_use]
    pub fn partial(&self) -> &Path {
        &self.partial
    }

    /// The journal in the work folder.
    #[must_use]
    pub fn journal(&self) -> PathBuf {
        self.partial.join(JOURNAL)
    }

    /// Empties the work folder.
    ///
    /// # Errors
    ///
    /// The failure of a file operation.
    pub fn start_afresh(&self) -> Result<(), StudyError> {
        fs::remove_dir_all(&self.partial)
            .map_err(|e| KeepError::at(&self.partial)(e).into_study_error(&self.partial, 0, 0))?;
        self.create_partial()
    }

    /// Moves the finished work folder to the target. An older result there stays untouched
    /// until this moment, and is removed after the new one is in place.
    ///
    /// # Errors
    ///
    /// The failure of a file operation.
    pub fn complete(&self) -> Result<(), KeepError> {
        let remove = |path: &Path| match fs::remove_dir_all(path) {
            Err(e) if e.kind() != io::ErrorKind::NotFound => Err(KeepError::at(path)(e)),
            _ => Ok(()),
        };
        if self.target.exists() {
            remove(&self.previous)?;
            fs::rename(&self.target, &self.previous).map_err(KeepError::at(&self.previous))?;
        }
        fs::rename(&self.partial, &self.target).map_err(KeepError::at(&self.target))?;
        let journal = self.target.join(JOURNAL);
        match fs::remove_file(&journal) {
            Err(e) if e.kind() != io::ErrorKind::NotFound => Err(KeepError::at(&journal)(e))?,
            _ => {}
        }
        remove(&self.previous)
    }
}
