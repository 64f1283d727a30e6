//! The journal of a sweep: finished trials, appended as they finish, in files of a few thousand
//! rows, so that neither a run nor the making of its tables holds more than one file in memory.

use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::plan::{Shard, SweepPlan};
use super::schedule::Task;
use crate::study::folder::Folders;
use crate::study::missing;
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

/// The journal in the work folder; holds a lock on it until dropped.
#[derive(Debug)]
pub struct Store {
    folder: PathBuf,
    points_in_block: usize,
    /// The lock.
    _lock: File,
    /// The file appended to last.
    open: Option<(usize, File, u64)>,
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
    /// [`StudyError::Busy`], [`StudyError::OtherRun`], [`StudyError::DamagedJournal`], or the
    /// failure of a file operation.
    pub fn open(folders: &Folders, header: &SweepHeader) -> Result<Self, StudyError> {
        let partial = folders.partial();
        let path = folders.journal();
        let failed = |source| KeepError::at(&path)(source).into_study_error(partial, 0, 0);
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(&path)
            .map_err(failed)?;
        if matches!(file.try_lock(), Err(TryLockError::WouldBlock)) {
            return Err(StudyError::Busy {
                path: partial.to_owned(),
            });
        }
        let mut text = String::new();
        file.read_to_string(&mut text).map_err(failed)?;
        if text.ends_with('\n') {
            let kept: SweepHeader =
                serde_json::from_str(&text).map_err(|error| StudyError::DamagedJournal {
                    path: path.clone(),
                    line: 1,
                    reason: format!("not the header of a sweep: {error}"),
                })?;
            let mut differences = kept.plan.differences(&header.plan);
            if differences.is_empty() && kept.shard != header.shard {
                differences = format!(
                    "shard: {}/{} and {}/{}",
                    kept.shard.number, kept.shard.of, header.shard.number, header.shard.of
                );
            }
            if !differences.is_empty() {
                return Err(StudyError::OtherRun {
                    path: partial.to_owned(),
                    differences,
                });
            }
        } else {
            let line = serde_json::to_string(header).map_err(|e| failed(e.into()))? + "\n";
            file.set_len(0).map_err(failed)?;
            std::io::Seek::rewind(&mut file).map_err(failed)?;
            file.write_all(line.as_bytes()).map_err(failed)?;
        }
        let folder = folders.rows();
        fs::create_dir_all(&folder).map_err(failed)?;
        let mut store = Self {
            folder,
            points_in_block: header.plan.points_in_block(),
            _lock: file,
            open: None,
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

    /// Cuts half-written last lines off and counts the whole ones.
    fn mend(&self) -> std::io::Result<usize> {
        let mut count = 0;
        let mut bytes = vec![0; 1 << 16];
        for file in fs::read_dir(&self.folder)? {
            let path = file?.path();
            let mut file = OpenOptions::new().read(true).write(true).open(&path)?;
            let (mut read_to, mut whole_to) = (0_u64, 0_u64);
            loop {
                let read = file.read(&mut bytes)?;
                if read == 0 {
                    break;
                }
                for (index, _) in bytes[..read]
                    .iter()
                    .enumerate()
                    .filter(|(_, b)| **b == b'\n')
                {
                    count += 1;
                    whole_to = read_to + index as u64 + 1;
                }
                read_to += read as u64;
            }
            if whole_to < read_to {
                file.set_len(whole_to)?;
            }
        }
        Ok(count)
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
            self.block = Some((block, read_block(&self.path(block))?));
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
        let path = self.path(block);
        let failed = KeepError::at(&path);
        if self.open.as_ref().is_none_or(|(open, ..)| *open != block) {
            let opened = OpenOptions::new().append(true).create(true).open(&path);
            let with_length = opened.and_then(|file| Ok((file.metadata()?.len(), file)));
            match with_length {
                Ok((length, file)) => self.open = Some((block, file, length)),
                Err(error) => return Err(failed(error)),
            }
        }
        let Some((_, file, length)) = &mut self.open else {
            return Ok(());
        };
        let written = line(entry).and_then(|line| file.write_all(&line).map(|()| line.len()));
        match written {
            Ok(bytes) => {
                *length += bytes as u64;
                Ok(())
            }
            Err(error) => {
                // The first error is the one to report; the reader copes with a torn last line.
                let _ = file.set_len(*length);
                Err(failed(error))
            }
        }
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
                    block = Some((number, read_block(&self.path(number))?));
                }
                let kept = block.as_mut().and_then(|(_, points)| points.remove(&point));
                Ok((point, kept.unwrap_or_default()))
            })
    }
}

fn line(entry: &Entry) -> std::io::Result<Vec<u8>> {
    let mut line = serde_json::to_vec(entry)?;
    line.push(b'\n');
    Ok(line)
}

fn read_block(path: &Path) -> Result<BTreeMap<usize, Kept>, KeepError> {
    let mut points: BTreeMap<usize, Kept> = BTreeMap::new();
    let file = match File::open(path) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(points),
        opened => opened.map_err(KeepError::at(path))?,
    };
    for entry in entries(file, path.to_owned()) {
        add(
            points
                .entry(entry.as_ref().map_or(0, Entry::point))
                .or_default(),
            entry?,
        );
    }
    Ok(points)
}

/// The entries of a file of rows, one line at a time.
pub fn entries(file: File, path: PathBuf) -> impl Iterator<Item = Result<Entry, KeepError>> {
    BufReader::new(file)
        .lines()
        .enumerate()
        .map(move |(index, line)| {
            let line = line.map_err(KeepError::at(&path))?;
            serde_json::from_str(&line).map_err(|error| KeepError::Output {
                what: format!("cannot read {}, line {}", path.display(), index + 1),
                reason: format!("not a trial: {error}; the file was changed from outside"),
            })
        })
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
