//! Ctrl-C is an ordinary way to stop.

use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};

use super::progress::note;

static STOP: AtomicBool = AtomicBool::new(false);
static WATCHING: OnceLock<bool> = OnceLock::new();

/// Installs, once in a process, a handler for Ctrl-C and for a request to terminate. The first
/// one raises [`interrupted`]; a run then lets the trials in flight finish. A second one ends
/// the process at once with exit status 1.
///
/// Returns whether the handler is in place; it is not where the system or the embedding program
/// has its own.
pub fn watch_for_interrupts() -> bool {
    *WATCHING.get_or_init(|| {
        ctrlc::set_handler(|| {
            if STOP.swap(true, Ordering::SeqCst) {
                std::process::exit(1);
            }
            note("stopping after the trials in flight; once more to stop at once");
        })
        .is_ok()
    })
}

/// Raised once the user has asked to stop.
#[must_use]
pub fn interrupted() -> &'static AtomicBool {
    &STOP
}
