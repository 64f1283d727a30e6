//! Runs a batch on all cores and keeps what is finished.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};

use rayon::prelude::*;

use super::error::{KeepError, StudyError};
use super::journal::{Entry, Journal};
use super::plan::{Plan, StrategyLabel};
use super::progress::{Progress, note};
use super::row::reject_non_finite;
use super::store::{FileMark, Folders};
use crate::trial::result::{Pressed, TrialRecord, TrialRow};

/// How a batch is run; nothing here changes a result.
#[derive(Debug, Clone, Default)]
pub struct StudyOptions {
    /// Target folder.
    pub out: PathBuf,
    /// Threads; `None` for one per core.
    pub threads: Option<usize>,
    /// No progress.
    pub quiet: bool,
    /// Replace an existing result once the new one is complete, and an unfinished run of
    /// something else at once.
    pub overwrite: bool,
    /// Stop after this many newly computed trials and keep them for a later run.
    pub limit: Option<usize>,
}

/// What a batch leaves behind.
#[derive(Debug, Clone, PartialEq)]
pub struct StudyDone {
    /// Target folder if complete, else the work folder.
    pub folder: PathBuf,
    /// Whether every trial is done and the target in place.
    pub complete: bool,
    /// Trials kept from an earlier run.
    pub resumed: usize,
    /// Trials computed by this run.
    pub computed: usize,
    /// Finished trials: a list for each strategy, in order of trial.
    pub rows: Vec<Vec<TrialRow>>,
}

/// Writes what trials leave behind.
pub trait Keeper: Sync {
    /// Names in the folder, with slashes, of the files that [`Keeper::keep`] writes for a trial. A
    /// file that is damaged when the batch ends is made again.
    fn files(&self, strategy: &StrategyLabel, record: &TrialRecord) -> Vec<String> {
        let _ = (strategy, record);
        Vec::new()
    }

    /// Writes into `folder` what `record` holds beside its row, by [`super::store::create_file`].
    /// Called from several threads, at most once at a time for one trial; a second call for the
    /// same trial, after a run was killed, must leave the same files as the first.
    ///
    /// # Errors
    ///
    /// What could not be written.
    fn keep(
        &self,
        folder: &Path,
        strategy: &StrategyLabel,
        record: &TrialRecord,
    ) -> Result<(), KeepError>;

    /// Trials, by number of strategy and trial, of which a record is wanted beside those that the
    /// plan records, now that all rows are known; they are computed again and kept.
    fn wanted(&self, plan: &Plan, rows: &[Vec<TrialRow>]) -> Vec<(usize, u32)> {
        let _ = (plan, rows);
        Vec::new()
    }

    /// Writes into `folder` what needs all rows (a list for each strategy of `plan`).
    ///
    /// # Errors
    ///
    /// What could not be made or written.
    fn finish(&self, folder: &Path, plan: &Plan, rows: &[Vec<TrialRow>]) -> Result<(), KeepError>;

    /// Writes into `folder`, after [`Keeper::finish`], the map of what the trials pressed on: a list
    /// for each strategy of `plan`, in it one for each trial.
    ///
    /// # Errors
    ///
    /// What could not be made or written.
    fn finish_map(
        &self,
        folder: &Path,
        plan: &Plan,
        pressed: &[Vec<Vec<Pressed>>],
    ) -> Result<(), KeepError> {
        let _ = (folder, plan, pressed);
        Ok(())
    }
}

/// What the threads share.
struct Shared {
    journal: Journal,
    rows: Vec<Vec<Option<TrialRow>>>,
    pressed: Vec<Vec<Vec<Pressed>>>,
    /// Files of finished trials, with strategy and trial.
    files: Vec<(usize, u32, Vec<FileMark>)>,
    progress: Progress,
    kept: usize,
    failure: Option<KeepError>,
}

