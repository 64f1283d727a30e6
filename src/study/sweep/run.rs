//! Runs a sweep on all cores and keeps every trial as it finishes.

use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, OnceLock, PoisonError};

use super::plan::{Shard, SweepPlan};
use super::race::Race;
use super::schedule::{InTurn, Next, Schedule, Task};
use super::store::{Entry, Store, SweepHeader, finished};
use crate::study::batch::{StudyOptions, thread_pool};
use crate::study::progress::Progress;
use crate::study::row::reject_non_finite;
use crate::study::store::Folders;
use crate::study::{KeepError, StudyError};
use crate::trial::result::{Outcome, TrialRow};

/// A finished sweep whose files are still to be written.
#[derive(Debug)]
pub struct SweepRun {
    /// Target and work folder.
    pub folders: Folders,
    /// The rows.
    pub store: Store,
    /// Trials kept from earlier runs.
    pub resumed: usize,
    /// Trials computed by this run.
    pub computed: usize,
    /// Whether every trial is done; false where a limit ended the run.
    pub complete: bool,
}

/// A point made ready, or why it cannot be.
type Ready<P> = Arc<OnceLock<Result<P, String>>>;

/// What the threads share.
struct Shared<P> {
    store: Store,
    schedule: Box<dyn Schedule>,
    progress: Progress,
    ready: VecDeque<(usize, Ready<P>)>,
    /// Trials of points that other threads make ready, put off until they are.
    put_off: VecDeque<(Task, Ready<P>)>,
    computed: usize,
    limit: usize,
    /// Trials that may still be begun under the limit.
    begun: usize,
    failure: Option<KeepError>,
}

/// Computes the trials of a share of `plan`: `prepare(point)` makes a point ready, once for
/// several trials, and `compute` runs one trial of it. Rows are kept as they finish; raising
/// `stop` ends the run after the trials in flight.
///
/// # Errors
///
/// See [`StudyError`]; whatever is finished stays in the work folder.
pub fn run_sweep<P: Send + Sync>(
    plan: &SweepPlan,
    shard: Shard,
    options: &StudyOptions,
    stop: &AtomicBool,
    prepare: impl Fn(usize) -> Result<P, String> + Sync,
    compute: impl Fn(&P, Task) -> TrialRow + Sync,
) -> Result<SweepRun, StudyError> {
    let pool = thread_pool(options.threads)?;
    let folders = Folders::prepare(&options.out, options.overwrite)?;
    let header = SweepHeader {
        plan: plan.clone(),
        shard,
    };
    let store = Store::open(&folders, &header)?;
    let resumed = store.kept_trials();
    let schedule: Box<dyn Schedule> = match &plan.search {
        Some(search) => Box::new(Race::new(plan, search)),
        None => Box::new(InTurn::new(plan, shard)),
    };
    let total = plan.total(shard);
    let threads = pool.current_num_threads();
    let shared = Mutex::new(Shared {
        store,
        schedule,
        progress: Progress::start(total, resumed, options.quiet),
        ready: VecDeque::new(),
        put_off: VecDeque::new(),
        computed: 0,
        limit: options.limit.unwrap_or(usize::MAX),
        begun: 0,
        failure: None,
    });
    let runner = Runner {
        shared,
        changed: Condvar::new(),
        stop,
        most_ready: threads + 2,
        prepare,
        compute,
    };
    pool.scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|_| runner.work());
        }
    });
    let shared = runner
        .shared
        .into_inner()
        .unwrap_or_else(PoisonError::into_inner);
    shared.progress.finish();
    let kept = resumed + shared.computed;
    let shown_total = total.unwrap_or(kept);
    if let Some(error) = shared.failure {
        return Err(error.into_study_error(folders.partial(), kept, shown_total));
    }
    let mut shared_store = shared.store;
    shared_store
        .sync()
        .map_err(|error| error.into_study_error(folders.partial(), kept, shown_total))?;
    let mut schedule = shared.schedule;
    let left = schedule
        .next(&mut shared_store)
        .map_err(|error| error.into_study_error(folders.partial(), kept, shown_total))?;
    shared_store.forget();
    let complete = left == Next::Done;
    if !complete && stop.load(Ordering::SeqCst) {
        return Err(StudyError::Interrupted {
            partial: folders.partial().to_owned(),
            kept,
            total: total.unwrap_or(0),
        });
    }
    Ok(SweepRun {
        folders,
        store: shared_store,
        resumed,
        computed: shared.computed,
        complete,
    })
}

