//! `report.md`: the study on one page, in plain words.

use std::fmt::Write as _;

use super::summary::Summary;
use super::{folds, pairs};
pub(super) use crate::shown::three_digits;
use crate::shown::{counted, signed};
use crate::study::{Comparison, LEAST_FOR_P95, Spread, StrategySummary, high_end};
use crate::trial::LEAVING_GUIDE_MM;
use crate::trial::result::Outcome;

/// The page: a table of the strategies, how the trials ended, the comparisons, the caution.
#[must_use]
pub fn report_page(summary: &Summary) -> String {
    let mut page = String::new();
    let _ = writeln!(page, "# {}\n", summary.scenario);
    let _ = writeln!(page, "Anatomy: {}.\n", summary.origin.trim_end_matches('.'));
    let _ = writeln!(
        page,
        "{} of each strategy, seed {}, bendwise {}, scenario content {}. \
         Trial n of every strategy has the same draws.\n",
        counted(summary.trials as usize, "trial", "trials"),
        summary.seed,
        summary.bendwise_version,
        summary.content_hash
    );
    page.push_str(&acts(&summary.vessel_acts));
    page.push_str("## Success and load\n\n");
    for line in &summary.by_hand {
        let _ = writeln!(page, "{line}\n");
    }
    let high = high_end(summary.trials);
    if summary.trials < LEAST_FOR_P95 {
        let _ = writeln!(
            page,
            "In brackets stands the largest value: a 95th percentile needs {LEAST_FOR_P95} trials or more.\n"
        );
    }
    let with_high = |what: &str| format!("{what}: median ({high})");
    page.push_str(&table(
        &[
            "strategy",
            "reached",
            "rate (95 % interval)",
            "attempts, median",
            &with_high("wall force without leaving the guide, mN"),
            &with_high("push force on the wire, leaving the guide included, mN"),
            "fed + withdrawn, wire and catheter, mm: median",
            "turned, degrees: median",
            "bending strain over limit, largest",
            &with_high("set kept by the wire, degrees"),
        ],
        summary.strategies.iter().map(load_row),
    ));
    page.push_str("\n## Force on the wall by place\n\n");
    let _ = writeln!(page, "{}\n", places());
    page.push_str(&table(
        &[
            "strategy",
            &with_high("leaving the guide, mN"),
            &with_high("on the way, mN"),
            &with_high("at the target's mouth, mN"),
            &with_high("beyond it, mN"),
        ],
        summary.strategies.iter().map(place_row),
    ));
    page.push_str("\n## Forces of the hands\n\n");
    let _ = writeln!(page, "{}{}\n", hands(), folds::said(summary));
    page.push_str(&table(
        &[
            "strategy",
            &with_high("push on the wire, mN"),
            &with_high("pull on the wire, leaving the guide included, mN"),
            &with_high("torque on the wire, mN mm"),
            &with_high("push on the catheter, mN"),
            &with_high("pull on the catheter, mN"),
            &with_high("torque on the catheter, mN mm"),
        ],
        summary.strategies.iter().map(hand_row),
    ));
    page.push_str(&vessel(summary, &with_high));
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
    page.push_str(&reasons(summary));
    page.push_str(&pairs::sections(summary));
    page.push_str(&as_read(&summary.anatomy_as_read));
    let _ = writeln!(page, "\n## Caution\n\n{}", summary.caution);
    page
}

/// What holds and what moves the vessel; nothing for one that is rigid and stands.
fn acts(lines: &[String]) -> String {
    if lines.is_empty() {
        return String::new();
    }
    let list: String = lines.iter().map(|line| format!("- {line}\n")).collect();
    format!("## The vessel\n\n{list}\n")
}

/// How a file of anatomy was read; nothing for a vessel that does not come from one.
fn as_read(lines: &[String]) -> String {
    if lines.is_empty() {
        return String::new();
    }
    let is_open = |line: &&String| {
        line.starts_with("guess") || line.starts_with("warning: ") || line.contains("is a guess")
    };
    let (open, changed): (Vec<&String>, Vec<&String>) = lines.iter().partition(is_open);
    let mut text = "\n## Anatomy as read\n".to_owned();
    for (head, lines) in [
        ("Guessed because nobody states it, or doubtful:", open),
        (
            "Read and changed to make the scene of the file of anatomy:",
            changed,
        ),
    ] {
        if !lines.is_empty() {
            let _ = writeln!(text, "\n{head}\n");
        }
        for line in lines {
            let _ = writeln!(text, "- {line}");
        }
    }
    text
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
                    "{} points ({} to {})",
                    signed(100.0 * c.rate_difference, 0),
                    signed(low, 0),
                    signed(high, 0)
                ),
                probability(c.p_by_draw.unwrap_or(c.p_mcnemar_exact)),
            ]
        }),
    )
}

