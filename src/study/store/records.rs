//! Files of records that grow while trials finish.
//!
//! A record is on the disk at the latest when the next one is written a second or more after the
//! last synchronisation, and when the file is closed: a power cut loses at most the trials in flight and what
//! finished within a second before the last record.

use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use serde::Serialize;

use super::disk::{Append, Disk};
use super::record;
use super::written;
use crate::study::KeepError;

/// A file of records, open at its end.
#[derive(Debug)]
pub struct Records {
    file: Box<dyn Append>,
    path: PathBuf,
    seed: u32,
    length: u64,
    every: Duration,
    synced: Option<Instant>,
    is_synced: bool,
}

impl Records {
    /// Opens a file of `length` bytes.
    ///
    /// # Errors
    ///
    /// What the system says.
    pub fn open(
        disk: &dyn Disk,
        path: &Path,
        seed: u32,
        length: u64,
        every: Duration,
    ) -> io::Result<Self> {
        Ok(Self {
            file: disk.append(path)?,
            path: path.to_owned(),
            seed,
            length,
            every,
            synced: None,
            is_synced: true,
        })
    }

    /// Appends a record.
    ///
    /// # Errors
    ///
    /// The failure of the write; a half-written line is cut off as far as the system lets it.
    pub fn append(&mut self, record: &impl Serialize) -> Result<(), KeepError> {
        let line = record::line(self.seed, record).map_err(io::Error::from);
        let written = line.and_then(|line| {
            self.file.append(&line)?;
            Ok(line.len() as u64)
        });
        match written {
            Ok(length) => {
                self.length += length;
                self.is_synced = false;
            }
            Err(error) => {
                // The first error is the one to report; the reader copes with a torn last line.
                let _ = self.file.cut(self.length);
                return Err(KeepError::at(&self.path)(error));
            }
        }
        self.sync_if_due()
    }

    /// Brings the records to the disk where the last time was long enough ago.
    ///
    /// # Errors
    ///
    /// What the system says.
    pub fn sync_if_due(&mut self) -> Result<(), KeepError> {
        if self.synced.is_none_or(|at| at.elapsed() >= self.every) {
            self.sync()?;
        }
        Ok(())
    }

    /// Returns once all records are on the disk.
    ///
    /// # Errors
    ///
    /// What the system says.
    pub fn sync(&mut self) -> Result<(), KeepError> {
        if !self.is_synced {
            self.file.sync().map_err(KeepError::at(&self.path))?;
            self.synced = Some(Instant::now());
            self.is_synced = true;
        }
        Ok(())
    }
}

impl Drop for Records {
    fn drop(&mut self) {
        // What fails here is lost by a power cut only, and computed again then.
        let _ = self.sync();
    }
}

/// Replaces a file of records by these bytes.
///
/// # Errors
///
/// What the system says.
pub fn replace(disk: &dyn Disk, work: &Path, name: &str, bytes: &[u8]) -> io::Result<()> {
    let fresh = format!("{name}.new");
    written::announce(disk, work, &[name.to_owned(), fresh.clone()])?;
    let fresh = work.join(fresh);
    disk.create(&fresh, bytes)?;
    disk.sync(&fresh)?;
    disk.rename(&fresh, &work.join(name))?;
    disk.sync(work)
}

/// Says which lines of a file of records are lost.
pub fn tell_damage(disk: &dyn Disk, path: &Path, lines: &[usize]) {
    if !lines.is_empty() {
        disk.tell(&format!(
            "warning: {}, {}: damaged; what stood there is computed again",
            path.display(),
            record::numbers(lines)
        ));
    }
}
