//! Published experiments, each with both values side by side and the verdict in words.

use maud::{Markup, html};

use crate::evidence::{Compared, Says};

/// The experiments.
pub(super) fn experiments(all: &[Compared]) -> Markup {
    html! {
        p {
            "Published measurements beside what the program finds, each with the range in which it may lie. Nothing \
             was tuned. A simulated value agrees where it lies in the published range, and disagrees where the two \
             ranges have nothing in common."
        }
        @for of in all {
            h3 { (of.name) ": " (of.question) }
            p { span class=(class(of)) { (of.verdict) } "." }
            p { "Published: " (of.source) ". Simulated: " (of.scene) "." }
            p { "Uncertainty: " (of.uncertainty) ". Not known: " (of.unknown.join("; ")) "." }
            @if !of.pairs.is_empty() {
                div.scroll tabindex="0" {
                    table {
                        thead { tr { th { "what" } th { "published" } th { "simulated" } th { "says" } } }
                        tbody {
                            @for pair in &of.pairs {
                                tr {
                                    td { (pair.what) }
                                    td { (pair.published) }
                                    td { (pair.simulated) }
                                    td { (pair.says.words()) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// All verdicts in a sentence, those that say most first.
pub(super) fn in_short(all: &[Compared]) -> String {
    let kinds = [
        ("disagrees", Says::Disagrees, true),
        ("agrees", Says::Agrees, true),
        ("agrees, which says little", Says::Agrees, false),
        ("cannot be told", Says::CannotTell, true),
    ];
    let named = kinds.map(|(word, says, is_clear)| {
        let counts = |of: &&Compared| {
            let says_something = says != Says::Agrees || of.says_little.is_empty() == is_clear;
            of.says == says && says_something
        };
        let names: Vec<&str> = all.iter().filter(counts).map(|of| of.name).collect();
        (word, names.join(", "))
    });
    let some = named.iter().filter(|(_, names)| !names.is_empty());
    let parts: Vec<String> = some
        .map(|(word, names)| format!("{word}: {names}"))
        .collect();
    parts.join("; ")
}

/// How a verdict is shown.
pub(super) fn class(of: &Compared) -> &'static str {
    match of.says {
        Says::Agrees if of.says_little.is_empty() => "holds",
        Says::Agrees | Says::CannotTell => "unsure",
        Says::Disagrees => "fails",
    }
}
