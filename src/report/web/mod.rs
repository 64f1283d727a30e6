//! `report.html`: the same study as `report.md`, with inputs, figures and playback, as one file that any
//! browser opens without a network.
//!
//! `document` is the frame with style and scripts, `markdown` turns the text of `report.md` into it,
//! `inputs` the scene in words; `forks` and `limits` are tables that only the page has; `plain`
//! makes the pages without recorded trials; `playback` packs
//! recorded trials for the scripts in `assets`, of which `view3d.js` draws and knows nothing of trials.

mod document;
mod forks;
mod inputs;
mod lesson;
mod limits;
mod markdown;
mod meanings;
mod plain;
pub(super) mod playback;
mod player;
mod study;

pub(super) use self::document::{Document, Gallery, Part};
pub use self::inputs::{Limits, PageInputs, SceneView, Way, files};
pub(super) use self::inputs::{scenario_copy, section_parts, sortable};
pub(super) use self::lesson::lesson_page;
pub use self::lesson::{LessonShown, page_body};
pub(super) use self::markdown::left_out;
pub(super) use self::plain::PlainPage;
pub(super) use self::study::study_page;
