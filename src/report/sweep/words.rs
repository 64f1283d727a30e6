//! What intervals and regressions of a sweep can tell and what they cannot, in words.

use std::fmt::Write as _;

use super::page::digits;
use super::regression::Regression;
use crate::study::sweep::{Separation, StrategyTotals};

/// Draws from which more than two kinds of them would show.
const FEW: f64 = 5.0;
/// Factor on the odds beyond which a number tells no more than "very much".
const VERY_MUCH: f64 = 1000.0;

/// How the intervals of rates come about, and what so many draws leave unknown.
pub(super) fn on_draws(totals: &[StrategyTotals]) -> String {
    let mut text = "Trial n has the same draws at every point, so trials are not independent. \
        Intervals are exact ones (Clopper and Pearson) on an effective number of trials, found from how \
        much the draws differ (Korn and Graubard): those that would tell as much if each had a draw \
        and a point of its own.\n\n"
        .to_owned();
    let draws = totals.iter().map(|t| t.draws).filter(|draws| *draws > 0.0);
    let draws = draws.fold(f64::INFINITY, f64::min);
    if !draws.is_finite() {
        return text;
    }
    if draws < FEW - 1e-9 {
        let _ = writeln!(
            text,
            "**{draws:.0} {} cannot carry a narrow interval.** Below five draws each counts as one \
             trial, however many points it met: that so few draws end alike says nothing about other \
             draws.\n",
            if draws < 1.5 { "draw" } else { "draws" }
        );
    }
    let unseen = 100.0 * (1.0 - 0.05_f64.powf(1.0 / draws));
    let _ = writeln!(
        text,
        "No interval knows of a kind of draw that was not drawn: with {draws:.0}, a kind that makes up \
         {unseen:.0} % of all draws is missing in one sweep of twenty, a rarer one more often.\n"
    );
    text
}

/// How to read the regressions; where data are separated, which parameters do it.
pub(super) fn on_regressions(regressions: &[Regression]) -> String {
    let mut text = "\nEnds are the least and largest level, or the 5th and 95th percentile; a category \
        stands against its first level. `sweep.json` has the odds ratios for one unit. Linear in each \
        parameter: a rate that rises and falls again shows in the figures, not here. The likelihood has \
        Firth's penalty (Biometrika 1993), which keeps odds ratios finite. Intervals are the wider of \
        two: with all trials independent, and with all trials of one draw as one cluster by Student's \
        distribution.\n\n"
        .to_owned();
    for regression in regressions {
        let Some(fit) = &regression.fit else {
            continue;
        };
        if fit.separation != Separation::None {
            let terms = fit.terms.iter().filter(|term| term.unbounded);
            let names: Vec<&str> = terms.map(|term| term.name.as_str()).collect();
            let _ = writeln!(
                text,
                "**{}: {}.** {} {} success from failure without exception at a part of the points or at \
                 all, so that trials alone set no bound to the odds ratio: what stands above is finite by \
                 the penalty alone. Counts were divided by {}, the trials that are worth one with a draw \
                 of its own, and the intervals are those of the penalised profile likelihood: their near \
                 end is what the trials tell.\n",
                regression.strategy,
                fit.separation.words(),
                names.join(", "),
                if names.len() == 1 {
                    "tells"
                } else {
                    "together tell"
                },
                digits(fit.trials_worth_one)
            );
        }
        let very_much = regression.over_range.iter().filter(|over| {
            let ratio = over.odds_ratio;
            !over.unbounded && !(1.0 / VERY_MUCH..=VERY_MUCH).contains(&ratio)
        });
        let names: Vec<&str> = very_much.map(|over| over.name.as_str()).collect();
        if !names.is_empty() {
            let _ = writeln!(
                text,
                "{}: the odds ratio of {} lies beyond 1 to {VERY_MUCH} or {VERY_MUCH} to 1. Read it as \
                 \"from hardly ever to nearly always\": no number of trials here tells its size.\n",
                regression.strategy,
                names.join(", ")
            );
        }
    }
    text
}
