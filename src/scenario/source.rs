//! The text that a scenario was read from, and pointing back into it.

use std::ops::Range;
use std::path::{Path, PathBuf};

use miette::{LabeledSpan, MietteDiagnostic, Report};
use toml::Spanned;
use toml::de::DeTable;

use super::document::Document;
use super::excerpt::Excerpt;
use crate::schema::locate::{Found, locate};
use crate::schema::{Place, Step};
use crate::shown;

/// One file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceFile {
    /// Path as the person gave it, or relative to the scenario file.
    pub path: PathBuf,
    /// Its text.
    pub text: String,
}

/// The files of a scenario.
///
/// Inside, a span counts bytes through the scenario file and then through the tree file that it
/// uses, as if the second followed the first after one more byte; so one number says both which
/// file and where. Other layers know a [`Place`], which is looked up here.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// What the text is.
    pub document: Document,
    /// Path of the scenario file.
    pub path: PathBuf,
    /// Its text.
    pub text: String,
    /// The tree file named by `vessel.tree`, if any.
    pub tree: Option<SourceFile>,
}

/// Bytes of a [`Source`].
pub(super) type Span = Range<usize>;

impl Source {
    /// The offset at which spans in the tree file begin.
    pub(super) fn tree_base(&self) -> usize {
        self.text.len() + 1
    }

    /// File, text and byte range of a span, clipped to the text.
    pub(super) fn part(&self, span: Span) -> (&Path, &str, Span) {
        let base = self.tree_base();
        let (path, text, base): (&Path, &str, usize) = match &self.tree {
            Some(tree) if span.start >= base => (&tree.path, &tree.text, base),
            _ => (&self.path, &self.text, 0),
        };
        let start = (span.start - base).min(text.len());
        let end = span.end.saturating_sub(base).clamp(start, text.len());
        (path, text, start..end)
    }

    /// Looks places up, with the files parsed once.
    #[must_use]
    pub fn finder(&self) -> Finder<'_> {
        let parsed = |text| DeTable::parse(text).ok();
        Finder {
            source: self,
            table: parsed(&self.text),
            tree: self.tree.as_ref().and_then(|tree| parsed(&tree.text)),
        }
    }

    pub(super) fn line_of(&self, span: Span) -> usize {
        let (_, text, range) = self.part(span);
        let before = &text.as_bytes()[..range.start];
        before.iter().filter(|byte| **byte == b'\n').count() + 1
    }

    /// The lines around a span as the error printer wants them, and the span in them.
    pub(super) fn excerpt(&self, span: Span) -> (Excerpt, Span) {
        let (path, text, range) = self.part(span);
        Excerpt::of(shown::path(path), text, range)
    }
}

/// Looks places up in the files of a scenario.
#[derive(Debug)]
pub struct Finder<'s> {
    source: &'s Source,
    table: Option<Spanned<DeTable<'s>>>,
    tree: Option<Spanned<DeTable<'s>>>,
}

impl Finder<'_> {
    /// Line of a place, counted from 1.
    #[must_use]
    pub fn line(&self, place: &Place) -> usize {
        self.source.line_of(self.found(place).span)
    }

    /// What stands at a place.
    pub(super) fn found(&self, place: &Place) -> Found {
        match self.in_tree(place) {
            Some(InTree::There(found)) => found,
            Some(InTree::Before(place)) => self.looked_up(&place),
            None => self.looked_up(place),
        }
    }

    fn looked_up(&self, place: &Place) -> Found {
        let document = self.source.document;
        let empty = DeTable::new();
        let table = self.table.as_ref().map_or(&empty, Spanned::get_ref);
        locate(table, document.node(), document.title(), place)
    }

    /// A place among the branches or narrowings, if there is a tree file, whose own stand first.
    fn in_tree(&self, place: &Place) -> Option<InTree> {
        let table = self.tree.as_ref()?.get_ref();
        let [
            Step::Field(vessel),
            Step::Field(list),
            Step::Entry(index),
            rest @ ..,
        ] = place.steps()
        else {
            return None;
        };
        if vessel != "vessel" || !["branch", "narrowing"].contains(&&**list) {
            return None;
        }
        let entries = table.get(&**list);
        let own = entries.and_then(|list| list.get_ref().as_array());
        let own = own.map_or(0, |list| list.len());
        let within = |top: Place, index: usize| {
            rest.iter()
                .fold(top.entry(index), |place, step| match step {
                    Step::Field(field) => place.field(field.clone()),
                    Step::Entry(entry) => place.entry(*entry),
                })
        };
        Some(if *index < own {
            let place = within(Place::default().field(list.clone()), *index);
            let document = Document::Tree;
            let mut found = locate(table, document.node(), document.title(), &place);
            let base = self.source.tree_base();
            found.span = found.span.start + base..found.span.end + base;
            InTree::There(found)
        } else {
            let top = Place::top("vessel").field(list.clone());
            InTree::Before(within(top, index - own))
        })
    }
}

enum InTree {
    /// It stands in the tree file.
    There(Found),
    /// It stands in the scenario, at this place there.
    Before(Place),
}

/// A message that points back at a place in the scenario file, for layers that find a fault
/// after the scenario was read.
#[must_use]
pub fn point_at(source: &Source, place: &Place, message: String, help: String) -> Report {
    let (excerpt, range) = source.excerpt(source.finder().found(place).span);
    let diagnostic = MietteDiagnostic::new(shown::shortened(message))
        .with_help(shown::shortened(help))
        .with_label(LabeledSpan::at(range, "here"));
    Report::new(diagnostic).with_source_code(excerpt)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn two_files() -> Source {
        Source {
            document: Document::Scenario,
            path: "a.toml".into(),
            text: "x = 1\n[[vessel.branch]]\ny = 2\n".into(),
            tree: Some(SourceFile {
                path: "b.toml".into(),
                text: "u = 3\n[[branch]]\nv = 4\n".into(),
            }),
        }
    }

    #[test]
    fn one_offset_says_file_and_line() {
        let source = two_files();
        assert_eq!(source.line_of(6..7), 2);
        assert_eq!(source.part(6..7).0, Path::new("a.toml"));

        let base = source.tree_base();
        let in_tree = base + 6..base + 7;
        let (path, text, range) = source.part(in_tree.clone());
        assert_eq!(path, Path::new("b.toml"));
        assert_eq!(&text[range], "[");
        assert_eq!(source.line_of(in_tree), 2);
    }

    #[test]
    fn branches_of_the_tree_file_count_first() {
        let source = two_files();
        let branch = |index| Place::top("vessel").field("branch").entry(index);
        let file = |place: &Place| source.part(source.finder().found(place).span).0.to_owned();
        assert_eq!(file(&branch(0).field("v")), Path::new("b.toml"));
        assert_eq!(source.finder().line(&branch(0).field("v")), 3);
        assert_eq!(file(&branch(1).field("y")), Path::new("a.toml"));
        assert_eq!(source.finder().line(&branch(1).field("y")), 3);
    }

    #[test]
    fn a_span_behind_the_end_is_clipped() {
        assert!(two_files().part(10_000..20_000).2.is_empty());
    }
}
