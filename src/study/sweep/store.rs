//! The journal of a sweep: finished trials, appended as they finish, in files of a few thousand
//! rows, so that neither a run nor the making of its tables holds more than one file in memory.

use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use serde::{Deserialize, Serialize};

use super::plan::{Shard, SweepPlan};
use super::schedule::Task;
use crate::study::journal::tell_damage;
use crate::study::missing;
use crate::study::store::header::{self, Asked};
use crate::study::store::record;
use crate::study::store::records::{Records, replace};
use crate::study::store::{Disk, Folders, JOURNAL, Kind, announce, make_folders, name_in};
use crate::study::{KeepError, StudyError};
use crate::trial::result::{Outcome, TrialRow};

/// A finished trial, or a point that cannot be built.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Entry {
    /// A trial.
    Trial {
        /// Point.
        point: usize,
        /// Strategy.
        strategy: usize,
        /// The numbers.
        #[serde(deserialize_with = "missing::row")]
        row: Box<TrialRow>,
    },
    /// A point without trials.
    Refused {
        /// Point.
        point: usize,
        /// Why.
        refused: String,
    },
}

impl Entry {
    /// The point.
    #[must_use]
    pub fn point(&self) -> usize {
        match self {
            Self::Trial { point, .. } | Self::Refused { point, .. } => *point,
        }
    }
}

/// What is kept of one point.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Kept {
    /// Why it cannot be built.
    pub refused: Option<String>,
    /// Finished trials by strategy and trial.
    pub rows: BTreeMap<(usize, u32), TrialRow>,
}

impl Kept {
    /// Whether a kept trial succeeded.
    #[must_use]
    pub fn success(&self, strategy: usize, trial: u32) -> Option<bool> {
        let row = self.rows.get(&(strategy, trial))?;
        Some(row.outcome == Outcome::Reached)
    }
}

/// First line of the journal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SweepHeader {
    /// What is computed.
    pub plan: SweepPlan,
    /// Which share of it.
    pub shard: Shard,
}

/// Files of rows that are open at one time.
const MOST_OPEN: usize = 8;
/// Work that this journal keeps.
const WORK: &str = "sweep";

impl SweepHeader {
    /// The seed of the checksums of a share's rows.
    ///
    /// # Errors
    ///
    /// Where the header cannot be written as JSON.
    pub fn seed(&self) -> serde_json::Result<u32> {
        Ok(record::checksum(0, &serde_json::to_vec(self)?))
    }

    /// Whether an entry is of this share: what it names exists.
    #[must_use]
    pub fn has(&self, entry: &Entry) -> bool {
        let point = entry.point();
        let is_own = point < self.plan.points && self.shard.has(point);
        is_own
            && match entry {
                Entry::Refused { .. } => true,
                Entry::Trial { strategy, row, .. } => {
                    *strategy < self.plan.strategies.len() && row.trial < self.plan.most_trials()
                }
            }
    }

    fn differences(&self, kept: &Self) -> String {
        let differences = kept.plan.differences(&self.plan);
        if differences.is_empty() && kept.shard != self.shard {
            return format!(
                "shard: {}/{} and {}/{}",
                kept.shard.number, kept.shard.of, self.shard.number, self.shard.of
            );
        }
        differences
    }
}

/// The journal in the work folder.
#[derive(Debug)]
pub struct Store {
    disk: Arc<dyn Disk>,
    work: PathBuf,
    folder: PathBuf,
    header: SweepHeader,
    points_in_block: usize,
    seed: u32,
    sync_every: Duration,
    /// The files appended to last, by block, the latest at the end.
    open: Vec<(usize, Records)>,
    /// The block read last, as it was when this run began.
    block: Option<(usize, BTreeMap<usize, Kept>)>,
    /// Trials kept from earlier runs.
    kept: usize,
}

impl Store {
    /// Opens the journal for a share of a plan, creating it where there is none.
    ///
    /// # Errors
    ///
    /// [`StudyError::OtherRun`], [`StudyError::DamagedJournal`], or the failure of a file
    /// operation.
    pub fn open(folders: &Folders, header: &SweepHeader) -> Result<Self, StudyError> {
        let path = folders.journal();
        let failed =
            |e: io::Error| KeepError::at(&path)(e).into_study_error(folders.partial(), 0, 0);
        let trusted = |seed: u32, _: &[u8]| trusted(folders.disk(), &folders.rows(), seed);
        let asked = Asked {
            work: WORK,
            header,
            differences: &|kept: &SweepHeader| header.differences(kept),
            trusted: &trusted,
        };
        let opened = header::open(folders, &asked)?;
        if opened.is_damaged || !opened.rest.is_empty() {
            tell_damage(folders.disk(), &path, &[1]);
            replace(folders.disk(), folders.partial(), JOURNAL, &opened.first).map_err(failed)?;
        }
        make_folders(folders.disk(), &folders.rows()).map_err(failed)?;
        let mut store = Self {
            disk: folders.shared_disk(),
            work: folders.partial().to_owned(),
            folder: folders.rows(),
            header: header.clone(),
            points_in_block: header.plan.points_in_block(),
            seed: opened.seed,
            sync_every: folders.sync_interval(),
            open: Vec::new(),
            block: None,
            kept: 0,
        };
        store.kept = store.mend().map_err(failed)?;
        Ok(store)
    }

    /// Trials kept from earlier runs.
    #[must_use]
    pub fn kept_trials(&self) -> usize {
        self.kept
    }

