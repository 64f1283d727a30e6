//! How messages show what a file says: long values, names and lists are cut, so that a message
//! stays readable whatever stands in the file.

use std::fmt::Display;
use std::path::Path;

/// Most characters of a value in a message.
pub const VALUE: usize = 60;
/// Most entries of a list in a message.
pub const ENTRIES: usize = 40;
/// Most characters of a message as a whole.
pub const MESSAGE: usize = 1200;
/// Characters at the end of a message that are kept where it is cut: often the remedy.
const ENDING: usize = 300;

/// The character, or a blank for a control character.
fn blank(c: char) -> char {
    if c.is_control() { ' ' } else { c }
}

/// A text with blanks for its control characters, line ends among them.
#[must_use]
pub fn without_controls(text: &str) -> String {
    text.chars().map(blank).collect()
}

/// A value of a file for a message: at most [`VALUE`] characters and the count of all, control
/// characters as blanks.
#[must_use]
pub fn cut(value: impl Display) -> String {
    let text = value.to_string();
    let kept = |text: &str, most: usize| -> String { text.chars().take(most).map(blank).collect() };
    let count = text.chars().count();
    if count <= VALUE {
        kept(&text, VALUE)
    } else {
        format!("{}… ({count} characters)", kept(&text, VALUE))
    }
}

/// Names as messages list them: at most [`ENTRIES`], each cut, and how many more there are.
#[must_use]
pub fn listed<S: AsRef<str>>(names: &[S]) -> String {
    let first = names.iter().take(ENTRIES).map(|name| cut(name.as_ref()));
    let text = first.collect::<Vec<_>>().join(", ");
    match names.len().saturating_sub(ENTRIES) {
        0 => text,
        more => format!("{text} and {more} more"),
    }
}

/// A count with its noun: "1 line", "2 lines".
#[must_use]
pub fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// A path for a message, cut in its middle where it is long, control characters as blanks.
#[must_use]
pub fn path(path: &Path) -> String {
    shortened(without_controls(&path.to_string_lossy()))
}

/// A message of at most [`MESSAGE`] characters: its beginning and its end.
#[must_use]
pub fn shortened(message: impl Display) -> String {
    let text = message.to_string();
    let count = text.chars().count();
    if count <= MESSAGE {
        return text;
    }
    let beginning: String = text.chars().take(MESSAGE - ENDING).collect();
    let end: String = text.chars().skip(count - ENDING).collect();
    format!("{beginning} … {end}")
}

/// An angle in rad, written in degrees with a decimal where one is needed.
#[must_use]
pub fn degrees(rad: f64) -> String {
    let tenths = (rad.to_degrees() * 10.0).round() / 10.0;
    // Adding zero turns minus zero into zero.
    format!("{}", tenths + 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degrees_have_a_decimal_only_where_needed() {
        let rad = [45.0_f64, 62.53, -0.001, 180.0].map(f64::to_radians);
        assert_eq!(rad.map(degrees), ["45", "62.5", "0", "180"]);
    }

    #[test]
    fn a_long_value_is_cut_and_its_length_said() {
        assert_eq!(cut("30 mm"), "30 mm");
        let long = cut("ä".repeat(200_000));
        assert!(long.ends_with("… (200000 characters)"), "{long}");
        assert!(long.chars().count() < VALUE + 25);
        assert_eq!(cut("a\u{1b}[31m\nb"), "a [31m b");
        assert_eq!(path(Path::new("a\u{1b}[31m\nb")), "a [31m b");
    }

    #[test]
    fn a_long_list_says_how_many_more_there_are() {
        let names: Vec<String> = (0..1900).map(|i| format!("b{i}")).collect();
        assert!(listed(&names).ends_with("b39 and 1860 more"));
        assert_eq!(listed(&["a", "b"]), "a, b");
    }

    #[test]
    fn a_long_message_keeps_its_beginning_and_its_end() {
        let text = format!("first {} last", "x".repeat(900_000));
        let short = shortened(&text);
        assert!(short.starts_with("first x") && short.ends_with("x last"));
        assert!(short.chars().count() <= MESSAGE + 3);
    }
}
