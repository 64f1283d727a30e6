//! With what a page was made, and how its numbers were worked out.

use maud::{Markup, html};

use super::checks::ChecksSummary;
use super::summary::EvidenceSummary;

/// What stands at the head of a page: when, by which program, with which options, of which files.
pub(super) fn made_by(
    checks: &ChecksSummary<'_>,
    options: &[(String, String)],
    summary: Option<&EvidenceSummary>,
) -> Markup {
    let option = |(name, value): &(String, String)| format!("{name} {value}").trim_end().to_owned();
    let options: Vec<String> = options.iter().map(option).collect();
    html! {
        table.named {
            tbody {
                tr { th { "made" } td { (chrono::Utc::now().format("%Y-%m-%d %H:%M UTC")) } }
                tr { th { "program" } td { "bendwise " (checks.bendwise) ", build " (checks.build) } }
                @if !options.is_empty() {
                    tr { th { "options" } td { (options.join(" ")) } }
                }
                @if let Some(summary) = summary {
                    tr { th { "scenario" } td { (summary.scenario) } }
                    tr { th { "SHA-256 over all files read together" } td { (summary.content_hash) } }
                    tr {
                        th { "trials" }
                        td {
                            (summary.trials) ": " (summary.draws) " draws of each strategy, run in " (summary.points)
                            " ways, seed " (summary.seed)
                        }
                    }
                }
            }
        }
    }
}

/// How this was worked out.
pub(super) fn method_part() -> Markup {
    html! {
        p {
            "Error of a force: of the draws that end alike with the setting as it is, half and a quarter of it, the \
             medians of the relative differences of the same draws; f1 = 1, f2 and f3 = 1 plus these medians. Observed \
             order p = ln[(f1 - f2)/(f2 - f3)]/ln 2; where the meshes lead: f1 + (f2 - f1) 2^p/(2^p - 1) \
             (Richardson's extrapolation); half of the interval 1.25 |f1 - f2| 2^p/(2^p - 1) (grid convergence index, \
             Roache 1994, from memory), p at most 2. Where differences do not fall with an order of 0.5 to 2.5: three \
             times the largest difference. The tolerance falls tenfold at a time. A stiffer wall is another wall and \
             stands apart from the verdict."
        }
        p {
            "Cost: Newton iterations, times as many edges. Error left: distance of a force from where the meshes \
             lead, by the median of the differences of draws, over that as it is, of the force for which it is largest."
        }
        p {
            "Shares of the variance: pick-freeze rows of a scrambled Sobol sequence; first order by Janon 2014, total \
             by Jansen 1999; intervals by the jackknife over rows."
        }
    }
}
