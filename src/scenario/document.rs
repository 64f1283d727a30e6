//! The documents that the program reads, and what is published of them.

use serde_json::Value;

use super::{lesson, sweep, tables};
use crate::schema::{Node, page, publish};

/// A kind of file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Document {
    /// A scenario.
    Scenario,
    /// A sweep over a scenario.
    Sweep,
    /// A lesson on a scenario.
    Lesson,
    /// Wires for the bench.
    Wires,
    /// Branches of a vessel, named as `vessel.tree` in a scenario.
    Tree,
    /// Spread of a published tree, named as `anatomy.spread.file` in a sweep.
    Spread,
}

impl Document {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::Scenario,
        Self::Sweep,
        Self::Lesson,
        Self::Wires,
        Self::Tree,
        Self::Spread,
    ];

    /// Its name: that of its published schema.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Scenario => "scenario",
            Self::Sweep => "sweep",
            Self::Lesson => "lesson",
            Self::Wires => "wires",
            Self::Tree => "tree",
            Self::Spread => "spread",
        }
    }

    /// What it is, in a sentence.
    #[must_use]
    pub fn about(self) -> &'static str {
        match self {
            Self::Scenario => {
                "One vessel, one target, and the wires and techniques that are compared on it."
            }
            Self::Sweep => {
                "Which parameters of a scenario vary, how, and over which points. A parameter is \
                 named by its path: keys joined by dots, the entry of a list by its name (or, where \
                 it has none, its kind, or its number counted from 1), * for all entries of a list."
            }
            Self::Lesson => {
                "Pages that change one thing of a scenario each, and what its trials show. Whatever is said \
                 of results is measured when the lesson is built."
            }
            Self::Wires => "Wires and the settings of their bench tests.",
            Self::Tree => "The branches of a vessel, which a scenario names as vessel.tree.",
            Self::Spread => {
                "Published places of a tree with their spread, which a sweep names as \
                 anatomy.spread.file."
            }
        }
    }

    /// What it may hold.
    #[must_use]
    pub fn node(self) -> &'static Node {
        match self {
            Self::Scenario => &tables::SCENARIO,
            Self::Sweep => &sweep::SWEEP,
            Self::Lesson => &lesson::LESSON,
            Self::Wires => &tables::BENCH,
            Self::Tree => &tables::TREE,
            Self::Spread => &sweep::SPREAD,
        }
    }

    /// How messages call the table at its top.
    pub(super) fn title(self) -> &'static str {
        match self {
            Self::Scenario => "the scenario",
            Self::Sweep => "the sweep",
            Self::Lesson => "the lesson",
            Self::Wires => "the file of wires",
            Self::Tree => "the tree file",
            Self::Spread => "the spread file",
        }
    }

    /// Its JSON Schema.
    #[must_use]
    pub fn schema(self) -> Value {
        publish::schema(
            self.node(),
            &format!("bendwise {}", self.name()),
            self.about(),
        )
    }

    /// A small whole file of its kind, where the page shows one; else empty.
    #[must_use]
    pub fn example(self) -> &'static str {
        match self {
            Self::Scenario => include_str!("small.toml"),
            Self::Lesson => include_str!("small-lesson.toml"),
            Self::Sweep | Self::Wires | Self::Tree | Self::Spread => "",
        }
    }

    /// A page with every field, in Markdown.
    #[must_use]
    pub fn page(self) -> String {
        page::page(
            self.node(),
            &format!("Fields of a bendwise {} file", self.name()),
            self.about(),
            self.example(),
        )
    }
}
