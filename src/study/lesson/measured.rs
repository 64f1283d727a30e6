//! What the trials of the pages measure, and whether it bears the claims out.

use thiserror::Error;

use crate::scenario::lesson::model::{ClaimSpec, LessonSpec, Limit};
use crate::scenario::lesson::{Expression, Measure, MeasureUnit, Operand, Operation, Piece, Text};
use crate::schema::Place;
use crate::shown::three_digits;
use crate::study::statistics::median;
use crate::trial::result::{Outcome, TrialRow};

use super::pages::LessonPages;

/// A claim that the trials do not bear out, or a value that they do not have.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("page {page}: {reason}")]
pub struct FalseClaim {
    /// Name of the page.
    pub page: String,
    /// What is claimed and what is measured.
    pub reason: String,
    /// Where in the lesson.
    pub place: Place,
}

/// A claim that was held against the trials.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckedClaim {
    /// The sentence, filled.
    pub says: String,
    /// What is claimed, as it is written in the lesson.
    pub claim: String,
    /// The measured value.
    pub value: f64,
    /// The measured value with its unit.
    pub measured: String,
}

/// The rows of all pages.
#[derive(Debug, Clone, Copy)]
pub struct MeasuredPages<'a> {
    /// The lesson.
    pub spec: &'a LessonSpec,
    /// Its pages.
    pub pages: &'a LessonPages,
    /// A list of trials for each page.
    pub rows: &'a [Vec<TrialRow>],
}

impl MeasuredPages<'_> {
    /// Holds every claim of a page against the trials.
    ///
    /// # Errors
    /// The first claim that they do not bear out.
    pub fn claims(&self, page: usize) -> Result<Vec<CheckedClaim>, FalseClaim> {
        let claims = self.spec.pages[page].claims.iter();
        claims.map(|claim| self.claim(page, claim)).collect()
    }

    fn claim(&self, page: usize, claim: &ClaimSpec) -> Result<CheckedClaim, FalseClaim> {
        let at = claim.place.field("value");
        let (value, unit) = self.value(page, &claim.value, &at)?;
        let mut claimed = Vec::new();
        for (bound, limit) in &claim.bounds {
            let (number, named) = match limit {
                Limit::Number(number) => (*number, String::new()),
                Limit::Measured(other) => {
                    let (number, _) = self.value(page, other, &at)?;
                    (number, format!("{}, which is ", other.written()))
                }
            };
            let what = format!(
                "{} is {} {named}{}",
                claim.value.written(),
                bound.words(),
                said(number, unit)
            );
            if !bound.holds(value, number) {
                return Err(FalseClaim {
                    page: self.spec.pages[page].name.clone(),
                    reason: format!("it claims that {what}; measured is {}", said(value, unit)),
                    place: at,
                });
            }
            claimed.push(what);
        }
        Ok(CheckedClaim {
            says: self.text(page, &claim.say, &claim.place.field("say"))?,
            claim: claimed.join(" and "),
            value,
            measured: said(value, unit),
        })
    }

    /// A text of a page with its places filled.
    ///
    /// # Errors
    /// A value that the trials do not have.
    pub fn text(&self, page: usize, text: &Text, place: &Place) -> Result<String, FalseClaim> {
        // A text that names medians in its own words is left as it is.
        let says = |piece: &Piece| {
            let Piece::Plain(words) = piece else {
                return false;
            };
            let words = words.to_lowercase();
            ["median", "middle trial", "middle one"]
                .iter()
                .any(|word| words.contains(word))
        };
        let mut is_named = text.pieces.iter().any(says);
        let mut out = String::new();
        for piece in &text.pieces {
            let words = self.pages.pages[page].words(piece);
            if let Piece::Measured(expression) = piece {
                let (value, unit) = self.value(page, expression, place)?;
                let in_brackets = out.ends_with('(');
                out.push_str(&said(value, unit));
                if !is_named && expression.first.measure.is_median() {
                    out.push_str(match (expression.second.is_none(), in_brackets) {
                        (true, false) => " (median)",
                        (true, true) => ", median",
                        (false, false) => " (by medians)",
                        (false, true) => ", by medians",
                    });
                    is_named = true;
                }
            }
            // What the scenario does not have was refused before the trials.
            out.push_str(&words.unwrap_or_default().unwrap_or_default());
        }
        Ok(out)
    }

    fn value(
        &self,
        page: usize,
        of: &Expression,
        place: &Place,
    ) -> Result<(f64, MeasureUnit), FalseClaim> {
        let first = self.operand(page, &of.first);
        let unit = of.first.measure.unit();
        let (value, unit) = match &of.second {
            None => (first, unit),
            Some((Operation::Minus, second)) => (first - self.operand(page, second), unit),
            Some((Operation::Over, second)) => {
                (first / self.operand(page, second), MeasureUnit::One)
            }
        };
        if value.is_finite() {
            return Ok((value, unit));
        }
        Err(FalseClaim {
            page: self.spec.pages[page].name.clone(),
            reason: format!("its trials have no value of {}", of.written()),
            place: place.clone(),
        })
    }

    /// A measure of a page; not-a-number where its trials do not have it.
    fn operand(&self, page: usize, of: &Operand) -> f64 {
        let by_name = |name: &String| self.spec.pages.iter().position(|page| page.name == *name);
        let page = of.page.as_ref().and_then(by_name).unwrap_or(page);
        measure(&self.rows[page], &of.measure)
    }
}

