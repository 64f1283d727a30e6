//! The output folder and the work folder beside it: one process at a time, a result that appears
//! whole or not at all, and nothing of anybody else's touched.

use std::collections::BTreeSet;
use std::ffi::OsString;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use super::disk::{Disk, PathKind, RealDisk};
use super::header::is_torn_first_line;
use super::lock::{Lock, is_held};
use super::manifest::{others, walk};
use super::swap::{JOURNAL, Places, ROWS, make_folders, remove_drafts};
use super::written;
use crate::study::error::{KeepError, StudyError};

/// Longest time for which a finished trial may be in memory of the system alone while others
/// finish.
const SYNC_EVERY: Duration = Duration::from_secs(1);
/// Names of others' files that a message shows.
const SHOWN: usize = 5;

/// What happens to what is in the target already.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Existing {
    /// A target that is not empty is refused.
    Refuse,
    /// A result of this program gives way to the new one, and unfinished work of something else
    /// in the work folder too; a target that holds anything else is refused.
    Replace,
    /// New files come to those that are there.
    Add,
}

/// The target folder with its work folder `<target>.partial`, and the lock on both, given back
/// when this is dropped.
#[derive(Debug)]
pub struct Folders {
    places: Places,
    existing: Existing,
    sync_every: Duration,
    _lock: Box<dyn Lock>,
}

impl Folders {
    /// Takes the lock on `target`, puts right what a kill left in the middle of a swap, checks the
    /// target and creates its work folder. A link is followed.
    ///
    /// # Errors
    ///
    /// Where the target is a file or has no name, where another process works on it, where it
    /// is not empty and `overwrite` is off, where it holds what this program did not write and
    /// `overwrite` is on, where the work folder is somebody else's, or where it cannot be created.
    pub fn prepare(target: &Path, overwrite: bool) -> Result<Self, StudyError> {
        let existing = if overwrite {
            Existing::Replace
        } else {
            Existing::Refuse
        };
        Self::on(Arc::new(RealDisk), &followed(target)?, existing)
    }

    /// As [`Folders::prepare`], for files that are to come to those in the target.
    ///
    /// # Errors
    ///
    /// As [`Folders::prepare`]; nothing that is in the target is refused.
    pub fn prepare_addition(target: &Path) -> Result<Self, StudyError> {
        Self::on(Arc::new(RealDisk), &followed(target)?, Existing::Add)
    }

    /// Whether another process is writing into the target, as far as the system says.
    #[must_use]
    pub fn is_busy(target: &Path) -> bool {
        is_held(&beside(target, ".lock"))
    }

    /// As [`Folders::prepare`], on this disk.
    pub(crate) fn on(
        disk: Arc<dyn Disk>,
        target: &Path,
        existing: Existing,
    ) -> Result<Self, StudyError> {
        let Some(name) = target.file_name() else {
            return Err(StudyError::TargetHasNoName {
                path: target.to_owned(),
            });
        };
        let places = Places {
            disk,
            target: target.with_file_name(name),
            partial: work_folder(target),
        };
        places.refuse_file()?;
        let lock_path = beside(target, ".lock");
        let made = make_folders(&*places.disk, &places.parent());
        let lock = made.and_then(|()| places.disk.lock(&lock_path));
        let Some(lock) = lock.map_err(|e| places.not_begun(&places.partial, e))? else {
            return Err(StudyError::Busy {
                path: places.partial,
            });
        };
        (places.recover()).map_err(|e| places.not_begun(&places.target, e))?;
        places.refuse_file()?;
        places.check_target(existing)?;
        places.open_work()?;
        Ok(Self {
            places,
            existing,
            sync_every: SYNC_EVERY,
            _lock: lock,
        })
    }

    /// Has every record brought to the disk at once, or none before the end.
    #[cfg(test)]
    pub(crate) fn sync_every(&mut self, duration: Duration) {
        self.sync_every = duration;
    }

    /// The target.
    #[must_use]
    pub fn target(&self) -> &Path {
        &self.places.target
    }

    /// The work folder.
    #[must_use]
    pub fn partial(&self) -> &Path {
        &self.places.partial
    }

    /// The journal in the work folder.
    #[must_use]
    pub fn journal(&self) -> PathBuf {
        self.partial().join(JOURNAL)
    }

    /// The folder of a study's rows in the work folder.
    #[must_use]
    pub fn rows(&self) -> PathBuf {
        self.partial().join(ROWS)
    }

    pub(crate) fn disk(&self) -> &dyn Disk {
        &*self.places.disk
    }

    pub(crate) fn shared_disk(&self) -> Arc<dyn Disk> {
        Arc::clone(&self.places.disk)
    }

    /// Longest time between two finished trials after which the first is on the disk.
    pub(crate) fn sync_interval(&self) -> Duration {
        self.sync_every
    }

    /// Whether unfinished work of something else gives way.
    pub(crate) fn replaces(&self) -> bool {
        self.existing == Existing::Replace
    }

    /// Lists files as the program's own before they are written; names in the work folder, with
    /// slashes. A file that is there without being listed gives way to a free name beside it.
    ///
    /// # Errors
    ///
    /// The failure of a file operation.
    pub fn announce(&self, names: &[String]) -> Result<(), KeepError> {
        written::announce(self.disk(), self.partial(), names).map_err(KeepError::at(self.partial()))
    }

