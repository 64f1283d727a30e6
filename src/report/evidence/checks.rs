//! The table of checks, and `checks.json`.

use maud::{Markup, html};
use serde::Serialize;

use crate::evidence::{Checked, Compared, Reading, Says};

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
            checks,
            experiments,
        }
    }

    /// In a sentence.
    #[must_use]
    pub fn words(&self) -> String {
        format!("{} of {} checks hold", self.hold, self.of)
    }
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

fn with_unit(value: f64, unit: &str) -> String {
    if unit.is_empty() {
        digits(value)
    } else {
        format!("{} {unit}", digits(value))
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
                            "check", "question", "against", "measured, tightest", "limit", "order", "holds", "time",
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
                @if !check.readings.is_empty() {
                    div.scroll tabindex="0" {
                        table {
                            thead { tr { th { "reading" } th { "measured" } th { "limit" } } }
                            tbody {
                                @for reading in &check.readings { (reading_row(reading)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn row(check: &Checked) -> Markup {
    let tightest = check.tightest();
    let order = check
        .order()
        .map_or(String::new(), |order| format!("{order:.2}"));
    html! {
        tr {
            td { (check.name) }
            td { (check.question) }
            td { (check.source) " (" (check.origin.words()) ")" }
            td {
                @if let Some(reading) = tightest {
                    (with_unit(reading.measured, reading.unit)) " " span.unit { (reading.what) }
                }
            }
            td { @if let Some(reading) = tightest { (bound(reading)) } }
            td.number { (order) }
            @if check.holds() {
                td { span.holds { "yes" } }
            } @else {
                td.fails {
                    "NO: " (check.fault()) ". What rests on it: " (check.carries_words()) "."
                }
            }
            td.number { (format!("{:.1} s", check.seconds)) }
        }
    }
}

fn bound(reading: &Reading) -> String {
    let least = if reading.is_order { "at least " } else { "" };
    format!("{least}{}", with_unit(reading.limit, reading.unit))
}

fn reading_row(reading: &Reading) -> Markup {
    html! {
        tr {
            td { (reading.what) @if reading.is_order { ", order of convergence" } }
            @if reading.holds() {
                td.number { (with_unit(reading.measured, reading.unit)) }
            } @else {
                td.fails { (with_unit(reading.measured, reading.unit)) }
            }
            td.number { (bound(reading)) }
        }
    }
}

/// Published experiments, each with both values side by side and the verdict in words.
pub(super) fn experiments(all: &[Compared]) -> Markup {
    html! {
        p {
            "Published measurements beside what the program finds. Nothing was tuned. What is not known of a \
             measurement stands beside it, and where that decides, nothing can be told."
        }
        @for of in all {
            h3 { (of.question) }
            p { span class=(verdict_class(of)) { (of.verdict) } "." }
            p { "Published: " (of.source) ". Simulated: " (of.scene) "." }
            p { "Not known: " (of.unknown.join("; ")) "." }
            @if !of.pairs.is_empty() {
                div.scroll tabindex="0" {
                    table {
                        thead { tr { th { "what" } th { "published" } th { "simulated" } th { "says" } } }
                        tbody {
                            @for pair in &of.pairs {
                                tr {
                                    td { (pair.what) }
                                    td { (pair.published) }
                                    td { (pair.simulated) }
                                    td { (pair.says.words()) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn verdict_class(of: &Compared) -> &'static str {
    let all_agree = of.pairs.iter().all(|pair| pair.says == Says::Agrees);
    if all_agree && of.verdict.starts_with("agrees") {
        "holds"
    } else {
        "unsure"
    }
}
