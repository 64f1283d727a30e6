//! What a file is: a scenario, a sweep, a lesson, wires or a tree.

use std::path::Path;

use super::parsed::parsed;
use crate::input;

/// What a file is, by the tables at its top.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileKind {
    /// A scenario.
    Scenario,
    /// A sweep over a scenario.
    Sweep,
    /// A lesson on a scenario.
    Lesson,
    /// Wires for the bench alone.
    Wires,
    /// Branches of a vessel, which a scenario names as `vessel.tree`.
    Tree,
    /// Nothing that could be read, or none of these.
    Unknown,
}

/// What the file at `path` is.
#[must_use]
pub fn kind(path: &Path) -> FileKind {
    input::text(path).map_or(FileKind::Unknown, |text| kind_of(&text))
}

pub(super) fn kind_of(text: &str) -> FileKind {
    let Ok(document) = parsed(text, 0) else {
        return FileKind::Unknown;
    };
    let has_any = |fields: &[&str]| {
        let mut fields = fields.iter();
        fields.any(|field| document.get_ref().contains_key(*field))
    };
    if has_any(&["page"]) {
        FileKind::Lesson
    } else if has_any(&["vessel", "guide", "target", "technique", "study"]) {
        FileKind::Scenario
    } else if has_any(&["scenario", "design", "parameter"]) {
        FileKind::Sweep
    } else if has_any(&["wire", "assay"]) {
        FileKind::Wires
    } else if has_any(&["branch"]) {
        FileKind::Tree
    } else {
        FileKind::Unknown
    }
}

/// Whether the file at `path` can be read and holds wires for the bench alone.
#[must_use]
pub fn holds_wires_alone(path: &Path) -> bool {
    kind(path) == FileKind::Wires
}
