//! The journal of a study: finished trials, appended as they finish, in files of a few thousand
//! rows, so that neither a run nor the making of its tables holds more than one point or one file
//! of points in memory. A killed run loses the trials in flight and nothing else; a damaged line
//! costs the trial in it, which is computed again.

mod entry;

use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

pub use self::entry::{Finished, JournalEntry, KeptPoint, PointTrials};
use super::error::{KeepError, StudyError};
use super::setup::Part;
use super::store::record;
use super::store::records::{Records, replace, tell_damage};
use super::store::{Disk, Folders, PathKind, announce, header, make_folders, name_in};

/// How trials are shared out among files: many points in one file, or a point in several.
#[derive(Debug, Clone, Copy)]
struct Blocks {
    points: usize,
    files_of_point: usize,
    trials: usize,
}

impl Blocks {
    fn new(part: &Part) -> Self {
        /// Rows in one file.
        const ROWS: usize = 4096;
        let most = part.setup.most_trials() as usize;
        let strategies = part.setup.strategies.len().max(1);
        let trials = (ROWS / strategies).max(1);
        Self {
            points: (ROWS / (strategies * most).max(1)).max(1),
            files_of_point: most.div_ceil(trials).max(1),
            trials,
        }
    }

    /// The files that hold a point.
    fn of_point(self, point: usize) -> std::ops::Range<usize> {
        let first = point / self.points * self.files_of_point;
        first..first + self.files_of_point
    }

    fn of(self, entry: &JournalEntry) -> usize {
        self.of_point(entry.point()).start + entry.trial() as usize / self.trials
    }
}

/// Files of rows that are open at one time.
const MOST_OPEN: usize = 8;

/// Points that share files, with the number of the first file.
type Group = (usize, BTreeMap<usize, KeptPoint>);

/// The journal in the work folder.
#[derive(Debug)]
pub struct Journal {
    disk: Arc<dyn Disk>,
    work: PathBuf,
    folder: PathBuf,
    part: Part,
    blocks: Blocks,
    seed: u32,
    sync_every: Duration,
    /// The files appended to last, by block, the latest at the end.
    open: Vec<(usize, Records)>,
    /// The points read last, as they were when this run began.
    group: Option<Group>,
    /// Lines that earlier runs kept, by block.
    earlier: BTreeMap<usize, usize>,
}

impl Journal {
    /// Opens the journal for a part of a study, creating it where there is none.
    ///
    /// Last lines without their end, left by a killed run, are cut off; so are lines whose checksum
    /// does not match, which is told.
    ///
    /// # Errors
    ///
    /// [`StudyError::OtherRun`] where it belongs to other work, [`StudyError::DamagedJournal`]
    /// where nothing tells to what it belongs, or the failure of a file operation.
    pub fn open(folders: &Folders, part: &Part) -> Result<Self, StudyError> {
        let path = folders.journal();
        let failed =
            |e: io::Error| KeepError::at(&path)(e).into_study_error(folders.partial(), 0, 0);
        let differences = |kept: &Part| part.differences(kept);
        let seed = header::open(folders, part.work(), part, &differences)?;
        make_folders(folders.disk(), &folders.rows()).map_err(failed)?;
        let mut journal = Self {
            disk: folders.shared_disk(),
            work: folders.partial().to_owned(),
            folder: folders.rows(),
            part: part.clone(),
            blocks: Blocks::new(part),
            seed,
            sync_every: folders.sync_interval(),
            open: Vec::new(),
            group: None,
            earlier: BTreeMap::new(),
        };
        journal.earlier = journal.mend().map_err(failed)?;
        Ok(journal)
    }

    /// Trials kept from earlier runs.
    #[must_use]
    pub fn kept_trials(&self) -> usize {
        self.earlier.values().sum()
    }

    /// Takes damaged and half-written lines out and counts the whole ones of each file.
    fn mend(&self) -> io::Result<BTreeMap<usize, usize>> {
        let mut counts = BTreeMap::new();
        for (name, kind) in self.disk.list(&self.folder)? {
            let (PathKind::File, Some(block)) = (kind, block_of(&name)) else {
                continue;
            };
            let path = self.path(block);
            let bytes = self.disk.read(&path)?;
            let lines = record::lines(self.seed, &bytes, 1);
            counts.insert(block, lines.good.len());
            tell_damage(&*self.disk, &path, &lines.damaged);
            if lines.torn || !lines.damaged.is_empty() {
                let name = name_in(&self.work, &path).unwrap_or_default();
                let whole = lines.good.iter();
                let whole = whole.flat_map(|(_, text)| record::line_of(self.seed, text));
                replace(&*self.disk, &self.work, &name, &whole.collect::<Vec<u8>>())?;
            }
        }
        Ok(counts)
    }

    fn path(&self, block: usize) -> PathBuf {
        self.folder.join(format!("{block:08}.jsonl"))
    }

