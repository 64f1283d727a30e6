//! Runs a batch on all cores and keeps what is finished.

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};

use rayon::prelude::*;

use super::error::{KeepError, StudyError};
use super::journal::{Entry, Journal};
use super::plan::Plan;
use super::progress::{Progress, note};
use super::row::reject_non_finite;
use super::sink::{Sinks, Study, Trial, make};
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

/// What the threads share.
struct Shared<'a> {
    sinks: Sinks<'a>,
    journal: Journal,
    rows: Vec<Vec<Option<TrialRow>>>,
    pressed: Vec<Vec<Vec<Pressed>>>,
    /// Trials of earlier runs, which no sink has seen yet: strategy, trial, files.
    earlier: Vec<(usize, u32, Vec<FileMark>)>,
    progress: Progress,
    kept: usize,
    failure: Option<KeepError>,
}

/// Computes the trials of `plan` by `compute(strategy, trial, recorded)`, keeps them in a journal and
/// hands them on to `sinks`.
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
    sinks: Sinks<'_>,
) -> Result<StudyDone, StudyError> {
    let pool = thread_pool(options.threads)?;
    let folders = Folders::prepare(&options.out, options.overwrite)?;
    let (journal, entries) = Journal::open(&folders, &plan.header())?;

    let mut rows = vec![vec![None; plan.trials as usize]; plan.strategies.len()];
    let mut pressed = vec![vec![Vec::new(); plan.trials as usize]; plan.strategies.len()];
    let mut earlier = Vec::new();
    for entry in entries {
        let trial = entry.row.trial as usize;
        earlier.push((entry.strategy, entry.row.trial, entry.files));
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
        sinks,
        journal,
        rows,
        pressed,
        earlier,
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
        let mut shared = shared.lock().unwrap_or_else(PoisonError::into_inner);
        if shared.failure.is_some() {
            return;
        }
        match shared.keep(&folders, plan, strategy, record) {
            Ok(()) => shared.progress.advance(),
            Err(error) => {
                shared.failure = Some(error);
                halted.store(true, Ordering::SeqCst);
            }
        }
    };
    pool.install(|| pending.par_iter().with_max_len(1).for_each(one_trial));

    let mut shared = shared.into_inner().unwrap_or_else(PoisonError::into_inner);
    shared.progress.finish();
    let (kept, total) = (shared.kept, plan.total());
    let partial = folders.partial().to_owned();
    let as_study_error = |e: KeepError| e.into_study_error(&partial, kept, total);
    if let Some(error) = shared.failure.take() {
        return Err(as_study_error(error));
    }
    if kept < total && stop.load(Ordering::SeqCst) {
        return Err(StudyError::Interrupted {
            partial,
            kept,
            total,
        });
    }
    let complete = kept == total;
    let rows: Vec<Vec<TrialRow>> = std::mem::take(&mut shared.rows)
        .into_iter()
        .map(|of_strategy| of_strategy.into_iter().flatten().collect())
        .collect();
    if complete {
        let finish = || shared.finish(&folders, plan, &rows, &compute);
        pool.install(finish).map_err(as_study_error)?;
        folders.complete().map_err(as_study_error)?;
    }
    Ok(StudyDone {
        folder: if complete {
            folders.target().to_owned()
        } else {
            partial
        },
        complete,
        resumed,
        computed: kept - resumed,
        rows,
    })
}