/// A measure of trials; not-a-number where they do not have it.
fn measure(rows: &[TrialRow], of: &Measure) -> f64 {
    let name = match of {
        Measure::TipIn(branch) => return count(rows, |row| row.tip_branch == *branch),
        Measure::Named(name) => *name,
    };
    let middle = |value: fn(&TrialRow) -> f64| {
        let values: Vec<f64> = rows.iter().map(value).collect();
        median(&values).unwrap_or(f64::NAN)
    };
    let ended = Outcome::ALL.iter().find(|outcome| outcome.key() == name);
    if let Some(outcome) = ended {
        return count(rows, |row| row.outcome == *outcome);
    }
    match name {
        "trials" => rows.len() as f64,
        "rate" => 100.0 * count(rows, |row| row.outcome == Outcome::Reached) / rows.len() as f64,
        "attempts" => middle(|row| f64::from(row.attempts)),
        "travel" => middle(|row| row.travel_mm),
        "fed" => middle(|row| row.outside_mm),
        "turned" => middle(|row| row.turned_deg),
        "time" => middle(|row| row.time_s),
        "wall_force" => middle(|row| row.peak_wall_force_mn),
        "wall_force_on_the_way" => middle(|row| row.peak_wall_force_on_the_way_mn),
        "wall_force_at_mouth" => middle(|row| row.peak_wall_force_at_mouth_mn),
        "tip_force" => middle(|row| row.peak_tip_force_mn),
        "push" => middle(|row| row.peak_push_force_mn),
        "torque" => middle(|row| row.peak_torque_mn_mm),
        "strain" => middle(|row| row.peak_strain_ratio),
        "set" => middle(|row| row.set_deg),
        "straightened" => middle(|row| row.peak_vessel_straightened_deg),
        "moved" => middle(|row| row.peak_vessel_moved_mm),
        _ => f64::NAN,
    }
}

fn count(rows: &[TrialRow], is_counted: impl Fn(&TrialRow) -> bool) -> f64 {
    rows.iter().filter(|row| is_counted(row)).count() as f64
}

/// A value with its unit, as it stands in a sentence.
fn said(value: f64, unit: MeasureUnit) -> String {
    let is_whole = value.fract() == 0.0;
    let number = match unit {
        MeasureUnit::Count if is_whole => format!("{value:.0}"),
        MeasureUnit::Percent => format!("{value:.0}"),
        _ => three_digits(value),
    };
    match unit.word() {
        "" => number,
        word => format!("{number} {word}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_named_measure_is_measured() {
        let row = TrialRow {
            outcome: Outcome::Stalled,
            tip_branch: "side".to_owned(),
            attempts: 2,
            ..TrialRow::default()
        };
        let rows = [row.clone(), row];
        for (name, ..) in Measure::NAMED {
            let value = measure(&rows, &Measure::Named(name));
            assert!(value.is_finite(), "{name}");
        }
        assert!((measure(&rows, &Measure::Named("stalled")) - 2.0).abs() < 1e-12);
        assert!((measure(&rows, &Measure::TipIn("side".to_owned())) - 2.0).abs() < 1e-12);
        assert!(measure(&[], &Measure::Named("push")).is_nan());
    }

    #[test]
    fn values_are_written_with_their_unit() {
        let written = [
            (3.0, MeasureUnit::Count),
            (2.5, MeasureUnit::Count),
            (62.5, MeasureUnit::Percent),
            (1.2345, MeasureUnit::Millinewton),
            (0.333, MeasureUnit::One),
        ];
        let written = written.map(|(value, unit)| said(value, unit));
        assert_eq!(written, ["3", "2.50", "62 %", "1.23 mN", "0.333"]);
    }
}
