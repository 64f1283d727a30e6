//! Strategies against each other on the same draws, as tables that a person can read: techniques
//! with the same wire, and wires with the same technique.

use std::fmt::Write as _;

use super::figures;
use super::page::{probability, table};
use super::summary::Summary;
use crate::study::{Comparison, StrategySummary};

/// What a cell of the tables says.
const CELL: &str = "Each cell: trials that only the first reached : trials that only the second \
                    reached, and p of McNemar's exact test. The p values are not corrected for the \
                    number of comparisons; all pairs stand in `summary.json`.";

/// The sections of the page, each with its heading; empty with a single strategy.
#[must_use]
pub(super) fn sections(summary: &Summary) -> String {
    let mut page = String::new();
    let techniques = distinct(summary, |s| &s.technique);
    let wires = distinct(summary, |s| &s.wire);
    if techniques.len() > 1 {
        page.push_str("\n## Techniques against each other on the same draws\n\n");
        let _ = writeln!(page, "First: the row; second: the column. {CELL}");
        for wire in &wires {
            let _ = writeln!(page, "\n{wire}:\n");
            page.push_str(&triangle(summary, wire, &techniques));
        }
    }
    if wires.len() > 1 {
        page.push_str("\n## Wires against each other on the same draws\n\n");
        let _ = writeln!(page, "{CELL}\n");
        page.push_str(&by_technique(summary, &wires, &techniques));
    }
    page
}

/// Every technique with `wire` against every later one.
fn triangle(summary: &Summary, wire: &str, techniques: &[&str]) -> String {
    let mut heads = vec![""];
    heads.extend(&techniques[1..]);
    let rows = (0..techniques.len() - 1).map(|row| {
        let mut cells = vec![techniques[row].to_owned()];
        cells.extend((1..techniques.len()).map(|column| {
            let pair = (column > row)
                .then(|| between(summary, (techniques[row], wire), (techniques[column], wire)));
            pair.flatten().map_or_else(String::new, cell)
        }));
        cells
    });
    table(&heads, rows)
}

/// A row for each technique, a column for each pair of wires.
fn by_technique(summary: &Summary, wires: &[&str], techniques: &[&str]) -> String {
    let mut pairs: Vec<(&str, &str)> = Vec::new();
    for (place, first) in wires.iter().enumerate() {
        pairs.extend(wires[place + 1..].iter().map(|second| (*first, *second)));
    }
    let heads: Vec<String> = std::iter::once(String::new())
        .chain(pairs.iter().map(|(a, b)| format!("{a} : {b}")))
        .collect();
    let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
    let rows = techniques.iter().map(|technique| {
        let mut cells = vec![(*technique).to_owned()];
        cells.extend(pairs.iter().map(|(a, b)| {
            let pair = between(summary, (technique, a), (technique, b));
            pair.map_or_else(String::new, cell)
        }));
        cells
    });
    table(&heads, rows)
}

fn cell(pair: &Comparison) -> String {
    let p = probability(pair.p_mcnemar_exact);
    format!("{} : {}, p {p}", pair.only_first, pair.only_second)
}

/// The comparison of two strategies, each said by technique and wire.
fn between<'s>(
    summary: &'s Summary,
    first: (&str, &str),
    second: (&str, &str),
) -> Option<&'s Comparison> {
    let name = |(technique, wire): (&str, &str)| {
        let mut own = summary.strategies.iter();
        own.find(|s| s.technique == technique && s.wire == wire)
            .map(|s| s.name.as_str())
    };
    let (first, second) = (name(first)?, name(second)?);
    let mut all = summary.comparisons.iter();
    all.find(|c| c.first == first && c.second == second)
}

fn distinct(summary: &Summary, key: fn(&StrategySummary) -> &String) -> Vec<&str> {
    figures::distinct(summary.strategies.iter().map(|s| key(s).as_str()))
}
