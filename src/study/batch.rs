//! Runs a batch on all cores and keeps what is finished.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};

use rayon::prelude::*;

use super::error::{KeepError, StudyError};
use super::folder::Folders;
use super::journal::{Entry, Journal};
use super::plan::{Plan, StrategyLabel};
use super::progress::Progress;
use super::row::reject_non_finite;
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
    /// Writes into `folder` what `record` holds beside its row. Called from several threads, at
    /// most once at a time for one trial; a second call for the same trial, after a run was
    /// killed, must leave the same files as the first.
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
    let (journal, entries) = open_journal(&folders, plan, options.overwrite)?;

    let mut rows = vec![vec![None; plan.trials as usize]; plan.strategies.len()];
    let mut pressed = vec![vec![Vec::new(); plan.trials as usize]; plan.strategies.len()];
    for entry in entries {
        let trial = entry.row.trial as usize;
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
        let kept = keeper.keep(folders.partial(), &plan.strategies[strategy], &record);
        let mut shared = shared.lock().unwrap_or_else(PoisonError::into_inner);
        if shared.failure.is_some() {
            return;
        }
        let entry = Entry {
            strategy,
            row: record.row,
            pressed: record.pressed,
        };
        match kept.and_then(|()| shared.journal.append(&entry)) {
            Ok(()) => {
                shared.rows[strategy][trial as usize] = Some(entry.row);
                shared.pressed[strategy][trial as usize] = entry.pressed;
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
    let record_again = |rows: &[Vec<TrialRow>]| {
        let wanted = keeper.wanted(plan, rows);
        let record_one = |&(strategy, trial): &(usize, u32)| {
            let record = compute(strategy, trial, true);
            keeper.keep(folders.partial(), &plan.strategies[strategy], &record)
        };
        pool.install(|| wanted.par_iter().with_max_len(1).try_for_each(record_one))
    };
    finish(plan, &folders, shared, resumed, stop, keeper, &record_again)
}

/// Computes and keeps again what is wanted once all rows are known.
type RecordAgain<'a> = dyn Fn(&[Vec<TrialRow>]) -> Result<(), KeepError> + 'a;

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
        record_again(&rows)
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

/// Opens the journal; with `overwrite` a journal of something else gives way to a new one.
fn open_journal(
    folders: &Folders,
    plan: &Plan,
    overwrite: bool,
) -> Result<(Journal, Vec<Entry>), StudyError> {
    let header = plan.header();
    match Journal::open(&folders.journal(), &header) {
        Err(StudyError::OtherRun { .. } | StudyError::DamagedJournal { .. }) if overwrite => {
            folders.start_afresh()?;
            Journal::open(&folders.journal(), &header)
        }
        opened => opened,
    }
}