    /// What earlier runs kept of a point. Points are best asked for in rising order, and each once: what
    /// was handed out is there again only after a point of other files, or [`Journal::forget`].
    ///
    /// # Errors
    ///
    /// Where the journal cannot be read, or a whole line does not read as a trial.
    pub fn kept(&mut self, point: usize) -> Result<KeptPoint, KeepError> {
        let mut group = self.group.take();
        let kept = self.of_group(&mut group, point);
        self.group = group;
        kept
    }

    /// Forgets what was read, so that [`Journal::kept`] reads anew what was appended since.
    pub fn forget(&mut self) {
        self.group = None;
    }

    /// Appends a finished trial or a refused point.
    ///
    /// # Errors
    ///
    /// The failure of the write; a half-written line is cut off as far as the system lets it.
    pub fn append(&mut self, entry: &JournalEntry) -> Result<(), KeepError> {
        let block = self.blocks.of(entry);
        let mut records = match self.open.iter().position(|(open, _)| *open == block) {
            Some(at) => self.open.remove(at).1,
            None => {
                let path = self.path(block);
                self.open_block(&path).map_err(KeepError::at(&path))?
            }
        };
        let appended = records.append(entry);
        self.open.push((block, records));
        if self.open.len() > MOST_OPEN {
            self.open.remove(0).1.sync()?;
        }
        appended?;
        let mut open = self.open.iter_mut();
        open.try_for_each(|(_, records)| records.sync_if_due())
    }

    fn open_block(&self, path: &Path) -> io::Result<Records> {
        let disk = &*self.disk;
        // What is no file is nothing that this program wrote, and is moved aside.
        let is_new = disk.kind(path)? != Some(PathKind::File);
        let length = if is_new {
            let name = name_in(&self.work, path).unwrap_or_default();
            announce(disk, &self.work, &[name])?;
            0
        } else {
            disk.length(path)?
        };
        let records = Records::open(disk, path, self.seed, length, self.sync_every)?;
        if is_new {
            disk.sync(&self.folder)?;
            disk.sync(&self.work)?;
        }
        Ok(records)
    }

    /// Brings all rows to the disk.
    ///
    /// # Errors
    ///
    /// What the system says.
    pub fn sync(&mut self) -> Result<(), KeepError> {
        let mut open = self.open.iter_mut();
        open.try_for_each(|(_, records)| records.sync())
    }

    /// What is kept of all points of the part in rising order, those of one file in memory at a time.
    pub fn in_order(&self) -> impl Iterator<Item = Result<(usize, KeptPoint), KeepError>> + '_ {
        let mut group = None;
        self.part
            .points()
            .map(move |point| Ok((point, self.of_group(&mut group, point)?)))
    }

    /// Takes a point out of the group that was read last, or reads its own.
    fn of_group(&self, group: &mut Option<Group>, point: usize) -> Result<KeptPoint, KeepError> {
        let blocks = self.blocks.of_point(point);
        if group.as_ref().is_none_or(|(read, _)| *read != blocks.start) {
            // What was read before goes first, so that one is in memory.
            *group = None;
            let mut points = BTreeMap::new();
            for block in blocks.clone() {
                self.read_block(block, &mut points)?;
            }
            *group = Some((blocks.start, points));
        }
        let points = group.as_mut().map(|(_, points)| points);
        Ok(points
            .and_then(|points| points.remove(&point))
            .unwrap_or_default())
    }

    fn read_block(
        &self,
        block: usize,
        points: &mut BTreeMap<usize, KeptPoint>,
    ) -> Result<(), KeepError> {
        let path = self.path(block);
        let read = || -> io::Result<Vec<u8>> {
            match self.disk.kind(&path)? {
                Some(PathKind::File) => self.disk.read(&path),
                _ => Ok(Vec::new()),
            }
        };
        let bytes = read().map_err(KeepError::at(&path))?;
        let lines = record::lines(self.seed, &bytes, 1);
        // A last line without its end is being written.
        if let Some(number) = lines.damaged.first() {
            return Err(changed_outside(&path, *number));
        }
        let earlier = self.earlier.get(&block).copied().unwrap_or(0);
        for (index, (number, text)) in lines.good.into_iter().enumerate() {
            let entry = serde_json::from_slice(text).ok();
            let entry = entry.filter(|e| self.part.has(e) && self.blocks.of(e) == block);
            let entry = entry.ok_or_else(|| changed_outside(&path, number))?;
            let point = points.entry(entry.point()).or_default();
            point.add(entry, index < earlier);
        }
        Ok(())
    }
}

/// The number of a block's file.
fn block_of(name: &OsStr) -> Option<usize> {
    let digits = name.to_str()?.strip_suffix(".jsonl")?;
    let number = digits.parse().ok()?;
    (format!("{number:08}") == digits).then_some(number)
}

/// A line that was right when the work began, or was written by it, and is not any more.
pub fn changed_outside(path: &Path, line: usize) -> KeepError {
    KeepError::Output {
        what: format!("cannot read {}, line {line}", path.display()),
        reason: "the line is damaged or no trial of this study; the file was changed from outside"
            .to_owned(),
    }
}
