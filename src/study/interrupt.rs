//! Being stopped is an ordinary way to end: by Ctrl-C, by a scheduler, before a time limit.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{OnceLock, PoisonError, RwLock};
use std::time::{Duration, Instant};

use super::progress::note;

/// Exit status of a command that was stopped and goes on when it is given again: `EX_TEMPFAIL`, "temporary
/// failure, the user is invited to retry" (sysexits.h of 4.3BSD).
pub const STOPPED: u8 = 75;
/// Requests to stop that follow the first one within this time are taken for the same one: schedulers
/// send more than one signal within milliseconds.
const SAME_REQUEST: Duration = Duration::from_secs(2);

static STOP: AtomicBool = AtomicBool::new(false);
static FIRST: RwLock<Option<Instant>> = RwLock::new(None);
static WATCHING: OnceLock<bool> = OnceLock::new();

/// Installs, once in a process, a handler for Ctrl-C, for a request to terminate, and, on Unix, for
/// SIGUSR1, by which schedulers warn before a time limit. The first one raises [`interrupted`]; a run
/// then lets the trials in flight finish. Another one, two seconds later or more, ends the process at
/// once with exit status [`STOPPED`].
///
/// Returns whether the handler is in place; it is not where the system or the embedding program
/// has its own.
pub fn watch_for_interrupts() -> bool {
    *WATCHING.get_or_init(|| ctrlc::set_handler(stop_is_wanted).is_ok() && watch_for_warnings())
}

/// Takes a request to stop.
fn stop_is_wanted() {
    let now = Instant::now();
    let mut first = FIRST.write().unwrap_or_else(PoisonError::into_inner);
    match *first {
        None => {
            *first = Some(now);
            STOP.store(true, Ordering::SeqCst);
            note("stopping once what is under way is finished; once more to stop at once");
        }
        Some(first) if now.duration_since(first) < SAME_REQUEST => {}
        Some(_) => std::process::exit(i32::from(STOPPED)),
    }
}

/// Takes SIGUSR1 for a request to stop.
#[cfg(unix)]
fn watch_for_warnings() -> bool {
    use signal_hook::consts::SIGUSR1;
    use signal_hook::iterator::Signals;

    let Ok(mut signals) = Signals::new([SIGUSR1]) else {
        return false;
    };
    let watch = move || signals.forever().for_each(|_| stop_is_wanted());
    let thread = std::thread::Builder::new().name("warnings".to_owned());
    thread.spawn(watch).is_ok()
}

/// Other systems know no such warning.
#[cfg(not(unix))]
fn watch_for_warnings() -> bool {
    true
}

/// Raised once the user has asked to stop.
#[must_use]
pub fn interrupted() -> &'static AtomicBool {
    &STOP
}
