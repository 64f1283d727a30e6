//! `report.md`: one table, wires as columns, tests as rows.

use std::fmt::Write as _;

use super::summary::{AssaySummary, ReadingSummary, TestSummary};
use crate::report::page::{table, three_digits};

/// The page: the table, what could not be measured, where each test comes from, the caution.
#[must_use]
pub fn page(summary: &AssaySummary) -> String {
    let mut page = String::new();
    let _ = writeln!(page, "# Bench tests: {}\n", summary.name);
    let _ = writeln!(
        page,
        "bendwise {}, content {}. Simulated on the same rod, contact and friction as the trials.\n",
        summary.bendwise_version, summary.content_hash
    );
    let mut heads = vec!["reading", "unit"];
    heads.extend(summary.wires.iter().map(String::as_str));
    let rows = summary
        .tests
        .iter()
        .flat_map(|test| rows(test, &summary.wires));
    page.push_str(&table(&heads, rows));
    if summary.tests.iter().any(|test| !test.remarks.is_empty()) {
        page.push_str("\n## Remarks\n\n");
        for test in &summary.tests {
            for remark in &test.remarks {
                let _ = writeln!(page, "- {}, {}: {}", test.test, remark.wire, remark.text);
            }
        }
    }
    if !summary.not_measured.is_empty() {
        page.push_str("\n## Not measured\n\n");
        for fault in &summary.not_measured {
            let _ = writeln!(page, "- {}, {}: {}", fault.test, fault.wire, fault.reason);
        }
    }
    page.push_str("\n## The tests\n\n");
    for test in &summary.tests {
        let _ = writeln!(
            page,
            "- **{}.** {} Source: {}. Left out: {}. Curve: `{}`.",
            test.title, test.explanation, test.source, test.leaves_out, test.curve
        );
    }
    let _ = writeln!(page, "\n## Caution\n\n{}", summary.caution);
    page
}

/// A row for each reading of a test, below a row with its title.
fn rows(test: &TestSummary, wires: &[String]) -> Vec<Vec<String>> {
    let mut keys: Vec<&ReadingSummary> = Vec::new();
    for reading in &test.readings {
        if keys.iter().all(|k| k.key != reading.key) {
            keys.push(reading);
        }
    }
    let title = vec![format!("**{}**", test.title), String::new()];
    let blank = wires.iter().map(|_| String::new());
    let mut rows = vec![title.into_iter().chain(blank).collect()];
    for first in keys {
        let mut row = vec![first.label.clone(), first.unit.clone()];
        for wire in wires {
            let of_wire = |r: &&ReadingSummary| r.key == first.key && r.wire == *wire;
            row.push(
                test.readings
                    .iter()
                    .find(of_wire)
                    .map_or_else(|| "-".into(), cell),
            );
        }
        rows.push(row);
    }
    rows
}

fn cell(reading: &ReadingSummary) -> String {
    // What would show as zeros behind the point shows as 0; assay.json has all digits.
    let shown = |value: f64| three_digits(if value.abs() < 5e-5 { 0.0 } else { value });
    match (reading.value, reading.note.as_str()) {
        (Some(value), "") => shown(value),
        (Some(value), note) => format!("{} ({note})", shown(value)),
        (None, note) => note.to_owned(),
    }
}
