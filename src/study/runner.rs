//! Runs a study on all cores and keeps every trial as it finishes.

use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, OnceLock, PoisonError};

use super::ending::HandOver;
use super::error::{KeepError, StudyError};
use super::journal::{Journal, JournalEntry};
use super::progress::Progress;
use super::row::reject_non_finite;
use super::schedule::{InTurn, Next, Schedule, Task};
use super::setup::{Part, StudySetup};
use super::sink::{Handed, Sinks, Trial};
use super::store::{FileMark, Folders};
use super::sweep::Race;
use crate::trial::result::{Outcome, TrialRecord};

/// How a study is run; nothing here changes a result.
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

/// What a run leaves behind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StudyDone {
    /// Target folder if complete, else the work folder.
    pub folder: PathBuf,
    /// Whether every trial is done and the target in place; false where a limit ended the run.
    pub complete: bool,
    /// Trials kept from earlier runs.
    pub resumed: usize,
    /// Trials computed by this run.
    pub computed: usize,
    /// What the sinks say, once all is complete.
    pub handed: Handed,
}

/// Runs one trial of a point that is ready, with its record where the second argument says so.
pub type RunTrial<'p> = Box<dyn Fn(Task, bool) -> TrialRecord + Send + Sync + 'p>;

/// Makes a point ready by its number, or says why it cannot be built.
pub type Prepare<'p> = dyn Fn(usize) -> Result<RunTrial<'p>, String> + Sync + 'p;

/// Cell of a point, filled once with what `prepare` made of it or why it cannot be built.
type PointCell<'p> = Arc<OnceLock<Result<RunTrial<'p>, String>>>;

/// What the threads share.
struct Shared<'s, 'p> {
    sinks: Sinks<'s>,
    journal: Journal,
    schedule: Box<dyn Schedule>,
    progress: Progress,
    /// Cells of the points opened last, by number.
    cells: VecDeque<(usize, PointCell<'p>)>,
    /// Trials of points that other threads make ready, put off until they are.
    put_off: VecDeque<(Task, PointCell<'p>)>,
    computed: usize,
    limit: usize,
    /// Trials that may still be begun under the limit.
    begun: usize,
    failure: Option<KeepError>,
}

/// Takes the output folder of a part of a study before any of its work: refuses what [`run_study`] would refuse
/// later, and lets others keep in the work folder what they need. Give it back before [`run_study`].
///
/// # Errors
///
/// Those of [`run_study`] before its first trial.
pub fn reserve(part: &Part, options: &StudyOptions) -> Result<Folders, StudyError> {
    let folders = Folders::prepare(&options.out, options.overwrite)?;
    Journal::open(&folders, part)?;
    Ok(folders)
}

/// Computes the trials of a part of a study: `prepare(point)` makes a point ready, once for several
/// trials, and returns what runs one trial of it. Each is kept in a journal and handed on to `sinks`.
///
/// Work goes on in `<out>.partial` and is moved to `options.out` at the end. Where that work
/// folder holds trials of the same part, only the rest is computed. Raising `stop` ends the run
/// after the trials in flight.
///
/// # Errors
///
/// See [`StudyError`]; whatever is finished stays in the work folder.
pub fn run_study(
    part: &Part,
    options: &StudyOptions,
    stop: &AtomicBool,
    prepare: &Prepare<'_>,
    sinks: Sinks<'_>,
) -> Result<StudyDone, StudyError> {
    let pool = thread_pool(options.threads)?;
    let folders = Folders::prepare(&options.out, options.overwrite)?;
    let journal = Journal::open(&folders, part)?;
    let resumed = journal.kept_trials();
    let schedule: Box<dyn Schedule> = match &part.setup.search {
        Some(search) => Box::new(Race::new(&part.setup, search)),
        None => Box::new(InTurn::new(part)),
    };
    let total = part.total();
    let threads = pool.current_num_threads();
    let runner = Runner {
        folders: &folders,
        setup: &part.setup,
        shared: Mutex::new(Shared {
            sinks,
            journal,
            schedule,
            progress: Progress::start(total, resumed, options.quiet),
            cells: VecDeque::new(),
            put_off: VecDeque::new(),
            computed: 0,
            limit: options.limit.unwrap_or(usize::MAX),
            begun: 0,
            failure: None,
        }),
        changed: Condvar::new(),
        stop,
        most_cells: threads + 2,
        prepare,
    };
    pool.scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|_| runner.work());
        }
    });
    let shared = runner.shared.into_inner();
    let shared = shared.unwrap_or_else(PoisonError::into_inner);
    shared.progress.finish();
    let computed = shared.computed;
    let kept = resumed + computed;
    let partial = folders.partial().to_owned();
    let failed = |total: usize| {
        let partial = partial.clone();
        move |error: KeepError| error.into_study_error(&partial, kept, total)
    };
    let parts = shared.into_parts();
    let (next, journal, sinks) = parts.map_err(failed(total.unwrap_or(kept)))?;
    let complete = next == Next::Done;
    if !complete && stop.load(Ordering::SeqCst) {
        return Err(StudyError::Interrupted {
            partial,
            kept,
            total: total.unwrap_or(0),
        });
    }
    let (mut folder, mut handed) = (partial.clone(), Handed::default());
    if complete {
        let hand_over = HandOver {
            folders: &folders,
            setup: &part.setup,
            prepare,
        };
        let ended = pool.install(move || hand_over.hand_on(&journal, sinks));
        handed = ended.map_err(failed(kept))?;
        folders.complete().map_err(failed(kept))?;
        folders.target().clone_into(&mut folder);
    }
    Ok(StudyDone {
        folder,
        complete,
        resumed,
        computed,
        handed,
    })
}

