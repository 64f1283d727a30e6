//! Whether the result is converged: forces as they are reported, by how much each may be off, what halves that, and
//! the outcomes that change.

use maud::{Markup, html};

use super::checks::digits;
use super::heads;
use super::summary::EvidenceSummary;
use crate::evidence::{Converged, Force, HALVED_FROM, Knob, OfForce, OfSetting, Paired, Rule};
use crate::report::web::{Gallery, sortable};

/// Is the result converged?
pub(super) fn converged_part(summary: &EvidenceSummary, gallery: &Gallery) -> Markup {
    html! {
        p {
            "Each strategy is run on the same " (summary.draws) " draws as it is, with each setting made finer twice, \
             and with all of them. A result counts as converged where every force that counts is off by "
            (digits(summary.asked_per_cent)) " % at most and at most one outcome in twenty changes."
        }
        p {
            "Forces: the median over all draws of the largest force of each, draws that miss the target included: the "
            code { "median" } " of " code { (Force::Push.entry()) } ", " code { (Force::Wall.entry()) } " and "
            code { (Force::Tip.entry()) } " in the " code { "summary.json" } " of " code {
                "bendwise run --trials " (summary.draws) " --seed " (summary.seed)
            }
            ". More draws move that median; the error here is that of the meshes alone. It is told draw by draw on \
             the draws that end alike: the median of the differences of the same draws, with an interval that holds \
             it in 95 of 100 sets of draws (from " (Paired::LEAST) " draws on)."
        }
        @for converged in &summary.converged {
            h3 { (converged.strategy) }
            p {
                span class=(if converged.is_converged { "holds" } else { "unsure" }) { (converged.verdict) } "."
            }
            (reported_table(converged))
            (forces_table(converged))
            (offers_table(converged, summary.asked_per_cent))
            (flips(converged, gallery))
        }
    }
}

/// The forces as a run of the same draws reports them.
fn reported_table(converged: &Converged) -> Markup {
    let row = |of: &OfForce| {
        let reported = of.reported?;
        let off = of.off_per_cent();
        Some(vec![
            of.force.words().to_owned(),
            digits(reported.median_mn),
            digits(reported.p95_mn),
            reported.reached_mn.map_or("-".to_owned(), digits),
            format!("{} of {}", reported.reached, converged.draws),
            off.map_or("not told".to_owned(), |off| format!("{off:.2}")),
        ])
    };
    let rows: Vec<Vec<String>> = converged.forces.iter().filter_map(row).collect();
    if rows.is_empty() {
        return html! {};
    }
    sortable(
        &heads(&[
            "force",
            "median of all draws, mN",
            "95th percentile, mN",
            "median of those that reach, mN",
            "reached",
            "off by at most, %",
        ]),
        &rows,
    )
}

/// A share in % with two places; what rounds to none has no sign.
fn percent(value: f64) -> String {
    let text = format!("{value:.2}");
    if text == "-0.00" {
        "0.00".to_owned()
    } else {
        text
    }
}

/// What each finer setting says of each force.
fn forces_table(converged: &Converged) -> Markup {
    let row = |of: &OfForce, setting: &OfSetting| {
        let (estimate, paired) = (&setting.estimate, &setting.paired);
        vec![
            of.force.words().to_owned(),
            match setting.knob {
                Some(Knob::Wall) => format!("{} (another wall)", setting.setting),
                _ => setting.setting.clone(),
            },
            percent(paired.median_per_cent),
            paired.interval_per_cent.map_or_else(
                || format!("too few draws ({})", paired.draws),
                |[low, high]| format!("{} to {}", percent(low), percent(high)),
            ),
            estimate
                .per_cent()
                .map_or("-".to_owned(), |p| format!("{p:.2}")),
            match (estimate.rule, estimate.order) {
                (Rule::Observed, Some(order)) => format!("{order:.2}, {}", estimate.rule.words()),
                _ => estimate.rule.words().to_owned(),
            },
            digits(estimate.limit),
            format!(
                "{:.1} (draw {})",
                setting.worst_draw_per_cent, setting.worst_draw
            ),
            setting.draws.to_string(),
        ]
    };
    let rows: Vec<Vec<String>> = converged
        .forces
        .iter()
        .flat_map(|of| of.together.iter().chain(&of.alone).map(move |s| row(of, s)))
        .collect();
    if rows.is_empty() {
        return html! { p { "No draw ends alike with finer settings." } };
    }
    sortable(
        &heads(&[
            "force",
            "setting",
            "median difference of draws, %",
            "its interval, %",
            "error of the mesh, %",
            "order",
            "where the meshes lead, mN",
            "largest change of a draw, %",
            "draws that end alike",
        ]),
        &rows,
    )
}

/// What each setting costs, and what it leaves of the errors.
fn offers_table(converged: &Converged, asked: f64) -> Markup {
    let names: Vec<&str> = converged.to_halve.iter().map(|f| f.words()).collect();
    let least = digits(HALVED_FROM * asked);
    if names.is_empty() {
        return html! {
            p { "No error to halve: the meshes leave less than " (least) " % of every force that counts." }
        };
    }
    let names = names.join(", ");
    html! {
        p {
            @match converged.halving() {
                Some(offer) => {
                    "The cheapest setting that halves the error of " (names) ": " strong { (offer.setting) }
                    ", at " (format!("{:.1}", offer.cost)) " times the cost."
                }
                None => { "No setting that was tried halves the error of " (names) "." }
            }
            " Forces that are off by less than " (least) " % are left out."
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

/// Outcomes that change, with films.
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
    let films = gallery.names("flip-");
    let own = films.filter(|name| super::is_film_of(name, &converged.strategy));
    html! {
        p { "Outcomes that change:" }
        (sortable(&heads(&["draw", "setting", "as it is", "with that setting"]), &rows))
        @for name in own {
            (gallery.figure(name, &super::film_words(name)))
        }
    }
}
