//! Texts with places in braces that are filled from trials, and what may stand in such a place.
//!
//! `{wall_force}` is a measure of the page, `{wall_force of stiff}` that of another page;
//! `{wall_force / wall_force of stiff}` is a ratio and `{rate - rate of stiff}` a difference. `{set PATH}`
//! is a value of the page's scenario, `{technique}` and `{wire}` are what its trials work with. A number that
//! is typed is refused: it would stay when the scenario changes.

use super::measure::Measure;
use crate::shown::{cut, listed};

/// A text with places.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Text {
    /// Its pieces in their order.
    pub pieces: Vec<Piece>,
}

/// A piece of a text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Piece {
    /// Words.
    Plain(String),
    /// A measured value.
    Measured(Expression),
    /// The value at a path of the page's scenario.
    Set(String),
    /// Name of the technique.
    Technique,
    /// Name of the wire.
    Wire,
}

/// A measured value, or two of them put together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Expression {
    /// The first value.
    pub first: Operand,
    /// What is done with a second one.
    pub second: Option<(Operation, Operand)>,
}

/// How two values are put together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Operation {
    /// First minus second.
    Minus,
    /// First over second.
    Over,
}

impl Operation {
    const ALL: [(&'static str, Self); 2] = [(" - ", Self::Minus), (" / ", Self::Over)];
}

/// A measure of a page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Operand {
    /// What is measured.
    pub measure: Measure,
    /// Name of the page; `None` for the page on which it stands.
    pub page: Option<String>,
}

impl Operand {
    fn parse(text: &str) -> Result<Self, String> {
        let (measure, page) = match text.rsplit_once(" of ") {
            Some((measure, page)) => (measure, Some(page.trim().to_owned())),
            None => (text, None),
        };
        let measure = Measure::parse(measure).ok_or_else(|| {
            let names = Measure::names();
            format!(
                "nothing is measured that is called {}; there is {}, the last with the name of a branch behind it",
                cut(measure.trim()),
                listed(&names)
            )
        })?;
        Ok(Self { measure, page })
    }

    /// As it is written in a lesson.
    #[must_use]
    pub fn written(&self) -> String {
        match &self.page {
            Some(page) => format!("{} of {page}", self.measure.written()),
            None => self.measure.written(),
        }
    }
}

impl Expression {
    /// Reads an expression.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    pub fn parse(text: &str) -> Result<Self, String> {
        let found = Operation::ALL
            .into_iter()
            .find_map(|(sign, operation)| Some((text.split_once(sign)?, operation)));
        let Some(((first, second), operation)) = found else {
            let first = Operand::parse(text)?;
            return Ok(Self {
                first,
                second: None,
            });
        };
        let (first, second) = (Operand::parse(first)?, Operand::parse(second)?);
        if operation == Operation::Minus && first.measure.unit() != second.measure.unit() {
            return Err(format!(
                "{} and {} have different units, so they have no difference",
                first.written(),
                second.written()
            ));
        }
        Ok(Self {
            first,
            second: Some((operation, second)),
        })
    }

    /// Its operands.
    pub fn operands(&self) -> impl Iterator<Item = &Operand> {
        let second = self.second.as_ref().map(|(_, operand)| operand);
        [&self.first].into_iter().chain(second)
    }

    /// As it is written in a lesson.
    #[must_use]
    pub fn written(&self) -> String {
        let first = self.first.written();
        match &self.second {
            None => first,
            Some((Operation::Minus, second)) => format!("{first} - {}", second.written()),
            Some((Operation::Over, second)) => format!("{first} / {}", second.written()),
        }
    }
}

impl Text {
    /// Reads a text.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    pub fn parse(text: &str) -> Result<Self, String> {
        let mut pieces = Vec::new();
        let mut rest = text.trim();
        while let Some((before, behind)) = rest.split_once('{') {
            let (place, after) = behind
                .split_once('}')
                .ok_or_else(|| "a brace is opened and not closed".to_owned())?;
            pieces.push(Piece::Plain(before.to_owned()));
            pieces.push(piece(place.trim())?);
            rest = after;
        }
        pieces.push(Piece::Plain(rest.to_owned()));
        pieces.retain(|piece| *piece != Piece::Plain(String::new()));
        for piece in &pieces {
            if let Piece::Plain(words) = piece {
                plain(words)?;
            }
        }
        Ok(Self { pieces })
    }

    /// The measured values in it.
    pub fn expressions(&self) -> impl Iterator<Item = &Expression> {
        self.pieces.iter().filter_map(|piece| match piece {
            Piece::Measured(expression) => Some(expression),
            _ => None,
        })
    }
}

fn piece(place: &str) -> Result<Piece, String> {
    match place {
        "technique" => return Ok(Piece::Technique),
        "wire" => return Ok(Piece::Wire),
        _ => {}
    }
    match place.strip_prefix("set ") {
        Some(path) => Ok(Piece::Set(path.trim().to_owned())),
        None => Expression::parse(place).map(Piece::Measured),
    }
}

/// Refuses what may not stand outside of braces.
fn plain(words: &str) -> Result<(), String> {
    if words.contains('}') {
        return Err("a brace is closed and not opened".to_owned());
    }
    let mut before = ' ';
    for (at, letter) in words.char_indices() {
        if letter.is_ascii_digit() && !before.is_alphanumeric() {
            let word = words[at..].split_whitespace().next().unwrap_or_default();
            return Err(format!(
                "the number {} is typed; every number comes from the trials or the scenario",
                cut(word)
            ));
        }
        before = letter;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_is_words_and_places() {
        let text = Text::parse(
            "In {reached} of {trials} trials, {wall_force / wall_force of stiff-tip} times, bend {set wire.a.b}.",
        )
        .unwrap();
        assert_eq!(text.pieces.len(), 9);
        let written: Vec<String> = text.expressions().map(Expression::written).collect();
        assert_eq!(
            written,
            ["reached", "trials", "wall_force / wall_force of stiff-tip"]
        );
        let branch = Expression::parse("tip_in small one of stiff").unwrap();
        assert_eq!(
            branch.first,
            Operand {
                measure: Measure::TipIn("small one".to_owned()),
                page: Some("stiff".to_owned())
            }
        );
    }

    #[test]
    fn typed_numbers_open_braces_and_unknown_measures_are_refused() {
        for (text, why) in [
            ("It takes 3 mN.", "the number 3 is typed"),
            ("About (12.5) of them", "typed"),
            ("a {rate", "not closed"),
            ("a rate}", "not opened"),
            ("{speed}", "called speed"),
            ("{rate - push}", "different units"),
            ("{tip_in}", "called tip_in"),
        ] {
            let error = Text::parse(text).unwrap_err();
            assert!(error.contains(why), "{text}: {error}");
        }
        assert!(Text::parse("Branch M1 and the LAD-D1 fork, three trials.").is_ok());
    }
}
