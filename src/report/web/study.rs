//! The page of a study: inputs, results, playback, figures, what is left out.

use maud::{Markup, html};

use super::document::{Document, Gallery, Part};
use super::forks::forks;
use super::inputs::{named, scenario_copy, section_parts};
use super::limits::limits;
use super::markdown::{left_out, parts};
use super::playback::Playback;
use super::player::{how_to_read, player};
use crate::report::page::report_page;
use crate::report::setting::Setting;
use crate::report::summary::Summary;
use crate::shown::{counted, fixed, three_digits};
use crate::study::{StrategyLabel, StrategySummary};
use crate::trial::result::TrialRow;

/// Figures that stand below a heading of the report: beginning of the heading, figure, what it says.
const BELOW: &[(&str, &str, &str)] = &[
    (
        "Success and load",
        "success-rate",
        "Share of the trials that reached, with its 95 % interval.",
    ),
    (
        "Force on the wall",
        "wall-force-map",
        "Where along each vessel the trials press on the wall, and how hard.",
    ),
    (
        "Forces of the hands",
        "forces",
        "Push and wall force of the recorded trials against the travel of the wire.",
    ),
    (
        "How the trials ended",
        "outcomes",
        "How the trials of each strategy ended.",
    ),
    (
        "Techniques against",
        "comparison",
        "Strategies side by side on the same draws.",
    ),
];

/// Bytes that film strips and scenes may take together.
const ROOM: usize = 2_400_000;

/// The page of a finished study.
pub(in crate::report) fn study_page(
    setting: &Setting,
    summary: &Summary,
    strategies: &[StrategyLabel],
    rows: &[Vec<TrialRow>],
    playback: Option<&Playback>,
    gallery: &Gallery,
) -> String {
    let page = &setting.page;
    let (lead, report) = parts(&report_page(summary), gallery);
    let mut shown = vec![Part::new("What went in", inputs(setting, summary))];
    for mut part in report.into_iter().filter(|p| p.title != "Caution") {
        for (start, name, says) in BELOW {
            if part.title.starts_with(start) {
                let figure = gallery.figure(name, says);
                part.body = html! { (part.body) (figure) };
            }
        }
        let is_outcomes = part.title == "How the trials ended";
        shown.push(part);
        if is_outcomes {
            shown.push(Part::new(
                "Which fork, which wrong branch",
                html! {
                    p { "Where the tip left the way to the target, and in which branch it lay when the trial ended." }
                    (forks(&page.branches, &setting.outline.target, strategies, rows))
                },
            ));
        }
    }
    shown.push(Part::new(
        "Limits",
        html! {
            p { "Each limit that the scenario or a wire states, and whether any trial went beyond it." }
            (limits(&page.limits, strategies, rows))
        },
    ));
    // The playback comes first behind the inputs: it is what most people look for.
    if let Some(playback) = playback {
        shown.insert(
            1,
            Part::new("Playback", html! { (how_to_read()) (player(playback)) }),
        );
    }
    shown.push(Part::new("Film strips and scenes", films(gallery)));
    shown.push(Part::new("What the model leaves out", left_out()));
    if !page.files.is_empty() {
        shown.push(scenario_copy(&page.files));
    }
    let document = Document {
        title: summary.scenario.clone(),
        kind: "study",
        lead: html! { (lead) (in_short(summary, &shown)) },
        parts: shown,
        playback: playback.map_or_else(String::new, Playback::json),
        script: "",
    };
    document.html()
}

/// Trials below which the page says that they are few.
const FEW: u32 = 16;
/// Strategies that are named at the top.
const IN_SHORT: usize = 3;

/// The answer in a few lines: the strategies that reach most often, with the way to the tables.
fn in_short(summary: &Summary, parts: &[Part]) -> Markup {
    let mut best: Vec<&StrategySummary> = summary.strategies.iter().collect();
    best.sort_by(|a, b| b.rate.total_cmp(&a.rate));
    let more = best.len().saturating_sub(IN_SHORT);
    best.truncate(IN_SHORT);
    let table = parts
        .iter()
        .position(|part| part.title == "Success and load");
    let per_cent = |share: f64| fixed(100.0 * share, 0);
    html! {
        div.short aria-label="In short" {
            @for strategy in best {
                p {
                    strong { (strategy.name) } " reached in " (strategy.reached) " of " (strategy.trials) " trials: "
                    (per_cent(strategy.rate)) " % (95 % interval " (per_cent(strategy.ci95[0])) " to "
                    (per_cent(strategy.ci95[1])) " %)"
                    @if strategy.peak_wall_force_mn.median.is_finite() {
                        ", median of the peak wall forces " (three_digits(strategy.peak_wall_force_mn.median)) " mN"
                    }
                }
            }
            @if summary.trials < FEW {
                p { (counted(summary.trials as usize, "trial", "trials")) " of each are few: see how wide the intervals are." }
            }
            @if let Some(at) = table {
                p {
                    @if more > 0 { (counted(more, "further strategy", "further strategies")) " and forces: " }
                    a href={"#part-" (at + 1)} { "Success and load" }
                }
            }
        }
    }
}

fn inputs(setting: &Setting, summary: &Summary) -> Markup {
    let lines = [
        ("program", format!("bendwise {}", summary.bendwise_version)),
        ("seed of the draws", summary.seed.to_string()),
        ("trials of each strategy", summary.trials.to_string()),
        (
            "hash of all files read (SHA-256)",
            summary.content_hash.clone(),
        ),
    ];
    let lines = lines.map(|(name, text)| (name.to_owned(), text));
    html! {
        (named(&lines))
        (section_parts(&setting.page.sections))
    }
}

/// Film strips and scenes, as many as there is room for; of the others only their files are named.
fn films(gallery: &Gallery) -> Markup {
    let mut left = ROOM;
    let strips = gallery
        .names("film-")
        .map(|name| (name, "Six moments of a typical trial."));
    let scenes = gallery.names("scene").map(|name| match name {
        "scene" => (name, "Where the wires end in the recorded trials."),
        name => (name, "One trial from start to end."),
    });
    let figures = strips.chain(scenes).map(|(name, says)| {
        let bytes = gallery.bytes(name);
        if bytes > left {
            return html! { p.note { (says) " No room on this page: " span.file { "figures/" (name) ".png" } } };
        }
        left -= bytes;
        gallery.figure(name, says)
    });
    let figures: Vec<Markup> = figures.collect();
    html! { @for figure in &figures { (figure) } }
}
