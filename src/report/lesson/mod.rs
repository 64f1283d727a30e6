//! What a lesson leaves in its folder: `lesson.html`, `lesson.json`, `trials.csv`, and of its recorded trials
//! traces, shapes and films.

mod outlook;
mod result;
mod sink;

use std::sync::Arc;

pub use self::outlook::outlook;
pub use self::result::{ClaimResult, LessonResult, OpeningResult, PageResult, ViewAxes};
pub use self::sink::{Broken, LessonSink};
pub use super::web::{LessonShown, page_body};

use super::setting::{Setting, Settings};
use super::sinks::recorded;
use crate::scenario::lesson::LoadedLesson;
use crate::study::Sinks;
use crate::study::lesson::LessonPages;

/// Name of the file with the results, for programs.
pub const RESULT_FILE: &str = "lesson.json";

/// The sinks of a lesson, and where a claim stands that its trials do not bear out.
#[must_use]
pub fn sinks<'l>(
    lesson: &'l LoadedLesson,
    pages: &'l LessonPages,
    shown: LessonShown,
) -> (Sinks<'l>, Broken) {
    let settings = pages.pages.iter().map(|page| {
        let imported = page.loaded.imported.as_ref();
        Arc::new(Setting::new(&page.prepared, imported))
    });
    let settings: Vec<Arc<Setting>> = settings.collect();
    let broken = Broken::default();
    let mut sinks = recorded(&Settings::each(settings.clone()));
    let sink = LessonSink::new((lesson, pages), settings, shown, broken.clone());
    sinks.push(Box::new(sink));
    (sinks, broken)
}
