//! The text that a scenario was read from, and pointing back into it.

use std::path::{Path, PathBuf};

use miette::{LabeledSpan, MietteDiagnostic, Report};

use super::excerpt::Excerpt;
use super::model::Place;
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
/// A [`Place`] counts bytes through the scenario file and then through the tree file that it
/// uses, as if the second followed the first after one more byte; so one number says both which
/// file and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// Path of the scenario file.
    pub path: PathBuf,
    /// Its text.
    pub text: String,
    /// The tree file named by `vessel.tree`, if any.
    pub tree: Option<SourceFile>,
}

impl Source {
    /// The offset at which places in the tree file begin.
    #[must_use]
    pub fn tree_base(&self) -> usize {
        self.text.len() + 1
    }

    /// File, text and byte range of a place, clipped to the text.
    #[must_use]
    pub fn locate(&self, place: Place) -> (&Path, &str, std::ops::Range<usize>) {
        let base = self.tree_base();
        let (path, text, base): (&Path, &str, usize) = match &self.tree {
            Some(tree) if place.start >= base => (&tree.path, &tree.text, base),
            _ => (&self.path, &self.text, 0),
        };
        let start = (place.start - base).min(text.len());
        let end = place.end.saturating_sub(base).clamp(start, text.len());
        (path, text, start..end)
    }

    /// Line of a place, counted from 1.
    #[must_use]
    pub fn line(&self, place: Place) -> usize {
        let (_, text, range) = self.locate(place);
        let before = &text.as_bytes()[..range.start];
        before.iter().filter(|byte| **byte == b'\n').count() + 1
    }

    /// The lines around a place as the error printer wants them, and the place in them.
    pub(super) fn excerpt(&self, place: Place) -> (Excerpt, std::ops::Range<usize>) {
        let (path, text, range) = self.locate(place);
        Excerpt::of(shown::path(path), text, range)
    }
}

/// A message that points back at a place in the scenario file, for layers that find a fault
/// after the scenario was read.
#[must_use]
pub fn point_at(source: &Source, place: Place, message: String, help: String) -> Report {
    let (excerpt, range) = source.excerpt(place);
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
            path: "a.toml".into(),
            text: "x = 1\ny = 2\n".into(),
            tree: Some(SourceFile {
                path: "b.toml".into(),
                text: "u = 3\nv = 4\n".into(),
            }),
        }
    }

    #[test]
    fn one_offset_says_file_and_line() {
        let source = two_files();
        let place = |start, end| Place { start, end };
        assert_eq!(source.line(place(6, 7)), 2);
        assert_eq!(source.locate(place(6, 7)).0, Path::new("a.toml"));

        let base = source.tree_base();
        let in_tree = place(base + 6, base + 7);
        let (path, text, range) = source.locate(in_tree);
        assert_eq!(path, Path::new("b.toml"));
        assert_eq!(&text[range], "v");
        assert_eq!(source.line(in_tree), 2);
    }

    #[test]
    fn a_place_behind_the_end_is_clipped() {
        let source = two_files();
        let far = Place {
            start: 10_000,
            end: 20_000,
        };
        assert!(source.locate(far).2.is_empty());
    }
}
