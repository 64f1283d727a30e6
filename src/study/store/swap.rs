//! A finished work folder takes the place of the target, and an older result there goes.
//!
//! The steps, each of which leaves a state that the next start of any command on this target knows:
//!
//! 1. All files of the result and their names are on the disk; the manifest lists them.
//! 2. The marker in the work folder says where an older target will stand for a moment.
//! 3. An older target is renamed. Found so (marker in the work folder), it is renamed back.
//! 4. The work folder is renamed to the target, marker and journal in it. Found so (marker in the
//!    target), the rest is done.
//! 5. What is not the program's in the older target is moved to the new one, where no file of that
//!    name is; only then files that are still as the old manifest says are removed.
//! 6. Journal, list and marker are removed from the target, the marker last.
//!
//! The name that an older target gets holds a number drawn for this swap, so that no folder of a
//! user is taken for it.

mod add;
mod folders;
mod older;

use std::collections::BTreeSet;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde::{Deserialize, Serialize};

pub use self::folders::make_folders;
use self::folders::{folders_of, remove_if_empty, taken};
use super::disk::{Disk, PathKind};
use super::manifest::{FileMark, MANIFEST, Manifest};
use super::record;
use super::written::{self, WRITTEN, WRITTEN_NEW, is_inside};
use crate::study::KeepError;

/// Name of the journal in a work folder.
pub const JOURNAL: &str = "journal.jsonl";
/// Name of a journal that is about to replace a damaged one.
pub const JOURNAL_NEW: &str = "journal.jsonl.new";
/// Name of the folder with the rows of a study's journal in a work folder.
pub const ROWS: &str = "rows";
/// Name of a manifest that is about to replace another.
const MANIFEST_NEW: &str = "manifest.jsonl.new";
/// Name of the marker.
const SWAP: &str = "swap.jsonl";
/// Name of a marker that is about to replace another.
const SWAP_NEW: &str = "swap.jsonl.new";
/// How often a target that somebody creates at the same moment is tried.
const TRIES: usize = 8;
/// Bytes by which a file of records is known.
const START: usize = 16;

/// A swap that has begun.
#[derive(Debug, Serialize, Deserialize)]
struct Marker {
    /// Name of the target.
    target: String,
    /// Names of the older targets beside it, the oldest first.
    previous: Vec<String>,
}

/// The target, its work folder, and the disk on which they are.
#[derive(Debug)]
pub struct Places {
    /// File operations.
    pub disk: Arc<dyn Disk>,
    /// The target.
    pub target: PathBuf,
    /// The work folder.
    pub partial: PathBuf,
}

