//! The lines of a file around a fault, as the error printer shows them.
//!
//! Lines are cut to a window around the fault: a line may be megabytes long, and the printer
//! counts its columns in 16 bits.

use std::ops::Range;

use miette::{MietteError, MietteSpanContents, SourceCode, SourceSpan, SpanContents};

/// Most characters of a line that are shown.
const WIDTH: usize = 160;
/// Characters before a fault that are shown.
const BEFORE: usize = 60;
/// What stands where something is cut off.
const CUT: &str = "…";

/// The line of a fault and one line on either side.
#[derive(Debug, Clone)]
pub(super) struct Excerpt {
    name: String,
    text: String,
    /// Lines of the file before the excerpt.
    lines_before: usize,
    /// Bytes of the fault's line that are left out before its window, less those of the sign that
    /// stands for them.
    left_out: usize,
}

impl Excerpt {
    /// The file.
    pub(super) fn name(&self) -> &str {
        &self.name
    }

    /// Cuts the excerpt out of a text; also gives the range of the fault in it. A fault that goes
    /// on over several lines is shown on its first.
    pub(super) fn of(name: String, text: &str, at: Range<usize>) -> (Self, Range<usize>) {
        let start = text.floor_char_boundary(at.start);
        let begin = text[..start].rfind('\n').map_or(0, |i| i + 1);
        let end = text[start..].find('\n').map_or(text.len(), |i| start + i);
        let to = text.floor_char_boundary(at.end).clamp(start, end);
        let mut lines_before = text.as_bytes()[..begin]
            .iter()
            .filter(|b| **b == b'\n')
            .count();
        let mut shown = String::new();
        if let Some(before) = text[..begin].strip_suffix('\n') {
            let line = before.rsplit('\n').next().unwrap_or_default();
            shown = window(line, 0..0).0 + "\n";
            lines_before -= 1;
        }
        let (line, range, left_out) = window(&text[begin..end], start - begin..to - begin);
        let range = range.start + shown.len()..range.end + shown.len();
        shown += &line;
        if let Some(after) = text[end..].strip_prefix('\n') {
            let line = after.split('\n').next().unwrap_or_default();
            shown += "\n";
            shown += &window(line, 0..0).0;
        }
        let excerpt = Self {
            name,
            text: shown,
            lines_before,
            left_out,
        };
        (excerpt, range)
    }
}

/// The part of a line around a place, the place in it, and how many bytes fewer stand before it.
fn window(line: &str, at: Range<usize>) -> (String, Range<usize>, usize) {
    let line = line.strip_suffix('\r').unwrap_or(line);
    let at = at.start.min(line.len())..at.end.min(line.len());
    let is_long = line.chars().nth(WIDTH).is_some();
    let from = match line[..at.start].char_indices().rev().nth(BEFORE) {
        Some((from, _)) if is_long => from,
        _ => 0,
    };
    let to = line[from..].char_indices().nth(WIDTH);
    let to = to.map_or(line.len(), |(i, _)| from + i);
    let mut shown = String::new();
    if from > 0 {
        shown += CUT;
    }
    let sign = shown.len();
    for c in line[from..to].chars() {
        // What steers a terminal is shown as blanks of the same number of bytes.
        if c.is_control() && c != '\t' {
            shown.extend(std::iter::repeat_n(' ', c.len_utf8()));
        } else {
            shown.push(c);
        }
    }
    if to < line.len() {
        shown += CUT;
    }
    let moved = |place: usize| place.min(to) - from + sign;
    (shown, moved(at.start)..moved(at.end), from - sign.min(from))
}

impl SourceCode for Excerpt {
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        before: usize,
        after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        let inner = self.text.read_span(span, before, after)?;
        let column = match inner.column() {
            0 => 0,
            column => column + self.left_out,
        };
        Ok(Box::new(MietteSpanContents::new_named(
            self.name.clone(),
            inner.data(),
            *inner.span(),
            inner.line() + self.lines_before,
            column,
            inner.line_count(),
        )))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(text: &str, what: &str) -> (Excerpt, String) {
        let start = text.find(what).unwrap();
        let (excerpt, range) = Excerpt::of("a.toml".into(), text, start..start + what.len());
        let found = excerpt.text[range].to_owned();
        (excerpt, found)
    }

    #[test]
    fn short_lines_are_shown_as_they_are() {
        let (excerpt, found) = of("a = 1\nb = 2\nc = 3\nd = 4\n", "3");
        assert_eq!(excerpt.text, "b = 2\nc = 3\nd = 4");
        assert_eq!((found.as_str(), excerpt.lines_before), ("3", 1));
    }

    #[test]
    fn a_long_line_is_cut_around_the_fault() {
        let text = format!(
            "x = \"{}\" y = 7 # {}\n",
            "ä".repeat(70_000),
            "b".repeat(70_000)
        );
        let (excerpt, found) = of(&text, "y = 7");
        assert_eq!(found, "y = 7");
        let line = excerpt.text.lines().next().unwrap();
        assert_eq!(line.chars().count(), WIDTH + 2);
        assert!(line.starts_with(CUT) && line.ends_with(CUT));
        let start = text.find("y = 7").unwrap();
        let contents = excerpt.read_span(&(excerpt.text.find("y = 7").unwrap(), 5).into(), 0, 0);
        assert_eq!(contents.unwrap().column(), start);
    }

    #[test]
    fn a_fault_at_the_end_or_over_several_lines_is_shown_on_its_first_line() {
        let (excerpt, range) = Excerpt::of("a".into(), "a = [\n1,\n2", 4..10);
        assert_eq!(
            (&excerpt.text[range], excerpt.text.as_str()),
            ("[", "a = [\n1,")
        );
        let (excerpt, range) = Excerpt::of("a".into(), "a = \u{1b}\r\n", 7..7);
        assert_eq!((range, excerpt.text.as_str()), (6..6, "a =  \n"));
    }
}