struct Runner<'s, P, F, G> {
    shared: Mutex<Shared<P>>,
    changed: Condvar,
    stop: &'s AtomicBool,
    most_ready: usize,
    prepare: F,
    compute: G,
}

impl<P, F, G> Runner<'_, P, F, G>
where
    P: Send + Sync,
    F: Fn(usize) -> Result<P, String> + Sync,
    G: Fn(&P, Task) -> TrialRow + Sync,
{
    fn lock(&self) -> MutexGuard<'_, Shared<P>> {
        self.shared.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// One thread: takes trials until there are none.
    fn work(&self) {
        while let Some((task, ready)) = self.take() {
            match ready.get_or_init(|| (self.prepare)(task.point)) {
                Ok(point) => {
                    let mut row = (self.compute)(point, task);
                    reject_non_finite(&mut row);
                    self.keep(task, row);
                }
                Err(reason) => self.refuse(task.point, reason),
            }
        }
    }

    /// The next trial: of a point that is ready, or one that this thread makes ready; where there
    /// is no other, of a point that another thread is about to have ready.
    fn take(&self) -> Option<(Task, Ready<P>)> {
        let mut shared = self.lock();
        loop {
            let over = shared.begun >= shared.limit || shared.failure.is_some();
            if over || self.stop.load(Ordering::SeqCst) {
                return None;
            }
            let Shared {
                schedule,
                store,
                put_off,
                ..
            } = &mut *shared;
            if let Some(at) = put_off.iter().position(|(_, ready)| ready.get().is_some()) {
                shared.begun += 1;
                return shared.put_off.remove(at);
            }
            match schedule.next(store) {
                Ok(Next::Do(task)) => {
                    let (ready, is_mine) = self.ready(&mut shared, task.point);
                    if is_mine || ready.get().is_some() {
                        shared.begun += 1;
                        return Some((task, ready));
                    }
                    shared.put_off.push_back((task, ready));
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
    fn ready(&self, shared: &mut Shared<P>, point: usize) -> (Ready<P>, bool) {
        if let Some((_, ready)) = shared.ready.iter().find(|(of, _)| *of == point) {
            return (Arc::clone(ready), false);
        }
        if shared.ready.len() >= self.most_ready {
            shared.ready.pop_front();
        }
        let ready = Ready::default();
        shared.ready.push_back((point, Arc::clone(&ready)));
        (ready, true)
    }

    fn keep(&self, task: Task, row: TrialRow) {
        let success = row.outcome == Outcome::Reached;
        let mut shared = self.lock();
        if shared.failure.is_none() {
            match shared.store.append(&finished(task, row)) {
                Ok(()) => {
                    shared.computed += 1;
                    shared.schedule.record(task, success);
                    shared.progress.advance();
                }
                Err(error) => shared.failure = Some(error),
            }
        }
        self.changed.notify_all();
    }

    /// A point that cannot be built is kept as such, once.
    fn refuse(&self, point: usize, reason: &str) {
        let mut shared = self.lock();
        shared.schedule.give_back();
        if shared.failure.is_none() && !shared.schedule.is_refused(point) {
            let entry = Entry::Refused {
                point,
                refused: reason.to_owned(),
            };
            match shared.store.append(&entry) {
                Ok(()) => shared.schedule.refuse(point),
                Err(error) => shared.failure = Some(error),
            }
        }
        self.changed.notify_all();
    }
}