impl Places {
    /// The folder in which target and work folder are.
    #[must_use]
    pub fn parent(&self) -> PathBuf {
        match self.target.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
            _ => PathBuf::from("."),
        }
    }

    fn name(&self) -> String {
        let name = self.target.file_name().unwrap_or_default();
        name.to_string_lossy().into_owned()
    }

    /// Moves the finished work folder to the target. An older result there stays untouched until
    /// this moment.
    ///
    /// # Errors
    ///
    /// The failure of a file operation; an older result is then back in its place, or will be at
    /// the next start.
    pub fn install(&self) -> Result<(), KeepError> {
        self.seal()?;
        let mut marker = Marker {
            target: self.name(),
            previous: Vec::new(),
        };
        for _ in 0..TRIES {
            match self.swap(&mut marker) {
                Err(e) if taken(&e) => {}
                Err(e) => {
                    // The first error is the one to report; the next start puts right the rest.
                    let _ = self.roll_back(&marker);
                    return Err(KeepError::at(&self.target)(e));
                }
                Ok(()) => return self.finish(&marker).map_err(KeepError::at(&self.target)),
            }
        }
        let _ = self.roll_back(&marker);
        Err(KeepError::at(&self.target)(
            io::ErrorKind::DirectoryNotEmpty.into(),
        ))
    }

    /// Brings the result to the disk and writes its manifest.
    fn seal(&self) -> Result<Manifest, KeepError> {
        let (disk, work) = (&*self.disk, &self.partial);
        let at_work = || KeepError::at(work);
        let known = written::known(disk, work)
            .map_err(at_work())?
            .unwrap_or_default();
        let mut names = Vec::new();
        for name in known.into_iter().filter(|name| !is_of_work(name)) {
            if disk.kind(&work.join(&name)).map_err(at_work())? == Some(PathKind::File) {
                names.push(name);
            }
        }
        let paths: Vec<PathBuf> = names.iter().map(|name| work.join(name)).collect();
        let mut manifest = Manifest::default();
        for ((name, path), sealed) in names.into_iter().zip(&paths).zip(disk.seal(&paths)) {
            let found = sealed.map_err(KeepError::at(path))?;
            manifest.add(FileMark::new(name, found));
        }
        for folder in folders_of(manifest.names()) {
            let folder = work.join(folder);
            disk.sync(&folder).map_err(KeepError::at(&folder))?;
        }
        let own = [MANIFEST, MANIFEST_NEW, SWAP, SWAP_NEW].map(str::to_owned);
        written::announce(disk, work, &own).map_err(at_work())?;
        self.put(MANIFEST, &manifest.bytes().map_err(at_work())?)
            .map_err(at_work())?;
        Ok(manifest)
    }

    /// Writes a file of the work folder itself, which is there as it was or as it is now, and
    /// brings it to the disk.
    fn put(&self, name: &str, bytes: &[u8]) -> io::Result<()> {
        let fresh = self.partial.join(format!("{name}.new"));
        self.disk.create(&fresh, bytes)?;
        self.disk.sync(&fresh)?;
        self.disk.rename(&fresh, &self.partial.join(name))?;
        self.disk.sync(&self.partial)
    }

    /// Steps 2 to 4.
    fn swap(&self, marker: &mut Marker) -> io::Result<()> {
        let older = match self.disk.kind(&self.target)? {
            None => None,
            Some(PathKind::Folder) => Some(self.free_beside()?),
            Some(_) => return Err(io::ErrorKind::NotADirectory.into()),
        };
        marker.previous.extend(older.clone());
        self.put(SWAP, &record::line(0, marker)?)?;
        if let Some(older) = older {
            let moved = self.disk.rename(&self.target, &self.parent().join(older));
            match moved {
                // Somebody removed it at this moment.
                Err(e) if e.kind() == io::ErrorKind::NotFound => {}
                moved => moved?,
            }
        }
        self.disk.rename(&self.partial, &self.target)
    }

    /// A name beside the target at which nothing is.
    fn free_beside(&self) -> io::Result<String> {
        loop {
            let number = self.disk.draw();
            let name = format!("{}.previous-{number:016x}", self.name());
            if self.disk.kind(&self.parent().join(&name))?.is_none() {
                return Ok(name);
            }
        }
    }

    /// Steps 5 and 6.
    fn finish(&self, marker: &Marker) -> io::Result<()> {
        self.disk.sync(&self.parent())?;
        for name in &marker.previous {
            self.remove_older(&self.parent().join(name))?;
        }
        self.clean()
    }

    /// Puts right what a kill or a power cut left in the middle of a swap.
    ///
    /// # Errors
    ///
    /// What the system says.
    pub fn recover(&self) -> io::Result<()> {
        if let Some(marker) = self.marker(&self.target)? {
            self.finish(&marker)?;
        }
        if let Some(marker) = self.marker(&self.partial)? {
            self.roll_back(&marker)?;
        }
        Ok(())
    }

    /// The marker in a folder, where it is of this target.
    fn marker(&self, folder: &Path) -> io::Result<Option<Marker>> {
        let path = folder.join(SWAP);
        if self.disk.kind(folder)? != Some(PathKind::Folder)
            || self.disk.kind(&path)? != Some(PathKind::File)
        {
            return Ok(None);
        }
        let bytes = self.disk.read(&path)?;
        let marker = record::record(0, &bytes).and_then(|r| serde_json::from_slice(r).ok());
        let marker = marker.filter(|marker: &Marker| marker.target == self.name());
        Ok(marker.map(|mut marker| {
            marker.previous.retain(|name| self.is_beside(name));
            marker
        }))
    }

    /// Whether a name is one that [`Places::free_beside`] gives.
    fn is_beside(&self, name: &str) -> bool {
        let rest = name.strip_prefix(&format!("{}.previous-", self.name()));
        rest.is_some() && !name.contains('/') && is_inside(name)
    }

    /// Undoes step 3.
    fn roll_back(&self, marker: &Marker) -> io::Result<()> {
        for name in &marker.previous {
            let older = self.parent().join(name);
            if self.disk.kind(&older)? != Some(PathKind::Folder) {
                continue;
            }
            let free = self.disk.kind(&self.target)?.is_none();
            if free && self.disk.rename(&older, &self.target).is_ok() {
                continue;
            }
            self.carry(&older, &self.target, "", &Manifest::default())?;
            self.tell_what_stays(&older)?;
        }
        self.disk.sync(&self.parent())?;
        let path = self.partial.join(SWAP);
        if self.disk.kind(&path)? == Some(PathKind::File) {
            self.disk.remove_file(&path)?;
        }
        Ok(())
    }

    /// Removes journal, list and marker from the target.
    fn clean(&self) -> io::Result<()> {
        let (disk, target) = (&*self.disk, &self.target);
        let known = written::known(disk, target)?.unwrap_or_default();
        // The journal after its rows, so that rows without a journal are never left.
        for name in known.iter().rev().filter(|name| is_of_journal(name)) {
            let path = target.join(name);
            if disk.kind(&path)? == Some(PathKind::File)
                && record::begins_as_records(&disk.read_start(&path, START)?)
            {
                disk.remove_file(&path)?;
            }
        }
        if disk.kind(&target.join(ROWS))? == Some(PathKind::Folder) {
            remove_if_empty(disk, &target.join(ROWS))?;
        }
        remove_drafts(disk, target)?;
        for name in [WRITTEN, SWAP] {
            let path = target.join(name);
            if disk.kind(&path)? == Some(PathKind::File) {
                disk.remove_file(&path)?;
            }
        }
        disk.sync(target)
    }

    /// Removes everything that this program wrote into the work folder, the journal first: without
    /// it nothing else counts.
    ///
    /// # Errors
    ///
    /// What the system says.
    pub fn clear(&self) -> io::Result<()> {
        let (disk, work) = (&*self.disk, &self.partial);
        let known = written::known(disk, work)?.unwrap_or_default();
        let journal = known.iter().filter(|name| *name == JOURNAL);
        let rest = known.iter().filter(|name| *name != JOURNAL);
        for name in journal.chain(rest) {
            let path = work.join(name);
            if disk.kind(&path)? == Some(PathKind::File) {
                disk.remove_file(&path)?;
            }
        }
        for folder in folders_of(known.iter().map(String::as_str)).iter().rev() {
            remove_if_empty(disk, &work.join(folder))?;
        }
        if disk.kind(work)?.is_some() {
            written::renew(disk, work, &BTreeSet::new())?;
        }
        Ok(())
    }

    /// Removes an empty work folder with its list.
    ///
    /// # Errors
    ///
    /// What the system says.
    pub fn leave(&self) -> io::Result<()> {
        let path = self.partial.join(WRITTEN);
        if self.disk.kind(&path)? == Some(PathKind::File) {
            self.disk.remove_file(&path)?;
        }
        remove_if_empty(&*self.disk, &self.partial)
    }
}

/// Whether a name in a work folder is of the work and not of the result.
#[must_use]
pub fn is_of_work(name: &str) -> bool {
    let own = [WRITTEN, SWAP, SWAP_NEW, MANIFEST, MANIFEST_NEW];
    is_of_journal(name) || own.contains(&name)
}

fn is_of_journal(name: &str) -> bool {
    let of_rows = name.strip_prefix(ROWS);
    [JOURNAL, JOURNAL_NEW].contains(&name) || of_rows.is_some_and(|n| n.starts_with('/'))
}

/// Removes lists and markers that a kill kept from replacing older ones.
///
/// # Errors
///
/// What the system says.
pub fn remove_drafts(disk: &dyn Disk, folder: &Path) -> io::Result<()> {
    for name in [MANIFEST_NEW, WRITTEN_NEW, SWAP_NEW] {
        let path = folder.join(name);
        if disk.kind(&path)? == Some(PathKind::File)
            && record::begins_as_records(&disk.read_start(&path, START)?)
        {
            disk.remove_file(&path)?;
        }
    }
    Ok(())
}