    /// Removes what this program wrote into the work folder.
    ///
    /// # Errors
    ///
    /// The failure of a file operation.
    pub fn start_afresh(&self) -> Result<(), StudyError> {
        self.places
            .clear()
            .map_err(|e| self.places.not_begun(self.partial(), e))
    }

    /// Moves the finished work folder to the target. An older result there stays untouched until
    /// this moment; what this program did not write stays in any case.
    ///
    /// # Errors
    ///
    /// The failure of a file operation, or a file of somebody else's under the name of a new one
    /// where files are added.
    pub fn complete(&self) -> Result<(), KeepError> {
        match self.existing {
            Existing::Refuse | Existing::Replace => self.places.install(),
            Existing::Add => self.places.add(),
        }
    }
}

impl Places {
    /// Nothing is computed yet, so whatever goes wrong, but for a full disk, is a fault of the
    /// target.
    fn not_begun(&self, path: &Path, error: io::Error) -> StudyError {
        match KeepError::at(path)(error).into_study_error(&self.partial, 0, 0) {
            StudyError::File { path, source, .. } => StudyError::NotWritable { path, source },
            other => other,
        }
    }

    fn refuse_file(&self) -> Result<(), StudyError> {
        let no_folder = || StudyError::TargetIsNoFolder {
            path: self.target.clone(),
        };
        match self.disk.kind(&self.target) {
            Ok(None | Some(PathKind::Folder)) => Ok(()),
            Ok(Some(_)) => Err(no_folder()),
            Err(e) if e.kind() == io::ErrorKind::NotADirectory => Err(no_folder()),
            Err(e) => Err(self.not_begun(&self.target, e)),
        }
    }

    fn check_target(&self, existing: Existing) -> Result<(), StudyError> {
        let disk = &*self.disk;
        let failed = |e| self.not_begun(&self.target, e);
        if disk.kind(&self.target).map_err(failed)?.is_none() {
            return Ok(());
        }
        let found = match existing {
            Existing::Add => return Ok(()),
            Existing::Refuse => {
                if disk.list(&self.target).map_err(failed)?.is_empty() {
                    return Ok(());
                }
                return Err(StudyError::TargetExists {
                    path: self.target.clone(),
                });
            }
            Existing::Replace => others(disk, &self.target).map_err(failed)?,
        };
        if found.is_empty() {
            return Ok(());
        }
        Err(StudyError::TargetHoldsOthers {
            path: self.target.clone(),
            names: some(&found),
        })
    }

    /// Creates the work folder with its list, or mends the list of one that is there.
    fn open_work(&self) -> Result<(), StudyError> {
        let (disk, work) = (&*self.disk, &self.partial);
        let failed = |e| self.not_begun(work, e);
        let others = |names: String| StudyError::WorkHoldsOthers {
            path: work.clone(),
            names,
        };
        match disk.kind(work).map_err(failed)? {
            None => disk.create_folder(work).map_err(failed)?,
            Some(PathKind::Folder) => {}
            Some(_) => return Err(others("it is no folder".to_owned())),
        }
        remove_drafts(disk, work).map_err(failed)?;
        let known = match written::known(disk, work).map_err(failed)? {
            Some(known) => known,
            None => {
                let found = self.files_of_others().map_err(failed)?;
                if !found.is_empty() {
                    return Err(others(some(&found)));
                }
                BTreeSet::new()
            }
        };
        written::renew(disk, work, &known)
            .and_then(|()| disk.sync(&self.parent()))
            .map_err(failed)
    }

    /// Files in a work folder without a list. A journal without a whole line of the program
    /// holds nothing.
    fn files_of_others(&self) -> io::Result<Vec<String>> {
        let mut found = Vec::new();
        walk(&*self.disk, &self.partial, "", &mut |name, kind| {
            let holds = match kind {
                PathKind::File if name == JOURNAL => {
                    !is_torn_first_line(&self.disk.read(&self.partial.join(name))?)
                }
                PathKind::File => true,
                PathKind::Folder | PathKind::Other => false,
            };
            found.extend(holds.then(|| name.to_owned()));
            Ok(true)
        })?;
        Ok(found)
    }
}

/// The work folder of a target.
#[must_use]
pub fn work_folder(target: &Path) -> PathBuf {
    beside(target, ".partial")
}

/// What has the name of a target with `suffix` behind it.
fn beside(target: &Path, suffix: &str) -> PathBuf {
    let mut name = OsString::from(target.file_name().unwrap_or_default());
    name.push(suffix);
    target.with_file_name(name)
}

/// Names in words, the first of many.
fn some(names: &[String]) -> String {
    let shown: Vec<&str> = names.iter().take(SHOWN).map(String::as_str).collect();
    let more = match names.len() - shown.len() {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    shown.join(", ") + &more
}

/// Where a target that is a link leads; any other target as it is.
fn followed(target: &Path) -> Result<PathBuf, StudyError> {
    let Some(name) = target.file_name() else {
        return Ok(target.to_owned());
    };
    // Without a slash at its end, which would be followed.
    let plain = target.with_file_name(name);
    match fs::symlink_metadata(&plain) {
        Ok(found) if found.is_symlink() => {
            fs::canonicalize(&plain).map_err(|source| StudyError::TargetLeadsNowhere {
                path: plain,
                source,
            })
        }
        _ => Ok(plain),
    }
}
