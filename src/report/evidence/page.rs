//! `report.html`: what was checked, and how far the result of a scenario can be trusted.

use maud::{Markup, html};

use super::checks::{CarriedOut, ChecksSummary, digits, experiments, table};
use super::summary::EvidenceSummary;
use crate::evidence::{
    Checked, Converged, HangsOn, Input, Knob, OfForce, OfSetting, Rule, Scope, Where,
};
use crate::report::scene::Section;
use crate::report::web::{
    Document, Gallery, Part, left_out, scenario_copy, section_parts, sortable,
};

/// Checks alone, as a page.
#[must_use]
pub fn checks_page(carried: &CarriedOut) -> String {
    let summary = ChecksSummary::new(carried);
    let document = Document {
        title: "Was the program checked?".to_owned(),
        kind: "evidence",
        lead: html! { p { (summary.words()) ". " (program(&summary)) } },
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
        lead: lead(summary, &of_checks),
        parts: [
            Part::new("Is the result converged?", converged_part(summary, gallery)),
            Part::new(
                "What does the result hang on?",
                hangs_part(summary, gallery),
            ),
            Part::new(
                "Is it inside what was checked?",
                scope_part(&summary.scopes),
            ),
            Part::new("Was the program checked?", checks_part(&carried.checks)),
        ]
        .into_iter()
        .chain(experiments_part(carried))
        .chain([
            Part::new("How this was worked out", method_part(summary, &of_checks)),
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

fn program(summary: &ChecksSummary<'_>) -> String {
    format!(
        "Program: bendwise {}, build {}.",
        summary.bendwise, summary.build
    )
}

/// The four answers in short.
fn lead(summary: &EvidenceSummary, checks: &ChecksSummary<'_>) -> Markup {
    let outside: Vec<&Scope> = summary.not_inside().collect();
    html! {
        table.named {
            tbody {
                tr {
                    th { "Program" }
                    td {
                        span class=(if checks.hold == checks.of { "holds" } else { "fails" }) {
                            (checks.words())
                        }
                    }
                }
                @for converged in &summary.converged {
                    tr {
                        th { (converged.strategy) }
                        td {
                            span class=(if converged.is_converged { "holds" } else { "unsure" }) {
                                (converged.verdict)
                            }
                        }
                    }
                }
                tr {
                    th { "Inputs" }
                    td {
                        @if outside.is_empty() {
                            span.holds { "all inside the ranges of the checks" }
                        } @else {
                            span.unsure { (outside_words(&outside)) }
                        }
                    }
                }
            }
        }
    }
}

fn outside_words(outside: &[&Scope]) -> String {
    let names: Vec<&str> = outside.iter().map(|scope| scope.input.words()).collect();
    format!("not inside the ranges of the checks: {}", names.join(", "))
}

fn checks_part(checks: &[Checked]) -> Markup {
    html! {
        p {
            "Each check compares with a value from outside, on this machine, with this build. A check that fails \
             is red and names what rests on it."
        }
        (table(checks))
    }
}

fn heads(titles: &[&str]) -> Vec<(String, String)> {
    titles
        .iter()
        .map(|title| ((*title).to_owned(), String::new()))
        .collect()
}

fn converged_part(summary: &EvidenceSummary, gallery: &Gallery) -> Markup {
    html! {
        p {
            "Each strategy is run on the same " (summary.draws) " draws as it is, with each setting made finer twice, \
             and with all of them. A result counts as converged where every force that counts lies within "
            (digits(summary.asked_per_cent)) " % and at most one outcome in twenty changes."
        }
        @for converged in &summary.converged {
            h3 { (converged.strategy) }
            p {
                span class=(if converged.is_converged { "holds" } else { "unsure" }) { (converged.verdict) } "."
            }
            (forces_table(converged))
            (offers_table(converged))
            (flips(converged, gallery))
        }
    }
}

fn forces_table(converged: &Converged) -> Markup {
    let row = |of: &OfForce, setting: &OfSetting| {
        let estimate = &setting.estimate;
        vec![
            of.force.words().to_owned(),
            match setting.knob {
                Some(Knob::Wall) => format!("{} (another wall)", setting.setting),
                _ => setting.setting.clone(),
            },
            digits(estimate.value),
            digits(estimate.limit),
            estimate
                .per_cent()
                .map_or("-".to_owned(), |p| format!("{p:.2}")),
            match (estimate.rule, estimate.order) {
                (Rule::Observed, Some(order)) => format!("{order:.2}"),
                _ => "none".to_owned(),
            },
            estimate.rule.words().to_owned(),
            format!("{:.1}", setting.worst_draw_per_cent),
            setting.draws.to_string(),
        ]
    };
    let rows: Vec<Vec<String>> = converged
        .forces
        .iter()
        .flat_map(|of| of.together.iter().chain(&of.alone).map(move |s| row(of, s)))
        .collect();
    sortable(
        &heads(&[
            "force",
            "setting",
            "median as it is, mN",
            "where the meshes lead, mN",
            "half of the interval, %",
            "order",
            "found by",
            "largest change of a draw, %",
            "draws that end alike",
        ]),
        &rows,
    )
}

fn offers_table(converged: &Converged) -> Markup {
    let halving = converged.halving();
    html! {
        p {
            @match halving {
                Some(offer) => {
                    "The cheapest setting that halves the error of every force: " strong { (offer.setting) }
                    ", at " (format!("{:.1}", offer.cost)) " times the cost."
                }
                None => "No setting that was tried halves the error of every force."
            }
        }
        details.meaning {
            summary { "What each setting costs, and what it leaves" }
            (sortable(
                &heads(&["setting", "cost, times as it is", "error left, share of that as it is"]),
                &converged
                    .offers
                    .iter()
                    .map(|offer| {
                        vec![
                            offer.setting.clone(),
                            format!("{:.2}", offer.cost),
                            format!("{:.2}", offer.error_left),
                        ]
                    })
                    .collect::<Vec<_>>(),
            ))
        }
    }
}

fn flips(converged: &Converged, gallery: &Gallery) -> Markup {
    let all: Vec<_> = converged
        .flips
        .iter()
        .chain(&converged.wall_flips)
        .collect();
    if all.is_empty() {
        return html! { p { "No setting changes an outcome." } };
    }
    let rows: Vec<Vec<String>> = all
        .iter()
        .map(|flip| {
            vec![
                flip.trial.to_string(),
                flip.setting.clone(),
                flip.as_it_is.label().to_owned(),
                flip.finer.label().to_owned(),
            ]
        })
        .collect();
    let films: Vec<String> = gallery.names("flip-").map(ToOwned::to_owned).collect();
    let own = films
        .iter()
        .filter(|name| name.contains(&super::slug_mark(&converged.strategy)));
    html! {
        p { "Outcomes that change:" }
        (sortable(&heads(&["draw", "setting", "as it is", "with that setting"]), &rows))
        @for name in own {
            (gallery.figure(name, &super::film_words(name)))
        }
    }
}

fn hangs_part(summary: &EvidenceSummary, gallery: &Gallery) -> Markup {
    let spreads: Vec<Vec<String>> = summary
        .spreads
        .iter()
        .map(|spread| {
            vec![
                spread.input.words().to_owned(),
                digits(spread.low),
                digits(spread.high),
                spread.input.unit().to_owned(),
                spread.source.clone(),
            ]
        })
        .collect();
    html! {
        p { "Inputs that nobody knows well, and the spreads within which they are varied here:" }
        (sortable(&heads(&["input", "low", "high", "unit", "spread from"]), &spreads))
        @for name in gallery.names("tornado-") {
            (gallery.figure(name, "By how much each input moves the result, alone."))
        }
        (shares(&summary.hangs_on))
    }
}

fn shares(all: &[HangsOn]) -> Markup {
    let index = |index: Option<crate::study::sweep::Index>| {
        index.map_or("-".to_owned(), |i| {
            format!("{:.2} ({:.2} to {:.2})", i.value, i.ci95[0], i.ci95[1])
        })
    };
    let rows: Vec<Vec<String>> = all
        .iter()
        .flat_map(|of| of.effects.iter().map(move |effect| (of, effect)))
        .map(|(of, effect)| {
            let end = |end: Option<f64>| end.map_or("cannot be built".to_owned(), digits);
            vec![
                of.strategy.clone(),
                of.answer.words(),
                effect.input.clone(),
                digits(of.stated),
                end(effect.low),
                end(effect.high),
                index(effect.shares.map(|shares| shares[0])),
                index(effect.shares.map(|shares| shares[1])),
            ]
        })
        .collect();
    let ranges: Vec<Vec<String>> = all
        .iter()
        .filter_map(|of| {
            let [low, high] = of.range?;
            Some(vec![
                of.strategy.clone(),
                of.answer.words(),
                digits(of.stated),
                digits(low),
                digits(high),
            ])
        })
        .collect();
    html! {
        h3 { "Range of the result over all inputs" }
        @if ranges.is_empty() {
            p { "No inputs were drawn." }
        } @else {
            (sortable(
                &heads(&["strategy", "result", "as it is", "2.5th percentile", "97.5th percentile"]),
                &ranges,
            ))
        }
        h3 { "Shares of the variance" }
        p {
            "First order: the share that an input explains alone. Total: the share in which it has a part. 95 % \
             intervals; where they are wide, more rows tell more."
        }
        (sortable(
            &heads(&[
                "strategy", "result", "input", "as it is", "at the low end", "at the high end", "first order", "total",
            ]),
            &rows,
        ))
    }
}

fn scope_part(scopes: &[Scope]) -> Markup {
    let number = |input: Input, value: f64| {
        let unit = input.unit();
        if unit.is_empty() {
            digits(value)
        } else {
            format!("{} {unit}", digits(value))
        }
    };
    html! {
        p {
            "Each input against the smallest and the largest value at which a check that holds compares. A check sees \
             one input at a time: inside for each is not inside for all together."
        }
        div.scroll tabindex="0" {
            table {
                thead {
                    tr {
                        @for head in ["input", "in this scenario", "checked from", "to", "lies", "checks"] {
                            th { (head) }
                        }
                    }
                }
                tbody {
                    @for scope in scopes {
                        tr {
                            td { (scope.input.words()) }
                            td {
                                (number(scope.input, scope.low))
                                @if scope.high > scope.low { " to " (number(scope.input, scope.high)) }
                            }
                            td { @if let Some([low, _]) = scope.checked { (number(scope.input, low)) } }
                            td { @if let Some([_, high]) = scope.checked { (number(scope.input, high)) } }
                            td {
                                span class=(if scope.lies == Where::Inside { "holds" } else { "unsure" }) {
                                    (scope.lies.words())
                                }
                            }
                            td { (scope.checks.join(", ")) }
                        }
                    }
                }
            }
        }
    }
}

fn method_part(summary: &EvidenceSummary, checks: &ChecksSummary<'_>) -> Markup {
    html! {
        table.named {
            tbody {
                tr { th { "program" } td { "bendwise " (summary.bendwise) } }
                tr { th { "build" } td { (checks.build) } }
                tr { th { "scenario" } td { (summary.scenario) } }
                tr { th { "hash of all files read (SHA-256)" } td { (summary.content_hash) } }
                tr { th { "seed" } td { (summary.seed) } }
                tr { th { "draws of each strategy" } td { (summary.draws) } }
                tr { th { "ways in which it was run" } td { (summary.points) } }
                tr { th { "trials" } td { (summary.trials) } }
            }
        }
        p {
            "Error of a force: medians over the draws that end alike with the setting as it is, half and a quarter of \
             it. Observed order p = ln[(f1 - f2)/(f2 - f3)]/ln 2; where the meshes lead: f1 + (f2 - f1) 2^p/(2^p - 1) \
             (Richardson's extrapolation); half of the interval 1.25 |f1 - f2| 2^p/(2^p - 1) (grid convergence index, \
             Roache 1994, from memory), p at most 2. Where differences do not fall with an order of 0.5 to 2.5: three \
             times the largest difference. The tolerance falls tenfold at a time. A stiffer wall is another wall and \
             stands apart from the verdict."
        }
        p {
            "Cost: Newton iterations, times as many edges. Error left: distance of the median force from where the \
             meshes lead, over that as it is, of the force for which it is largest."
        }
        p {
            "Shares of the variance: pick-freeze rows of a scrambled Sobol sequence; first order by Janon 2014, total \
             by Jansen 1999; intervals by the jackknife over rows."
        }
    }
}