    /// Takes damaged and half-written lines out and counts the whole ones.
    fn mend(&self) -> io::Result<usize> {
        let mut count = 0;
        for (name, kind) in self.disk.list(&self.folder)? {
            let (Kind::File, Some(block)) = (kind, block_of(&name)) else {
                continue;
            };
            let path = self.path(block);
            let bytes = self.disk.read(&path)?;
            let lines = record::lines(self.seed, &bytes, 1);
            count += lines.good.len();
            tell_damage(&*self.disk, &path, &lines.damaged);
            if lines.torn || !lines.damaged.is_empty() {
                let name = name_in(&self.work, &path).unwrap_or_default();
                let whole = lines.good.iter();
                let whole = whole.flat_map(|(_, text)| record::line_of(self.seed, text));
                replace(&*self.disk, &self.work, &name, &whole.collect::<Vec<u8>>())?;
            }
        }
        Ok(count)
    }

    /// An entry of this share in one of its blocks.
    fn entry(&self, block: usize, text: &[u8]) -> Option<Entry> {
        let entry: Entry = serde_json::from_slice(text).ok()?;
        let is_here = entry.point() / self.points_in_block == block;
        (is_here && self.header.has(&entry)).then_some(entry)
    }

    fn path(&self, block: usize) -> PathBuf {
        self.folder.join(format!("{block:08}.jsonl"))
    }

    /// What earlier runs kept of a point. Points are best asked for in rising order.
    ///
    /// # Errors
    ///
    /// Where the journal cannot be read, or a whole line does not read as a trial.
    pub fn kept(&mut self, point: usize) -> Result<Kept, KeepError> {
        let block = point / self.points_in_block;
        if self.block.as_ref().is_none_or(|(kept, _)| *kept != block) {
            self.block = Some((block, self.read_block(block)?));
        }
        let points = self.block.as_mut().map(|(_, points)| points);
        Ok(points
            .and_then(|points| points.remove(&point))
            .unwrap_or_default())
    }

    /// Forgets what was read, so that [`Store::kept`] reads anew what was appended since.
    pub fn forget(&mut self) {
        self.block = None;
    }

    /// Appends a finished trial or a refused point.
    ///
    /// # Errors
    ///
    /// The failure of the write; a half-written line is cut off as far as the system lets it.
    pub fn append(&mut self, entry: &Entry) -> Result<(), KeepError> {
        let block = entry.point() / self.points_in_block;
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
        let is_new = disk.kind(path)? != Some(Kind::File);
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

    /// Rows of all points of a share in rising order, one block in memory at a time.
    pub fn in_order(
        &self,
        points: usize,
        shard: Shard,
    ) -> impl Iterator<Item = Result<(usize, Kept), KeepError>> + '_ {
        let mut block: Option<(usize, BTreeMap<usize, Kept>)> = None;
        (shard.number - 1..points)
            .step_by(shard.of)
            .map(move |point| {
                let number = point / self.points_in_block;
                if block.as_ref().is_none_or(|(read, _)| *read != number) {
                    block = Some((number, self.read_block(number)?));
                }
                let kept = block.as_mut().and_then(|(_, points)| points.remove(&point));
                Ok((point, kept.unwrap_or_default()))
            })
    }

    fn read_block(&self, block: usize) -> Result<BTreeMap<usize, Kept>, KeepError> {
        let path = self.path(block);
        let mut points: BTreeMap<usize, Kept> = BTreeMap::new();
        let read = || -> io::Result<Vec<u8>> {
            match self.disk.kind(&path)? {
                Some(Kind::File) => self.disk.read(&path),
                _ => Ok(Vec::new()),
            }
        };
        let bytes = read().map_err(KeepError::at(&path))?;
        let lines = record::lines(self.seed, &bytes, 1);
        // A last line without its end is being written.
        if let Some(number) = lines.damaged.first() {
            return Err(changed_outside(&path, *number));
        }
        for (number, text) in lines.good {
            let entry = self
                .entry(block, text)
                .ok_or_else(|| changed_outside(&path, number))?;
            add(points.entry(entry.point()).or_default(), entry);
        }
        Ok(points)
    }
}

/// The number of a block's file.
fn block_of(name: &OsStr) -> Option<usize> {
    let digits = name.to_str()?.strip_suffix(".jsonl")?;
    let number = digits.parse().ok()?;
    (format!("{number:08}") == digits).then_some(number)
}

/// Whether there are rows of the work whose records have this seed.
fn trusted(disk: &dyn Disk, rows: &Path, seed: u32) -> io::Result<bool> {
    if disk.kind(rows)? != Some(Kind::Folder) {
        return Ok(false);
    }
    for (name, kind) in disk.list(rows)? {
        if kind != Kind::File || block_of(&name).is_none() {
            continue;
        }
        let bytes = disk.read(&rows.join(name))?;
        if !record::lines(seed, &bytes, 1).good.is_empty() {
            return Ok(true);
        }
    }
    Ok(false)
}

/// A line that was right when the work began, or was written by it, and is not any more.
pub fn changed_outside(path: &Path, line: usize) -> KeepError {
    KeepError::Output {
        what: format!("cannot read {}, line {line}", path.display()),
        reason: "the line is damaged or no trial of this sweep; the file was changed from outside"
            .to_owned(),
    }
}

/// Adds an entry to what is kept of its point.
pub fn add(kept: &mut Kept, entry: Entry) {
    match entry {
        Entry::Trial { strategy, row, .. } => {
            kept.rows.insert((strategy, row.trial), *row);
        }
        Entry::Refused { refused, .. } => kept.refused = Some(refused),
    }
}

/// The entry of a finished trial.
#[must_use]
pub fn finished(task: Task, row: TrialRow) -> Entry {
    Entry::Trial {
        point: task.point,
        strategy: task.strategy,
        row: Box::new(row),
    }
}
