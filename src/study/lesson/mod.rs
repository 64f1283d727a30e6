//! Lessons: the scenario of each page, and whether its trials bear out what the page says.
//!
//! A page is a strategy of one study: its technique with its wire, in the scenario as it is once the changes
//! of all pages up to it are made. Trial n of every page has the same draws.

mod measured;
mod pages;
mod words;

pub use measured::{CheckedClaim, FalseClaim, MeasuredPages};
pub use pages::{Changed, LessonError, LessonPage, LessonPages};
