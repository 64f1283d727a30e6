//! What the result hangs on.

use maud::{Markup, html};

use super::checks::digits;
use super::heads;
use super::summary::EvidenceSummary;
use crate::evidence::{Answer, Effect, HangsOn};
use crate::report::web::{Gallery, sortable};

/// Inputs that are named of an answer.
const NAMED: usize = 2;

/// What an answer hangs on in a few words, with numbers; `None` where nothing moves it.
pub(super) fn in_short(of: &HangsOn) -> Option<String> {
    let end = |end: Option<f64>| end.map_or("cannot be built".to_owned(), digits);
    let moved =
        |input: &Effect| format!("{} {} to {}", input.input, end(input.low), end(input.high));
    let largest: Vec<String> = of.largest(NAMED).map(moved).collect();
    let answer = match of.answer {
        Answer::Rate => format!("success rate {} %", digits(of.stated)),
        Answer::Force(force) => format!("{} {} mN", force.words(), digits(of.stated)),
    };
    (!largest.is_empty()).then(|| format!("{answer}: {}", largest.join(", ")))
}

/// What does the result hang on?
pub(super) fn hangs_part(summary: &EvidenceSummary, gallery: &Gallery) -> Markup {
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
        p {
            "Forces are medians over all draws, as above; where an input changes which draws reach, a median of forces \
             goes over other draws than before. With " (summary.draws) " draws a rate moves in steps of "
            (digits(100.0 / f64::from(summary.draws.max(1)))) " %."
        }
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
             intervals; a dash where the rows are too few to tell it (--rows)."
        }
        (sortable(
            &heads(&[
                "strategy", "result", "input", "as it is", "at the low end", "at the high end", "first order", "total",
            ]),
            &rows,
        ))
    }
}