impl Shared<'_> {
    /// Writes a trial's files, keeps it in the journal and shows it to the sinks.
    fn keep(
        &mut self,
        folders: &Folders,
        plan: &Plan,
        strategy: usize,
        record: TrialRecord,
    ) -> Result<(), KeepError> {
        let trial = Trial {
            strategy,
            label: &plan.strategies[strategy],
            record: &record,
        };
        let files = write(folders, &self.sinks, trial)?;
        for sink in &mut self.sinks {
            sink.trial(trial)?;
        }
        let entry = Entry {
            strategy,
            row: record.row,
            pressed: record.pressed,
            files,
        };
        self.journal.append(&entry)?;
        let number = entry.row.trial as usize;
        self.rows[strategy][number] = Some(entry.row);
        self.pressed[strategy][number] = entry.pressed;
        self.kept += 1;
        Ok(())
    }

    /// Shows the trials of earlier runs to the sinks, records again what is damaged or wanted, and
    /// lets the sinks finish.
    fn finish(
        self,
        folders: &Folders,
        plan: &Plan,
        rows: &[Vec<TrialRow>],
        compute: &(dyn Fn(usize, u32, bool) -> TrialRecord + Sync),
    ) -> Result<(), KeepError> {
        let folder = folders.partial();
        let mut sinks = self.sinks;
        let mut again = damaged(folders, &self.earlier)?;
        for (strategy, trial, files) in self.earlier {
            if again.contains(&(strategy, trial)) {
                continue;
            }
            let mut record = TrialRecord {
                row: rows[strategy][trial as usize].clone(),
                pressed: self.pressed[strategy][trial as usize].clone(),
                ..TrialRecord::default()
            };
            let label = &plan.strategies[strategy];
            for sink in sinks.iter().filter(|_| !files.is_empty()) {
                sink.recall(folder, label, &mut record)?;
            }
            let record = &record;
            show(&mut sinks, plan, strategy, record)?;
        }
        for sink in &sinks {
            again.extend(sink.wanted(plan, rows));
        }
        again.sort_unstable();
        again.dedup();
        let sinks = Mutex::new(sinks);
        again
            .par_iter()
            .with_max_len(1)
            .try_for_each(|&(strategy, trial)| {
                let mut record = compute(strategy, trial, true);
                reject_non_finite(&mut record.row);
                let mut sinks = sinks.lock().unwrap_or_else(PoisonError::into_inner);
                let label = &plan.strategies[strategy];
                let record = &record;
                let trial = Trial {
                    strategy,
                    label,
                    record,
                };
                write(folders, &sinks, trial)?;
                show(&mut sinks, plan, strategy, record)
            })?;
        let mut sinks = sinks.into_inner().unwrap_or_else(PoisonError::into_inner);
        let study = Study {
            folder,
            plan,
            rows,
            pressed: &self.pressed,
        };
        let mut makings = Vec::new();
        for sink in &mut sinks {
            makings.extend(sink.finish(&study)?);
        }
        make(folder, makings)
    }
}

/// Shows a trial to every sink.
fn show(
    sinks: &mut Sinks<'_>,
    plan: &Plan,
    strategy: usize,
    record: &TrialRecord,
) -> Result<(), KeepError> {
    let label = &plan.strategies[strategy];
    sinks.iter_mut().try_for_each(|sink| {
        sink.trial(Trial {
            strategy,
            label,
            record,
        })
    })
}

/// Writes the files of a trial, listed as the program's own first, and returns what they are.
fn write(
    folders: &Folders,
    sinks: &Sinks<'_>,
    trial: Trial<'_>,
) -> Result<Vec<FileMark>, KeepError> {
    let names: Vec<String> = sinks.iter().flat_map(|sink| sink.files(trial)).collect();
    if !names.is_empty() {
        folders.announce(&names)?;
    }
    for sink in sinks {
        sink.write(folders.partial(), trial)?;
    }
    let mark = |name: String| {
        let path = folders.partial().join(&name);
        let found = folders.disk().fingerprint(&path);
        found
            .map(|found| FileMark::new(name, found))
            .map_err(KeepError::at(&path))
    };
    names.into_iter().map(mark).collect()
}

/// Trials of earlier runs with a file that is not as it was written: torn by a power cut, or changed.
fn damaged(
    folders: &Folders,
    earlier: &[(usize, u32, Vec<FileMark>)],
) -> Result<Vec<(usize, u32)>, KeepError> {
    let mut damaged = Vec::new();
    for &(strategy, trial, ref marks) in earlier {
        let mut whole = true;
        for mark in marks {
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
