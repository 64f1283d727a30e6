//! Whether the inputs of a scenario lie inside what was checked.

use maud::{Markup, html};

use super::checks::{ChecksSummary, digits};
use crate::evidence::{Input, RangeOf, Scope, Where};

/// Is it inside what was checked?
pub(super) fn scope_part(scopes: &[Scope], checks: &ChecksSummary<'_>) -> Markup {
    html! {
        p {
            "Each input against the smallest and the largest value at which a check that holds compares with a value \
             from outside: a closed form, a publication, an independent computation. Checks in which the program is \
             held against itself, and published experiments, stand beside them and decide nothing. A check sees a few \
             values of one input at a time: inside for each is not inside for all together."
        }
        @if !checks.left_out.is_empty() {
            p { "Checks that were left out count for nothing here: " (checks.left_out.join(", ")) "." }
        }
        div.scroll tabindex="0" {
            table {
                thead {
                    tr {
                        @for head in ["input", "in this scenario", "checked", "lies", "by these checks", "beside them"] {
                            th { (head) }
                        }
                    }
                }
                tbody { @for scope in scopes { (row(scope)) } }
            }
        }
    }
}

fn row(scope: &Scope) -> Markup {
    let range = |[low, high]: [f64; 2]| over(scope.input, low, high);
    let class = if scope.lies == Where::Inside {
        "holds"
    } else {
        "unsure"
    };
    html! {
        tr {
            td { (scope.input.words()) }
            td { (over(scope.input, scope.low, scope.high)) }
            td { (scope.checked.map_or("-".to_owned(), range)) }
            td { span class=(class) { (scope.lies.words()) } }
            td { (all(&scope.outside)) }
            td {
                @if !scope.own.is_empty() { "held against itself: " (all(&scope.own)) }
                @if !scope.own.is_empty() && !scope.experiments.is_empty() { "; " }
                @if !scope.experiments.is_empty() { "experiment: " (all(&scope.experiments)) }
            }
        }
    }
}

/// A range with its unit; one value where the ends are the same.
fn over(input: Input, low: f64, high: f64) -> String {
    let (low, high) = (digits(low), digits(high));
    let values = if low == high {
        low
    } else {
        format!("{low} to {high}")
    };
    format!("{values} {}", input.unit()).trim_end().to_owned()
}

/// Names with their own ranges.
fn all(ranges: &[RangeOf]) -> String {
    let one = |range: &RangeOf| {
        let (low, high) = (digits(range.low), digits(range.high));
        if low == high {
            format!("{} ({low})", range.name)
        } else {
            format!("{} ({low} to {high})", range.name)
        }
    };
    ranges.iter().map(one).collect::<Vec<String>>().join(", ")
}

/// Inputs that do not lie inside, in words.
pub(super) fn in_short<'a>(outside: impl Iterator<Item = &'a Scope>) -> String {
    let outside: Vec<&Scope> = outside.collect();
    let names = |lies: Where| {
        let of = outside.iter().filter(|scope| scope.lies == lies);
        of.map(|scope| scope.input.words()).collect::<Vec<&str>>()
    };
    let parts = [Where::Outside, Where::Unchecked].map(|lies| (lies, names(lies)));
    let parts = parts.iter().filter(|(_, names)| !names.is_empty());
    let parts: Vec<String> = parts
        .map(|(lies, names)| match lies {
            Where::Unchecked => format!(
                "no check of those carried out varies {} against values from outside",
                names.join(", ")
            ),
            _ => format!("outside the ranges of the checks: {}", names.join(", ")),
        })
        .collect();
    if parts.is_empty() {
        "all inside the ranges of the checks".to_owned()
    } else {
        parts.join("; ")
    }
}
