//! What a file is: a scenario, a sweep, a lesson, wires or a tree.

use std::path::Path;

use super::parsed::parsed;
use crate::input;

/// What a file is, by the tables at its top.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
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
pub fn kind(path: &Path) -> Kind {
    input::text(path).map_or(Kind::Unknown, |text| kind_of(&text))
}

pub(super) fn kind_of(text: &str) -> Kind {
    let Ok(document) = parsed(text, 0) else {
        return Kind::Unknown;
    };
    let has_any = |fields: &[&str]| {
        let mut fields = fields.iter();
        fields.any(|field| document.get_ref().contains_key(*field))
    };
    if has_any(&["page"]) {
        Kind::Lesson
    } else if has_any(&["vessel", "guide", "target", "technique", "study"]) {
        Kind::Scenario
    } else if has_any(&["scenario", "design", "parameter"]) {
        Kind::Sweep
    } else if has_any(&["wire", "assay"]) {
        Kind::Wires
    } else if has_any(&["branch"]) {
        Kind::Tree
    } else {
        Kind::Unknown
    }
}

/// Whether the file at `path` can be read and holds wires for the bench alone.
#[must_use]
pub fn holds_wires_alone(path: &Path) -> bool {
    kind(path) == Kind::Wires
}
