//! The lesson file: pages that change one thing of a scenario each, and what they say of its trials.
//!
//! What a page says of results is no typed number: its texts hold places in braces (`text`), filled from
//! the trials of a page (`measure`), and each claim is a measured value with a bound that the trials have to
//! keep. `bendwise schema lesson --markdown` prints all fields.

mod load;
mod measure;
pub mod model;
mod opening;
mod page_table;
mod text;

pub(super) use load::LESSON;
pub use load::{LoadedLesson, load_lesson, load_lesson_text};
pub use measure::{Measure, MeasureUnit};
pub use model::LessonSpec;
pub use opening::{Opening, OpeningMoment, PageView};
pub use text::{Expression, Operand, Operation, Piece, Text};