/// What is said above the table of places.
fn places() -> String {
    format!(
        "Wall force: the sum of the normal forces of wire and catheter within one millimetre of them; \
         a trial counts with its largest. *Leaving the guide*: in the guide or within {LEAVING_GUIDE_MM} mm \
         of its end along the vessel, where the guide holds the wire. *At the target's mouth*: no farther \
         from its ostium than the two lumens run into each other, and at least one diameter of the \
         target. *Beyond it*: deeper in the target. *On the way*: everywhere else. A trial that presses \
         nowhere at a place counts with 0. The wall force of the other tables and figures is the largest \
         of the last three; a limit of the wall force holds at every place. Where along each vessel, over \
         all trials: `wall-force-map.csv` and `figures/wall-force-map.png`."
    )
}

/// What is said above the table of the hands.
fn hands() -> String {
    "Push and pull are the largest forces in either sense, each as a positive number; the torque is \
     the largest magnitude. They count from the beginning of a trial, leaving the guide included: a \
     bend that comes out of the guide springs open and draws the wire on, so that the largest pull is \
     often that with which the hand holds it back there, and says nothing about the target \
     (`figures/forces.png` shows where along the way each force is). `trials.csv` has both senses and \
     the magnitude of each, and those of the force at the tip (backward: the wall pushes the tip back)."
        .to_owned()
}

/// The median, and in brackets the high end that so many trials allow.
fn spread(m: Spread, trials: u32) -> String {
    format!(
        "{} ({})",
        three_digits(m.median),
        three_digits(m.high(trials))
    )
}

/// What became of a vessel that gives way; nothing for one that does not.
fn vessel(summary: &Summary, with_high: &dyn Fn(&str) -> String) -> String {
    let row = |s: &StrategySummary| {
        let vessel = s.vessel.as_ref()?;
        Some(vec![
            s.name.clone(),
            spread(vessel.moved_mm, vessel.trials),
            spread(vessel.straightened_deg, vessel.trials),
            spread(vessel.compression, vessel.trials),
            format!("{} of {}", vessel.folds, vessel.trials),
        ])
    };
    let rows: Vec<Vec<String>> = summary.strategies.iter().filter_map(row).collect();
    if rows.is_empty() {
        return String::new();
    }
    let heads = [
        "strategy",
        &with_high("axis moved, mm"),
        "turning lost within 10 mm, degrees",
        "compression of the wall along the vessel (0.1 is 10 %)",
        "wall folded (compressed by more than fold_strain), trials",
    ];
    let table = table(&heads, rows.into_iter());
    format!(
        "\n## What became of the vessel\n\nThe vessel gives way as its bed says. A wire that is stiff for a \
         bend draws it straight; the wall of one side becomes shorter then, and may fold. Trials that are \
         unresolved are left out: their last states are no equilibria. Film strips show the vessel as it lies at \
         each moment, the other figures where it lies at rest.\n\n{table}"
    )
}

fn place_row(s: &StrategySummary) -> Vec<String> {
    vec![
        s.name.clone(),
        spread(s.peak_wall_force_leaving_guide_mn, s.trials),
        spread(s.peak_wall_force_on_the_way_mn, s.trials),
        spread(s.peak_wall_force_at_mouth_mn, s.trials),
        spread(s.peak_wall_force_beyond_mn, s.trials),
    ]
}

fn hand_row(s: &StrategySummary) -> Vec<String> {
    let of_catheter = |m| {
        if s.has_catheter() {
            spread(m, s.trials)
        } else {
            String::new()
        }
    };
    vec![
        s.name.clone(),
        spread(s.peak_push_force_mn, s.trials),
        spread(s.peak_pull_force_mn, s.trials),
        spread(s.peak_torque_mn_mm, s.trials),
        of_catheter(s.peak_catheter_push_force_mn),
        of_catheter(s.peak_catheter_pull_force_mn),
        of_catheter(s.peak_catheter_torque_mn_mm),
    ]
}

fn load_row(s: &StrategySummary) -> Vec<String> {
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
        spread(s.peak_wall_force_mn, s.trials),
        spread(s.peak_push_force_mn, s.trials),
        whole(s.travel_mm.median),
        whole(s.turned_deg.median),
        hundredths(s.largest_strain_ratio),
        spread(s.set_deg, s.trials),
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