/// Computes the trials of `plan` by `compute(strategy, trial, recorded)` and keeps them by
/// `keeper`.
///
/// Work goes on in `<out>.partial` and is moved to `options.out` at the end. Where that work
/// folder holds a part of the same batch, only the rest is computed. Raising `stop` ends the
/// batch after the trials in flight.
///
/// # Errors
///
/// See [`StudyError`]; whatever is finished stays in the work folder.
pub fn run_batch(
    plan: &Plan,
    options: &StudyOptions,
    stop: &AtomicBool,
    compute: impl Fn(usize, u32, bool) -> TrialRecord + Sync,
    keeper: &dyn Keeper,
) -> Result<StudyDone, StudyError> {
    let pool = thread_pool(options.threads)?;
    let folders = Folders::prepare(&options.out, options.overwrite)?;
    let (journal, entries) = Journal::open(&folders, &plan.header())?;

    let mut rows = vec![vec![None; plan.trials as usize]; plan.strategies.len()];
    let mut pressed = vec![vec![Vec::new(); plan.trials as usize]; plan.strategies.len()];
    let mut files = Vec::new();
    for entry in entries {
        let trial = entry.row.trial as usize;
        if !entry.files.is_empty() {
            files.push((entry.strategy, entry.row.trial, entry.files));
        }
        rows[entry.strategy][trial] = Some(entry.row);
        pressed[entry.strategy][trial] = entry.pressed;
    }
    let mut pending: Vec<(usize, u32)> = Vec::new();
    for (strategy, of_strategy) in rows.iter().enumerate() {
        let open = (0..).zip(of_strategy).filter(|(_, row)| row.is_none());
        pending.extend(open.map(|(trial, _)| (strategy, trial)));
    }
    let resumed = plan.total() - pending.len();
    pending.truncate(options.limit.unwrap_or(usize::MAX));

    let shared = Mutex::new(Shared {
        journal,
        rows,
        pressed,
        files,
        progress: Progress::start(Some(plan.total()), resumed, options.quiet),
        kept: resumed,
        failure: None,
    });
    let halted = AtomicBool::new(false);
    let one_trial = |&(strategy, trial): &(usize, u32)| {
        if stop.load(Ordering::SeqCst) || halted.load(Ordering::SeqCst) {
            return;
        }
        let mut record = compute(strategy, trial, trial < plan.recorded);
        reject_non_finite(&mut record.row);
        let kept = keep(&folders, keeper, &plan.strategies[strategy], &record);
        let mut shared = shared.lock().unwrap_or_else(PoisonError::into_inner);
        if shared.failure.is_some() {
            return;
        }
        let kept = kept.and_then(|files| {
            let entry = Entry {
                strategy,
                row: record.row,
                pressed: record.pressed,
                files,
            };
            shared.journal.append(&entry)?;
            Ok(entry)
        });
        match kept {
            Ok(entry) => {
                shared.rows[strategy][trial as usize] = Some(entry.row);
                shared.pressed[strategy][trial as usize] = entry.pressed;
                if !entry.files.is_empty() {
                    shared.files.push((strategy, trial, entry.files));
                }
                shared.kept += 1;
                shared.progress.advance();
            }
            Err(error) => {
                shared.failure = Some(error);
                halted.store(true, Ordering::SeqCst);
            }
        }
    };
    pool.install(|| pending.par_iter().with_max_len(1).for_each(one_trial));

    let shared = shared.into_inner().unwrap_or_else(PoisonError::into_inner);
    shared.progress.finish();
    let record_again = |rows: &[Vec<TrialRow>], damaged: Vec<(usize, u32)>| {
        let mut wanted = keeper.wanted(plan, rows);
        wanted.extend(damaged);
        let record_one = |&(strategy, trial): &(usize, u32)| {
            let record = compute(strategy, trial, true);
            keep(&folders, keeper, &plan.strategies[strategy], &record).map(|_| ())
        };
        pool.install(|| wanted.par_iter().with_max_len(1).try_for_each(record_one))
    };
    finish(plan, &folders, shared, resumed, stop, keeper, &record_again)
}