/// A pool of so many threads; `None`: one a core.
fn thread_pool(threads: Option<usize>) -> Result<rayon::ThreadPool, StudyError> {
    let threads = threads.unwrap_or(0);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
    pool.map_err(|e| StudyError::Threads {
        threads,
        reason: e.to_string(),
    })
}

impl<'s> Shared<'s, '_> {
    /// Brings all that is finished to the disk once all threads are done, and says whether more is
    /// to do.
    fn into_parts(mut self) -> Result<(Next, Journal, Sinks<'s>), KeepError> {
        if let Some(error) = self.failure.take() {
            return Err(error);
        }
        self.journal.sync()?;
        let next = self.schedule.next(&mut self.journal)?;
        self.journal.forget();
        Ok((next, self.journal, self.sinks))
    }

    /// Writes a trial's files, shows it to the sinks and keeps it in the journal.
    fn keep(
        &mut self,
        folders: &Folders,
        setup: &StudySetup,
        task: Task,
        record: TrialRecord,
    ) -> Result<(), KeepError> {
        let trial = Trial::new(setup, task.strategy, &record);
        let files = write(folders, &self.sinks, trial)?;
        for sink in &mut self.sinks {
            sink.trial(trial)?;
        }
        let success = record.row.outcome == Outcome::Reached;
        let entry = JournalEntry::finished(task, record, files);
        self.journal.append(&entry)?;
        self.computed += 1;
        self.schedule.record(task, success);
        self.progress.advance();
        Ok(())
    }

    /// Keeps a point that cannot be built as such, once.
    fn refuse(&mut self, point: usize, reason: &str) -> Result<(), KeepError> {
        if self.schedule.is_refused(point) {
            return Ok(());
        }
        self.journal.append(&JournalEntry::Refused {
            point,
            refused: reason.to_owned(),
        })?;
        self.schedule.refuse(point);
        Ok(())
    }
}

/// Writes the files of a trial, listed as the program's own first, and returns what they are.
pub fn write(
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

struct Runner<'s, 'k, 'p> {
    folders: &'s Folders,
    setup: &'s StudySetup,
    shared: Mutex<Shared<'k, 'p>>,
    changed: Condvar,
    stop: &'s AtomicBool,
    most_cells: usize,
    prepare: &'s Prepare<'p>,
}

impl<'k, 'p> Runner<'_, 'k, 'p> {
    fn lock(&self) -> MutexGuard<'_, Shared<'k, 'p>> {
        self.shared.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// One thread: takes trials until there are none.
    fn work(&self) {
        while let Some((task, cell)) = self.take() {
            match cell.get_or_init(|| (self.prepare)(task.point)) {
                Ok(run_trial) => {
                    let recorded = task.trial < self.setup.recorded;
                    let mut record = run_trial(task, recorded);
                    reject_non_finite(&mut record);
                    self.update(|shared| shared.keep(self.folders, self.setup, task, record));
                }
                Err(reason) => {
                    self.lock().schedule.give_back();
                    self.update(|shared| shared.refuse(task.point, reason));
                }
            }
        }
    }

    /// Changes what the threads share by what one has found, unless something has failed before.
    fn update(&self, change: impl FnOnce(&mut Shared<'k, 'p>) -> Result<(), KeepError>) {
        let mut shared = self.lock();
        if shared.failure.is_none() {
            shared.failure = change(&mut shared).err();
        }
        self.changed.notify_all();
    }

    /// The next trial: of a point that is ready, or one that this thread makes ready; where there
    /// is no other, of a point that another thread is about to have ready.
    fn take(&self) -> Option<(Task, PointCell<'p>)> {
        let mut shared = self.lock();
        loop {
            let over = shared.begun >= shared.limit || shared.failure.is_some();
            if over || self.stop.load(Ordering::SeqCst) {
                return None;
            }
            let Shared {
                schedule,
                journal,
                put_off,
                ..
            } = &mut *shared;
            if let Some(at) = put_off.iter().position(|(_, cell)| cell.get().is_some()) {
                shared.begun += 1;
                return shared.put_off.remove(at);
            }
            match schedule.next(journal) {
                Ok(Next::Do(task)) => {
                    let (cell, is_mine) = self.cell(&mut shared, task.point);
                    if is_mine || cell.get().is_some() {
                        shared.begun += 1;
                        return Some((task, cell));
                    }
                    shared.put_off.push_back((task, cell));
                }
                Ok(Next::Wait | Next::Done) if !put_off.is_empty() => {
                    shared.begun += 1;
                    return shared.put_off.pop_front();
                }
                Ok(Next::Done) => return None,
                Ok(Next::Wait) => {
                    shared = self
                        .changed
                        .wait(shared)
                        .unwrap_or_else(PoisonError::into_inner);
                }
                Err(error) => {
                    shared.failure = Some(error);
                    self.changed.notify_all();
                    return None;
                }
            }
        }
    }

    /// The cell of a point, and whether it is new, to be filled by this thread; the oldest gives
    /// way.
    fn cell(&self, shared: &mut Shared<'_, 'p>, point: usize) -> (PointCell<'p>, bool) {
        if let Some((_, cell)) = shared.cells.iter().find(|(of, _)| *of == point) {
            return (Arc::clone(cell), false);
        }
        if shared.cells.len() >= self.most_cells {
            shared.cells.pop_front();
        }
        let cell = PointCell::default();
        shared.cells.push_back((point, Arc::clone(&cell)));
        (cell, true)
    }
}
