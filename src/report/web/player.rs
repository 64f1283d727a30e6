//! The part of a page in which recorded trials are played: controls that a keyboard reaches, and what is
//! read where there are no scripts.

use maud::{Markup, html};

use super::playback::Playback;

/// Speeds of the clock, and how they are called.
const SPEEDS: [(&str, &str); 6] = [
    ("0.25", "a quarter"),
    ("0.5", "half"),
    ("1", "as in the trial"),
    ("2", "twice"),
    ("5", "5 times"),
    ("20", "20 times"),
];

/// What the picture shows.
pub(super) fn how_to_read() -> Markup {
    html! {
        p {
            "Recorded trials, step by step: the wire to scale, coloured by the force with which a millimetre \
             of it presses on the wall. Darker is more; bands on the wire say it without colours: none up to a \
             quarter of the scale, wide up to a half, then narrow and narrower. The largest force of the moment \
             is marked with its number."
        }
    }
}

/// The player.
pub(super) fn player(playback: &Playback) -> Markup {
    html! {
        @if playback.left_out > 0 {
            p.note {
                (playback.left_out) " further recorded trials have no room on this page; they are in "
                code { "shapes/" } " and " code { "traces/" } "."
            }
        }
        noscript { p { "The playback needs scripts; the film strips below show six moments of each strategy." } }
        div #player {
            p #no-player role="alert" hidden {}
            div.bar {
                span.pair {
                    label for="first" { "Trial " }
                    select id="first" { (choices(playback)) }
                }
                span.pair {
                    label for="second" { "beside it " }
                    select id="second" { option value="" { "none" } (choices(playback)) }
                }
                span.pair {
                    label for="view" { "seen " }
                    select id="view" {
                        @for (i, view) in playback.scenes.iter().take(1).flat_map(|s| &s.views).enumerate() {
                            option value=(i) { (view.name) }
                        }
                        option value="free" { "freely (drag, or arrow keys)" }
                    }
                }
            }
            div #panes {
                (pane(1))
                (pane(2))
            }
            div.bar {
                button type="button" id="play" { "Play" }
                button type="button" id="back" { "Step back" }
                button type="button" id="forward" { "Step forward" }
                button type="button" id="start" { "To the start" }
                button type="button" id="end" { "To the end" }
                span.pair {
                    label for="speed" { "Speed " }
                    select id="speed" {
                        @for (value, name) in SPEEDS {
                            option value=(value) selected[value == "2"] { (name) }
                        }
                    }
                }
                output id="clock" for="time" { "0.0 s" }
                span.pair.wide {
                    label for="time" { "Time " }
                    input type="range" id="time" min="0" max="1" step="0.01" value="0";
                }
            }
            div.bar {
                button type="button" id="nearer" { "Nearer" }
                button type="button" id="farther" { "Farther" }
                button type="button" id="turn-left" aria-label="Turn to the left" { "Turn ←" }
                button type="button" id="turn-right" aria-label="Turn to the right" { "Turn →" }
                button type="button" id="turn-up" aria-label="Turn up" { "Turn ↑" }
                button type="button" id="turn-down" aria-label="Turn down" { "Turn ↓" }
                label { input type="checkbox" id="follow"; " follow the tip" }
                label { input type="checkbox" id="names" checked; " names of the branches" }
            }
            div #legend aria-label="Scale of the wall force" {}
        }
    }
}

/// The trials to choose from, below the strategy of each: a line that is short enough to be read when the list is
/// closed. What is shown stands in full above its picture.
fn choices(playback: &Playback) -> Markup {
    let numbered: Vec<_> = playback.trials.iter().enumerate().collect();
    html! {
        @for group in numbered.chunk_by(|(_, a), (_, b)| a.strategy == b.strategy) {
            optgroup label=(group[0].1.strategy) {
                @for (i, trial) in group {
                    option value=(i) { "trial " (trial.trial) ": " (trial.outcome) }
                }
            }
        }
    }
}

/// One trial: its picture, what happens, its curves.
fn pane(number: usize) -> Markup {
    let id = |what: &str| format!("{what}-{number}");
    html! {
        div.pane id=(id("pane")) hidden[number > 1] {
            h3 id=(id("name")) {}
            div.stage {
                canvas id=(id("canvas")) tabindex="0" role="img"
                    aria-describedby=(id("caption"))
                    aria-label="The vessel and the wire in it. Arrow keys turn, plus and minus bring it nearer and farther." {}
                div.marks id=(id("marks")) aria-hidden="true" {}
            }
            div.chart id=(id("chart")) {}
            p.caption id=(id("caption")) tabindex="0" {}
        }
    }
}