/// Computes and keeps again what is wanted once all rows are known, and the trials given.
type RecordAgain<'a> = dyn Fn(&[Vec<TrialRow>], Vec<(usize, u32)>) -> Result<(), KeepError> + 'a;

/// Writes the files of a trial, listed as the program's own first, and returns what they are.
fn keep(
    folders: &Folders,
    keeper: &dyn Keeper,
    strategy: &StrategyLabel,
    record: &TrialRecord,
) -> Result<Vec<FileMark>, KeepError> {
    let names = keeper.files(strategy, record);
    if !names.is_empty() {
        folders.announce(&names)?;
    }
    keeper.keep(folders.partial(), strategy, record)?;
    let mark = |name: String| {
        let path = folders.partial().join(&name);
        let found = folders.disk().fingerprint(&path);
        found
            .map(|found| FileMark::new(name, found))
            .map_err(KeepError::at(&path))
    };
    names.into_iter().map(mark).collect()
}

/// Trials with a file that is not as it was written: torn by a power cut, or changed.
fn damaged(
    folders: &Folders,
    files: Vec<(usize, u32, Vec<FileMark>)>,
) -> Result<Vec<(usize, u32)>, KeepError> {
    let mut damaged = Vec::new();
    for (strategy, trial, marks) in files {
        let mut whole = true;
        for mark in &marks {
            let path = folders.partial().join(&mark.path);
            let holds = mark.holds(folders.disk(), folders.partial());
            whole &= holds.map_err(KeepError::at(&path))?;
        }
        if !whole {
            damaged.push((strategy, trial));
        }
    }
    if !damaged.is_empty() {
        note(&format!(
            "warning: files of {} finished trials in {} are damaged or gone; they are made again",
            damaged.len(),
            folders.partial().display()
        ));
    }
    Ok(damaged)
}

fn finish(
    plan: &Plan,
    folders: &Folders,
    shared: Shared,
    resumed: usize,
    stop: &AtomicBool,
    keeper: &dyn Keeper,
    record_again: &RecordAgain<'_>,
) -> Result<StudyDone, StudyError> {
    let Shared {
        journal,
        rows,
        pressed,
        files,
        kept,
        failure,
        ..
    } = shared;
    let total = plan.total();
    let partial = folders.partial();
    let as_study_error = |e: KeepError| e.into_study_error(partial, kept, total);
    if let Some(error) = failure {
        return Err(as_study_error(error));
    }
    if kept < total && stop.load(Ordering::SeqCst) {
        return Err(StudyError::Interrupted {
            partial: partial.to_owned(),
            kept,
            total,
        });
    }
    let rows: Vec<Vec<TrialRow>> = rows
        .into_iter()
        .map(|of_strategy| of_strategy.into_iter().flatten().collect())
        .collect();
    let complete = kept == total;
    if complete {
        damaged(folders, files)
            .and_then(|damaged| record_again(&rows, damaged))
            .and_then(|()| keeper.finish(partial, plan, &rows))
            .and_then(|()| keeper.finish_map(partial, plan, &pressed))
            .map_err(as_study_error)?;
        drop(journal);
        folders.complete().map_err(as_study_error)?;
    }
    Ok(StudyDone {
        folder: if complete {
            folders.target().to_owned()
        } else {
            partial.to_owned()
        },
        complete,
        resumed,
        computed: kept - resumed,
        rows,
    })
}

/// A pool of so many threads; `None`: one a core.
pub(super) fn thread_pool(threads: Option<usize>) -> Result<rayon::ThreadPool, StudyError> {
    rayon::ThreadPoolBuilder::new()
        .num_threads(threads.unwrap_or(0))
        .build()
        .map_err(|e| StudyError::Threads {
            threads: threads.unwrap_or(0),
            reason: e.to_string(),
        })
}
