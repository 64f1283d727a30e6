//! `bendwise check` of a lesson: its pages, without running them.

use std::path::Path;

use super::failure::Failure;
use super::lesson::Opened;
use super::say;
use crate::report::lesson::outlook;

/// Reads and validates a lesson, builds the scenario of each page, and prints what it will be.
pub(super) fn check_lesson(path: &Path) -> Result<(), Failure> {
    let Opened {
        lesson,
        pages,
        setup,
    } = Opened::read(path)?;
    say(&outlook(&lesson.spec, &pages, &setup))
}
