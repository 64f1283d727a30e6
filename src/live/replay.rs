//! How far the kept movements of a session have been made again, for a page that waits for them.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// How far the movements that a session holds have been made again.
#[derive(Debug, Default)]
pub(super) struct Replay {
    done: AtomicUsize,
    /// How many there are; 0 while none are made again.
    of: AtomicUsize,
    /// Raised when nobody waits for them any more.
    is_over: AtomicBool,
    shown: Mutex<Shown>,
}

/// What a page may show while movements are made again, as JSON.
#[derive(Debug, Default)]
struct Shown {
    /// The scene with its first moment.
    opening: String,
    moment: String,
}

impl Replay {
    /// Movements begin to be made again: how many, and what the page may show first, as JSON.
    pub(super) fn begins(&self, of: usize, opening: String, moment: &str) {
        let mut shown = self.shown();
        shown.opening = opening;
        moment.clone_into(&mut shown.moment);
        self.done.store(0, Ordering::Relaxed);
        self.of.store(of, Ordering::Relaxed);
    }

    /// One more is made, and has led to this moment, as JSON.
    pub(super) fn made(&self, moment: &str) {
        moment.clone_into(&mut self.shown().moment);
        self.done.fetch_add(1, Ordering::Relaxed);
    }

    /// All are made.
    pub(super) fn ends(&self) {
        self.of.store(0, Ordering::Relaxed);
    }

    /// Nobody waits for the movements any more.
    pub(super) fn give_up(&self) {
        self.is_over.store(true, Ordering::Relaxed);
    }

    /// Whether nobody does.
    pub(super) fn is_over(&self) -> bool {
        self.is_over.load(Ordering::Relaxed)
    }

    /// What a page is told: how many of how many, the moment that they have come to, and the scene where it is
    /// `new` to the page; `None` where none are made again.
    pub(super) fn told(&self, is_new: bool) -> Option<String> {
        let [done, of] = [&self.done, &self.of].map(|n| n.load(Ordering::Relaxed));
        if of == 0 {
            return None;
        }
        let shown = self.shown();
        let opening = if is_new { &shown.opening } else { "null" };
        let moment = &shown.moment;
        Some(format!(
            r#"{{"replaying":{{"done":{done},"of":{of},"opening":{opening},"moment":{moment}}}}}"#
        ))
    }

    fn shown(&self) -> MutexGuard<'_, Shown> {
        self.shown.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
