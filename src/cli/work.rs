//! Threads and a bar for work that is no study.

use indicatif::{ProgressBar, ProgressStyle};
use rayon::ThreadPool;

use super::failure::Failure;
use crate::study::StudyError;

/// So many threads, or one a core.
pub(super) fn threads(asked: Option<usize>) -> Result<ThreadPool, Failure> {
    let threads = asked.unwrap_or(0);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
    pool.map_err(|error| {
        Failure::of_study(StudyError::Threads {
            threads,
            reason: error.to_string(),
        })
    })
}

/// A bar for that many pieces of work, called `what`.
pub(super) fn bar(total: usize, what: &str) -> ProgressBar {
    let bar = ProgressBar::new(total as u64);
    let template =
        format!("{{bar:30}} {{pos}} of {{len}} {what}, {{elapsed}} passed, {{eta}} left");
    // A template that is wrong leaves the default style.
    if let Ok(style) = ProgressStyle::with_template(&template) {
        bar.set_style(style);
    }
    bar
}
