//! How far a share has come: finished, begun, or not there.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::Path;

use super::array::ArrayPlan;
use super::gather_error::GatherError;
use super::share::header as share_header;
use super::share_tally::ShareTally;
use crate::study::journal::{JournalEntry, KeptPoint};
use crate::study::store::{JOURNAL, ROWS, header, record, work_folder};
use crate::study::{Folders, Part};

/// How far a share has come.
#[derive(Debug, Clone, PartialEq)]
pub enum ShareState {
    /// Its result is there.
    Done(ShareTally),
    /// A process is at work on it; what it has kept so far.
    AtWork(ShareTally),
    /// Trials are kept that a further run of the share goes on from.
    Begun(ShareTally),
    /// Nothing is kept of it.
    Missing,
}

impl ArrayPlan {
    /// How far share `number` of the array in `folder` has come.
    ///
    /// # Errors
    ///
    /// [`GatherError`] where a finished share is damaged or belongs to something else.
    pub fn state(&self, folder: &Path, number: usize) -> Result<ShareState, GatherError> {
        if let Some((_, tally)) = self.finished(folder, number)? {
            return Ok(ShareState::Done(tally));
        }
        let share = Self::share_folder(folder, number);
        let is_busy = Folders::is_busy(&share);
        let work = work_folder(&share);
        let mut tally = ShareTally::new(self.setup.strategies.len());
        // What cannot be read is being written or moved at this moment, and not kept yet.
        let _ = for_each_kept(&work, &self.share(number), |entry| {
            tally.count_entry(&entry);
        });
        Ok(if is_busy {
            ShareState::AtWork(tally)
        } else if tally.all_trials() == 0 && tally.refused == 0 {
            ShareState::Missing
        } else {
            ShareState::Begun(tally)
        })
    }

    /// The seed of the rows of share `number` and its tally, if it is finished.
    ///
    /// # Errors
    ///
    /// As [`ArrayPlan::state`].
    pub(super) fn finished(
        &self,
        folder: &Path,
        number: usize,
    ) -> Result<Option<(u32, ShareTally)>, GatherError> {
        let share = Self::share_folder(folder, number);
        if !share.exists() {
            return Ok(None);
        }
        let found = share_header(&share)?;
        let differences = self.share(number).differences(&found.part);
        if !differences.is_empty() {
            return Err(GatherError::NotOfArray {
                folder: share,
                differences,
            });
        }
        let tally = found.tally.ok_or_else(|| GatherError::NoShare {
            folder: share,
            reason: "an older version wrote it".to_owned(),
            hint: "; compute it again",
        })?;
        Ok(Some((found.seed, tally)))
    }

    /// What is kept of the points of a share that is begun; of points whose trials are not all there
    /// too.
    pub(super) fn kept(&self, folder: &Path, number: usize) -> BTreeMap<usize, KeptPoint> {
        let mut points = BTreeMap::<usize, KeptPoint>::new();
        let work = work_folder(&Self::share_folder(folder, number));
        // What cannot be read is not kept.
        let _ = for_each_kept(&work, &self.share(number), |entry| {
            points.entry(entry.point()).or_default().add(entry, true);
        });
        points
    }
}

/// Hands on every whole row in a work folder that is of this part. Nothing is changed there: a run may
/// be writing at this moment.
fn for_each_kept(work: &Path, part: &Part, mut take: impl FnMut(JournalEntry)) -> io::Result<()> {
    let Some((begun, seed)) = header::read::<Part>(&fs::read(work.join(JOURNAL))?) else {
        return Ok(());
    };
    if !part.differences(&begun).is_empty() {
        return Ok(());
    }
    for file in fs::read_dir(work.join(ROWS))? {
        let bytes = fs::read(file?.path())?;
        for (_, text) in record::lines(seed, &bytes, 1).good {
            if let Ok(entry) = serde_json::from_slice::<JournalEntry>(text)
                && part.has(&entry)
            {
                take(entry);
            }
        }
    }
    Ok(())
}
