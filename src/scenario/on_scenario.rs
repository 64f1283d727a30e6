//! Files that stand on a scenario which they name: a sweep, a lesson.

use std::path::Path;

use serde::de::DeserializeOwned;

use super::document::Document;
use super::error::{Checked, ScenarioError, resolved};
use super::load::document;
use super::source::Source;
use crate::input;
use crate::schema::Read;

/// The text of the file at `path`.
///
/// # Errors
///
/// [`ScenarioError::Unreadable`].
pub(super) fn text_at(path: &Path) -> Result<String, ScenarioError> {
    input::text(path).map_err(|cause| ScenarioError::Unreadable {
        path: path.to_owned(),
        cause,
    })
}

/// Reads a text as a table and checks that; `path` is where it counts as standing, `checked` is given the table
/// and the folder from which paths in it count.
///
/// # Errors
///
/// The first fault found, with its place.
pub(super) fn checked_text<T: DeserializeOwned, S>(
    kind: Document,
    path: &Path,
    text: String,
    checked: impl FnOnce(T, &Path) -> Read<S>,
) -> Result<(S, Source), ScenarioError> {
    let source = Source {
        document: kind,
        path: path.to_owned(),
        text,
        tree: None,
    };
    let read = || -> Checked<S> {
        let table = document::<T>(&source.text, 0, kind)?;
        let folder = source.path.parent().unwrap_or(Path::new(""));
        checked(table, folder).map_err(|refusal| resolved(*refusal, &source))
    };
    let spec = read().map_err(|problem| problem.located(&source))?;
    Ok((spec, source))
}
