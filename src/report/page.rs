//! `report.md`: the study on one page, in plain words.

use std::fmt::Write as _;

use super::pairs;
use super::summary::Summary;
use crate::study::{Comparison, MedianP95, StrategySummary};
use crate::trial::result::Outcome;

/// The page: a table of the strategies, how the trials ended, the comparisons, the caution.
#[must_use]
pub fn report_page(summary: &Summary) -> String {
    let mut page = String::new();
    let _ = writeln!(page, "# {}\n", summary.scenario);
    let _ = writeln!(page, "Anatomy: {}.\n", summary.origin.trim_end_matches('.'));
    let _ = writeln!(
        page,
        "{} trials of each strategy, seed {}, bendwise {}, scenario content {}. \
         Trial n of every strategy has the same draws.\n",
        summary.trials, summary.seed, summary.bendwise_version, summary.content_hash
    );
    page.push_str("## Success and load\n\n");
    page.push_str(&table(
        &[
            "strategy",
            "reached",
            "rate (95 % interval)",
            "attempts, median",
            "wall force, mN: median (95th percentile)",
            "push force, mN: median (95th percentile)",
            "fed + withdrawn, mm: median",
            "turned, degrees: median",
            "bending strain over limit, largest",
        ],
        summary.strategies.iter().map(load_row),
    ));
    page.push_str("\n## How the trials ended\n\n");
    let mut heads = vec!["strategy"];
    heads.extend(Outcome::ALL.map(Outcome::label));
    page.push_str(&table(&heads, summary.strategies.iter().map(outcome_row)));
    page.push_str(&reasons(summary));
    page.push_str(&pairs::sections(summary));
    let _ = writeln!(page, "\n## Caution\n\n{}", summary.caution);
    page
}

/// Why trials did not reach the target; nothing where all did.
fn reasons(summary: &Summary) -> String {
    let mut rows = Vec::new();
    for strategy in &summary.strategies {
        let mut counts: Vec<(&String, &u32)> = strategy.reasons.iter().collect();
        counts.sort_by_key(|(_, count)| std::cmp::Reverse(**count));
        rows.extend(counts.into_iter().map(|(reason, count)| {
            let cells = [&strategy.name, reason, &count.to_string()];
            cells.map(Clone::clone).to_vec()
        }));
    }
    if rows.is_empty() {
        return String::new();
    }
    let text = "\n## Why trials failed\n\nEach trial's own reason, with places, lengths and forces, \
                stands in the column `why` of `trials.csv`.\n\n";
    text.to_owned() + &table(&["strategy", "reason", "trials"], rows.into_iter())
}

/// A row for each comparison of two strategies.
pub(super) fn comparison_table<'c>(comparisons: impl Iterator<Item = &'c Comparison>) -> String {
    table(
        &[
            "first",
            "second",
            "both reached",
            "only first",
            "only second",
            "neither",
            "rate, second minus first",
            "p (McNemar, exact)",
        ],
        comparisons.map(|c| {
            vec![
                c.first.clone(),
                c.second.clone(),
                c.both.to_string(),
                c.only_first.to_string(),
                c.only_second.to_string(),
                c.neither.to_string(),
                format!("{:+.0} points", 100.0 * c.rate_difference),
                probability(c.p_mcnemar_exact),
            ]
        }),
    )
}

fn load_row(s: &StrategySummary) -> Vec<String> {
    let spread = |m: MedianP95| format!("{} ({})", three_digits(m.median), three_digits(m.p95));
    vec![
        s.name.clone(),
        format!("{} of {}", s.reached, s.trials),
        format!(
            "{:.0} % ({:.0} to {:.0} %)",
            100.0 * s.rate,
            100.0 * s.ci95[0],
            100.0 * s.ci95[1]
        ),
        format!("{}", s.attempts.median),
        spread(s.peak_wall_force_mn),
        spread(s.peak_push_force_mn),
        format!("{:.0}", s.travel_mm.median),
        format!("{:.0}", s.turned_deg.median),
        format!("{:.2}", s.largest_strain_ratio),
    ]
}

fn outcome_row(s: &StrategySummary) -> Vec<String> {
    let mut cells = vec![s.name.clone()];
    cells.extend(s.outcomes.values().map(ToString::to_string));
    cells
}

/// A value with three digits that count, as far as that needs no more than five decimals.
pub(super) fn three_digits(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let decimals = [100.0, 10.0, 1.0, 0.1, 0.01]
        .iter()
        .take_while(|&&limit| value.abs() < limit)
        .count();
    format!("{value:.decimals$}")
}

/// A p value in words.
pub(super) fn probability(p: f64) -> String {
    if p < 0.001 {
        "below 0.001".to_owned()
    } else {
        format!("{p:.3}")
    }
}

/// A table in Markdown; bars in cells become slashes.
pub(super) fn table(heads: &[&str], rows: impl Iterator<Item = Vec<String>>) -> String {
    let line = |cells: Vec<String>| format!("| {} |\n", cells.join(" | "));
    let mut text = line(heads.iter().map(|&h| h.to_owned()).collect());
    text.push_str(&line(vec!["---".to_owned(); heads.len()]));
    for row in rows {
        let clean = row.iter().map(|cell| cell.replace('|', "/")).collect();
        text.push_str(&line(clean));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_and_large_forces_keep_three_digits() {
        let texts = [1234.5, 100.04, 12.345, 1.2345, 0.12345, 0.0].map(three_digits);
        assert_eq!(texts, ["1234", "100", "12.3", "1.23", "0.123", "0"]);
    }
}
