//! `report.html`: what was checked, and how far the result of a scenario can be trusted.

use maud::{Markup, html};

use super::checks::{CarriedOut, ChecksSummary, table};
use super::converged::converged_part;
use super::experiments::{self, experiments};
use super::hangs::hangs_part;
use super::method::{made_by, method_part};
use super::scope::{self, scope_part};
use super::summary::EvidenceSummary;
use crate::evidence::{Checked, Says};
use crate::report::scene::Section;
use crate::report::web::{Document, Gallery, Part, left_out, scenario_copy, section_parts};

/// Checks alone, as a page; `options` are those of the command.
#[must_use]
pub fn checks_page(carried: &CarriedOut, options: &[(String, String)]) -> String {
    let summary = ChecksSummary::new(carried);
    let document = Document {
        title: "Was the program checked?".to_owned(),
        kind: "evidence",
        lead: html! {
            table.named { tbody { (program_row(&summary)) (experiments_row(carried)) } }
            (made_by(&summary, options, None))
        },
        parts: [Part::new(
            "Checks against values from outside",
            checks_part(&carried.checks),
        )]
        .into_iter()
        .chain(experiments_part(carried))
        .chain([Part::new("What the model leaves out", left_out())])
        .collect(),
        playback: String::new(),
        script: "",
    };
    document.html()
}

/// What the page of a scenario needs beside its findings.
#[derive(Debug, Clone, Default)]
pub struct Inputs {
    /// The scene in words.
    pub sections: Vec<Section>,
    /// The files that were read: name and text.
    pub files: Vec<(String, String)>,
    /// Options of the command: name and value.
    pub options: Vec<(String, String)>,
}

/// The page of a scenario.
pub(super) fn scenario_page(
    summary: &EvidenceSummary,
    carried: &CarriedOut,
    inputs: &Inputs,
    gallery: &Gallery,
) -> String {
    let of_checks = ChecksSummary::new(carried);
    let document = Document {
        title: format!("How far the result of {} can be trusted", summary.scenario),
        kind: "evidence",
        lead: html! {
            (lead(summary, carried))
            (made_by(&of_checks, &inputs.options, Some(summary)))
        },
        parts: [
            Part::new("Is the result converged?", converged_part(summary, gallery)),
            Part::new(
                "What does the result hang on?",
                hangs_part(summary, gallery),
            ),
            Part::new(
                "Is it inside what was checked?",
                scope_part(&summary.scopes, &of_checks),
            ),
            Part::new("Was the program checked?", checks_part(&carried.checks)),
        ]
        .into_iter()
        .chain(experiments_part(carried))
        .chain([
            Part::new("How this was worked out", method_part()),
            Part::new("The scene", section_parts(&inputs.sections)),
            Part::new("What the model leaves out", left_out()),
            scenario_copy(&inputs.files),
        ])
        .collect(),
        playback: String::new(),
        script: "",
    };
    document.html()
}

/// What published experiments say, where they were simulated.
fn experiments_part(carried: &CarriedOut) -> Option<Part> {
    let all = &carried.experiments;
    (!all.is_empty()).then(|| Part::new("What do measurements say?", experiments(all)))
}

/// The answers in short.
fn lead(summary: &EvidenceSummary, carried: &CarriedOut) -> Markup {
    let checks = ChecksSummary::new(carried);
    let all_inside = summary.not_inside().next().is_none();
    html! {
        table.named {
            tbody {
                (program_row(&checks))
                @for converged in &summary.converged {
                    tr {
                        th { (converged.strategy) }
                        td {
                            span class=(if converged.is_converged { "holds" } else { "unsure" }) {
                                (converged.verdict)
                            }
                            @let hangs: Vec<String> = summary.hangs_of(&converged.strategy).collect();
                            @if !hangs.is_empty() { br; "Hangs most on: " (hangs.join("; ")) "." }
                        }
                    }
                }
                tr {
                    th { "Inputs" }
                    td {
                        span class=(if all_inside { "holds" } else { "unsure" }) {
                            (scope::in_short(summary.not_inside()))
                        }
                    }
                }
                (experiments_row(carried))
            }
        }
    }
}

fn program_row(checks: &ChecksSummary<'_>) -> Markup {
    html! {
        tr {
            th { "Program" }
            td { span class=(if checks.hold == checks.of { "holds" } else { "fails" }) { (checks.words()) } }
        }
    }
}

fn experiments_row(carried: &CarriedOut) -> Markup {
    let all = &carried.experiments;
    let is_clear = all.iter().all(|of| of.says == Says::Agrees);
    html! {
        @if !all.is_empty() {
            tr {
                th { "Measurements" }
                td { span class=(if is_clear { "holds" } else { "unsure" }) { (experiments::in_short(all)) } }
            }
        }
    }
}

fn checks_part(checks: &[Checked]) -> Markup {
    html! {
        p {
            "Each check compares with a value from outside, on this machine, with this build; those that are \"held \
             against itself\" compare the program with its own law or with finer settings. A check that fails is red \
             and names what rests on it."
        }
        (table(checks))
    }
}
