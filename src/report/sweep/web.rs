//! `report.html` of a sweep. It is made from the setup alone, beside results and figures, so that a
//! sweep that was gathered from shares has the same page as one that was run whole.

use maud::{Markup, html};

use crate::report::web::{Gallery, PlainPage, sortable};
use crate::scenario::sweep::model::{Distribution, ParameterSpec, Values, shown};
use crate::study::StudySetup;

/// The page; `report` is the text of `report.md`.
pub(super) fn web_page(setup: &StudySetup, report: &str, gallery: &Gallery) -> String {
    let named = [
        ("program", format!("bendwise {}", setup.version)),
        ("base scenario", setup.scenario.clone()),
        ("anatomy", setup.origin.clone()),
        ("points", setup.points.to_string()),
        (
            "trials of each strategy at a point",
            setup.trials.to_string(),
        ),
        ("seed of design and draws", setup.seed.to_string()),
        (
            "hash of all files read (SHA-256)",
            setup.content_hash.clone(),
        ),
    ];
    let page = PlainPage {
        kind: "sweep",
        report,
        inputs: named.map(|(name, text)| (name.to_owned(), text)).to_vec(),
        more: Some(varied(setup)),
        sections: &[],
        files: &setup.files,
    };
    page.html(gallery)
}

/// What is varied, and the strategies.
fn varied(setup: &StudySetup) -> Markup {
    let owned = |head: &str| (head.to_owned(), String::new());
    let parameters: Vec<Vec<String>> = (setup.design.parameters.iter())
        .map(|p| vec![p.label.clone(), p.unit.clone(), values(p), p.column.clone()])
        .collect();
    let strategies: Vec<Vec<String>> = (setup.strategies.iter())
        .map(|s| vec![s.name.clone(), s.technique.clone(), s.wire.clone()])
        .collect();
    html! {
        h3 { "What is varied" }
        (sortable(&["parameter", "unit", "values", "column of the tables"].map(owned), &parameters))
        h3 { "Strategies" }
        (sortable(&["strategy", "technique", "wire"].map(owned), &strategies))
    }
}

/// The values that a parameter takes, in words.
fn values(parameter: &ParameterSpec) -> String {
    match &parameter.values {
        Values::Listed { levels, .. } => levels.iter().map(shown).collect::<Vec<_>>().join(", "),
        Values::Spread {
            distribution,
            whole,
        } => {
            let whole = if *whole { ", whole numbers" } else { "" };
            format!("{}{whole}", drawn(distribution))
        }
    }
}

/// A distribution in words.
fn drawn(distribution: &Distribution) -> String {
    match distribution {
        Distribution::Uniform { low, high } => format!("{low} to {high}, all as likely"),
        Distribution::LogUniform { low, high } => format!("{low} to {high}, all ratios as likely"),
        Distribution::Normal { mean, sd } => format!("normal, {mean} with standard deviation {sd}"),
        Distribution::TruncatedNormal {
            mean,
            sd,
            low,
            high,
        } => format!("normal, {mean} with standard deviation {sd}, cut off at {low} and {high}"),
    }
}
