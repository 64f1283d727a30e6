//! How messages show what a file says: long values, names and lists are cut, so that a message
//! stays readable whatever stands in the file.

use std::fmt::{Display, Write as _};
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

/// A text whose numbers with more digits than anybody writes, as products of units have them
/// (0.35559999999999997), are rounded.
fn with_rounded_numbers(text: &str) -> String {
    /// Decimals above which a number was computed, and to how many significant digits it is rounded.
    const COMPUTED: usize = 10;
    const KEPT: usize = 8;
    let is_number = |c: char| c.is_ascii_digit() || c == '.';
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(from) = rest.find(is_number) {
        let (before, behind) = rest.split_at(from);
        let to = behind.find(|c| !is_number(c)).unwrap_or(behind.len());
        let (number, after) = behind.split_at(to);
        // A full stop behind a number ends a sentence.
        let number_alone = number.trim_end_matches('.');
        let decimals = number_alone.split_once('.').map_or(0, |(_, d)| d.len());
        let rounded = (decimals > COMPUTED)
            .then(|| number_alone.parse::<f64>().ok())
            .flatten()
            .and_then(|x| format!("{x:.0$e}", KEPT - 1).parse::<f64>().ok());
        out.push_str(before);
        match rounded {
            Some(x) => {
                let _ = write!(out, "{x}");
                out.push_str(&number[number_alone.len()..]);
            }
            None => out.push_str(number),
        }
        rest = after;
    }
    out + rest
}

/// A message of at most [`MESSAGE`] characters: its beginning and its end. Its numbers have no more digits
/// than mean something.
#[must_use]
pub fn shortened(message: impl Display) -> String {
    let text = with_rounded_numbers(&message.to_string());
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

/// A value with this many decimals; one that rounds to zero has no sign.
#[must_use]
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(zero) if is_zero(zero) => zero.to_owned(),
        _ => text,
    }
}

/// The same with its sign, as a difference is written; zero has a plus.
#[cfg(feature = "program")]
#[must_use]
pub fn signed(value: f64, decimals: usize) -> String {
    let text = format!("{value:+.decimals$}");
    match text.strip_prefix('-') {
        Some(zero) if is_zero(zero) => format!("+{zero}"),
        _ => text,
    }
}

fn is_zero(digits: &str) -> bool {
    digits.chars().all(|c| c == '0' || c == '.')
}

/// A value with three digits that count, as far as that needs no more than five decimals; a missing
/// one as a dash.
#[must_use]
pub fn three_digits(value: f64) -> String {
    if !value.is_finite() {
        return "-".to_owned();
    }
    if value == 0.0 {
        return "0".to_owned();
    }
    let decimals = [100.0, 10.0, 1.0, 0.1, 0.01]
        .iter()
        .take_while(|&&limit| value.abs() < limit)
        .count();
    fixed(value, decimals)
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
    fn what_rounds_to_zero_has_no_minus() {
        assert_eq!(fixed(-0.004, 2), "0.00");
        assert_eq!(fixed(-0.006, 2), "-0.01");
        assert_eq!(fixed(-0.0, 0), "0");
        assert_eq!(signed(-0.2, 0), "+0");
        assert_eq!([signed(-1.6, 0), signed(2.25, 1)], ["-2", "+2.2"]);
        assert_eq!(three_digits(-1e-7), "0.00000");
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
    fn numbers_that_were_computed_are_rounded() {
        let said =
            "allowed is up to 0.35559999999999997 mm, not 0.36; version 1.2.3, 30.000000000000004.";
        assert_eq!(
            shortened(said),
            "allowed is up to 0.3556 mm, not 0.36; version 1.2.3, 30."
        );
        assert_eq!(shortened("1/3 is 0.333333333333333"), "1/3 is 0.33333333");
        assert_eq!(shortened("12345678"), "12345678");
    }

    #[test]
    fn a_long_message_keeps_its_beginning_and_its_end() {
        let text = format!("first {} last", "x".repeat(900_000));
        let short = shortened(&text);
        assert!(short.starts_with("first x") && short.ends_with("x last"));
        assert!(short.chars().count() <= MESSAGE + 3);
    }
}
