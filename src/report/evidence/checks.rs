//! The table of checks, and `checks.json`.

use maud::{Markup, html};
use serde::Serialize;

use crate::evidence::{CATALOGUE, Check, CheckReading, Checked, Compared, Set};

/// What `checks.json` holds.
#[derive(Debug, Serialize)]
pub struct ChecksSummary<'a> {
    /// Version of the program.
    pub bendwise: &'static str,
    /// Fingerprint of the executable.
    pub build: String,
    /// Checks that hold.
    pub hold: usize,
    /// Checks that were carried out.
    pub of: usize,
    /// Checks of the catalogue that were not.
    pub left_out: Vec<&'static str>,
    /// The checks.
    pub checks: &'a [Checked],
    /// Published experiments beside what was simulated.
    pub experiments: &'a [Compared],
}

/// What was carried out of the catalogue.
#[derive(Debug, Default)]
pub struct CarriedOut {
    /// The checks.
    pub checks: Vec<Checked>,
    /// The published experiments.
    pub experiments: Vec<Compared>,
}

impl<'a> ChecksSummary<'a> {
    /// The summary of what was carried out by this build.
    #[must_use]
    pub fn new(
        CarriedOut {
            checks,
            experiments,
        }: &'a CarriedOut,
    ) -> Self {
        Self {
            bendwise: env!("CARGO_PKG_VERSION"),
            build: crate::study::build_fingerprint(),
            hold: checks.iter().filter(|check| check.holds()).count(),
            of: checks.len(),
            left_out: left_out(checks).map(|check| check.name).collect(),
            checks,
            experiments,
        }
    }

    /// In a sentence.
    #[must_use]
    pub fn words(&self) -> String {
        let hold = format!("{} of {} checks hold", self.hold, self.of);
        let count = self.left_out.len();
        let mut left_out = left_out(self.checks);
        if count == 0 {
            hold
        } else if left_out.all(|check| check.set == Set::Long) {
            let names = self.left_out.join(", ");
            format!("{hold}; left out because it takes minutes: {names} (--long)")
        } else {
            format!(
                "{hold}; {count} of the {} checks of the catalogue were left out (--only)",
                CATALOGUE.len()
            )
        }
    }
}

/// Checks of the catalogue that were not carried out.
fn left_out(checks: &[Checked]) -> impl Iterator<Item = &'static Check> {
    let is_there = |name: &str| checks.iter().any(|check| check.name == name);
    CATALOGUE.iter().filter(move |check| !is_there(check.name))
}

/// The reading of a check that uses up most of its limit, as every table of checks shows it: the value and what was
/// measured; the limit.
fn tightest(checked: &Checked) -> (String, String) {
    checked.tightest().map_or_else(Default::default, |reading| {
        let order = if reading.is_order() { ", order" } else { "" };
        let value = with_unit(two_digits(reading.measured.abs()), &reading.unit);
        (format!("{value} ({}{order})", reading.what), bound(reading))
    })
}

/// A check as a row of a table in Markdown: question, against what, measured, limit, name. Tables in texts of the
/// project are these rows.
#[must_use]
pub fn markdown_row(checked: &Checked) -> String {
    let (measured, limit) = tightest(checked);
    format!(
        "| {} | {} ({}) | {measured} | {limit} | `{}` |",
        checked.question,
        checked.source,
        checked.origin.words(),
        checked.name
    )
}

/// A value with two digits.
fn two_digits(value: f64) -> String {
    let size = value.abs().log10().floor();
    if !size.is_finite() {
        return digits(value);
    }
    let unit = 10f64.powf(size - 1.0);
    digits((value / unit).round() * unit)
}

/// A number with four digits, as tables show it.
pub(super) fn digits(value: f64) -> String {
    if value.abs() <= 0.0 {
        return "0".to_owned();
    }
    let size = value.abs().log10().floor();
    if !size.is_finite() {
        return "no number".to_owned();
    }
    if !(-4.0..6.0).contains(&size) {
        return format!("{value:.1e}");
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "between 0 and 6"
    )]
    let places = (2.0 - size).clamp(0.0, 6.0) as usize;
    let text = format!("{value:.places$}");
    if text.contains('.') {
        let text = text.trim_end_matches('0').trim_end_matches('.');
        text.to_owned()
    } else {
        text
    }
}

fn with_unit(value: String, unit: &str) -> String {
    if unit.is_empty() {
        value
    } else {
        format!("{value} {unit}")
    }
}

/// The checks as a table, one that fails in red with what rests on it, and below it every reading.
pub(super) fn table(checks: &[Checked]) -> Markup {
    html! {
        div.scroll tabindex="0" {
            table {
                thead {
                    tr {
                        @for head in [
                            "check", "question", "against", "measured, tightest", "limit", "lowest order", "holds", "time",
                        ] { th { (head) } }
                    }
                }
                tbody {
                    @for check in checks { (row(check)) }
                }
            }
        }
        details.meaning {
            summary { "Every reading, and the scenes" }
            @for check in checks {
                h3 { (check.name) }
                p { (check.scene) ". Source: " (check.source) ". What rests on it: " (check.carries_words()) "." }
                @if !check.readings().is_empty() {
                    div.scroll tabindex="0" {
                        table {
                            thead { tr { th { "reading" } th { "measured" } th { "limit" } } }
                            tbody {
                                @for reading in check.readings() { (reading_row(reading)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn row(check: &Checked) -> Markup {
    let (measured, limit) = tightest(check);
    let order = check
        .order()
        .map_or(String::new(), |order| format!("{order:.2}"));
    html! {
        tr {
            td { (check.name) }
            td { (check.question) }
            td { (check.source) " (" (check.origin.words()) ")" }
            td { (measured) }
            td { (limit) }
            td.number { (order) }
            @if check.holds() {
                td { span.holds { "yes" } }
            } @else {
                td.fails {
                    "NO: " (check.fault()) ". What rests on it: " (check.carries_words()) "."
                }
            }
            td.number { (format!("{:.1} s", check.measured.seconds)) }
        }
    }
}

fn bound(reading: &CheckReading) -> String {
    let least = if reading.is_order() { "at least " } else { "" };
    format!("{least}{}", with_unit(digits(reading.limit), &reading.unit))
}

fn reading_row(reading: &CheckReading) -> Markup {
    html! {
        tr {
            td { (reading.what) @if reading.is_order() { ", order of convergence" } }
            @if reading.holds() {
                td.number { (with_unit(digits(reading.measured), &reading.unit)) }
            } @else {
                td.fails { (with_unit(digits(reading.measured), &reading.unit)) }
            }
            td.number { (bound(reading)) }
        }
    }
}
