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
    let of_all = |count: fn(&StrategySummary) -> u32| -> u64 {
        let own = summary.strategies.iter();
        own.map(|s| u64::from(count(s))).sum()
    };
    let words = unresolved_words(of_all(|s| s.unresolved), of_all(|s| s.trials));
    let _ = writeln!(page, "\n{words}");
    page.push_str(&pairs::sections(summary));
    let _ = writeln!(page, "\n## Caution\n\n{}", summary.caution);
    page
}

/// How many trials are unresolved, and what that means for the rates.
pub(super) fn unresolved_words(unresolved: u64, trials: u64) -> String {
    if unresolved == 0 {
        return format!("None of {trials} trials is unresolved.");
    }
    format!(
        "**{unresolved} of {trials} trials are unresolved**: no equilibrium was found, and how they \
         would have ended is not known. They count as trials that did not reach; had all of them \
         reached, rates would be higher by up to {:.1} points over all.",
        100.0 * unresolved as f64 / trials.max(1) as f64
    )
}

/// "3 of 8", and how many of them are unresolved where some are.
pub(super) fn reached_of(reached: u64, trials: u64, unresolved: u64) -> String {
    if unresolved == 0 {
        format!("{reached} of {trials}")
    } else {
        format!("{reached} of {trials} ({unresolved} unresolved)")
    }
}

/// A row for each comparison of two strategies on the same points and draws.
pub(super) fn comparison_table<'c>(comparisons: impl Iterator<Item = &'c Comparison>) -> String {
    table(
        &[
            "first",
            "second",
            "both reached",
            "only first",
            "only second",
            "neither",
            "rate, second minus first (95 % interval)",
            "p (by draws)",
        ],
        comparisons.map(|c| {
            let [low, high] = c.rate_difference_ci95.map(|end| 100.0 * end);
            vec![
                c.first.clone(),
                c.second.clone(),
                c.both.to_string(),
                c.only_first.to_string(),
                c.only_second.to_string(),
                c.neither.to_string(),
                format!(
                    "{:+.0} points ({low:+.0} to {high:+.0})",
                    100.0 * c.rate_difference
                ),
                probability(c.p_by_draw.unwrap_or(c.p_mcnemar_exact)),
            ]
        }),
    )
}

fn load_row(s: &StrategySummary) -> Vec<String> {
    let spread = |m: MedianP95| format!("{} ({})", three_digits(m.median), three_digits(m.p95));
    vec![
        s.name.clone(),
        reached_of(s.reached.into(), s.trials.into(), s.unresolved.into()),
        format!(
            "{:.0} % ({:.0} to {:.0} %)",
            100.0 * s.rate,
            100.0 * s.ci95[0],
            100.0 * s.ci95[1]
        ),
        plain(s.attempts.median),
        spread(s.peak_wall_force_mn),
        spread(s.peak_push_force_mn),
        whole(s.travel_mm.median),
        whole(s.turned_deg.median),
        hundredths(s.largest_strain_ratio),
    ]
}

fn plain(value: f64) -> String {
    if value.is_finite() {
        value.to_string()
    } else {
        "-".to_owned()
    }
}

fn whole(value: f64) -> String {
    if value.is_finite() {
        format!("{value:.0}")
    } else {
        "-".to_owned()
    }
}

fn hundredths(value: f64) -> String {
    if value.is_finite() {
        format!("{value:.2}")
    } else {
        "-".to_owned()
    }
}

fn outcome_row(s: &StrategySummary) -> Vec<String> {
    let mut cells = vec![s.name.clone()];
    cells.extend(s.outcomes.values().map(ToString::to_string));
    cells
}

/// A value with three digits that count, as far as that needs no more than five decimals; a missing
/// one as a dash.
pub(super) fn three_digits(value: f64) -> String {
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
        let texts = [1234.5, 100.04, 12.345, 1.2345, 0.12345, 0.0, f64::NAN].map(three_digits);
        assert_eq!(texts, ["1234", "100", "12.3", "1.23", "0.123", "0", "-"]);
    }
}
