//! The page of a lesson: its pages one at a time, with playback, and on paper all of them.

use maud::{Markup, html};

use super::document::{Document, Gallery, Part};
use super::inputs::{named, scenario_copy, section_parts};
use super::markdown::left_out;
use super::playback::Playback;
use super::player::{how_to_read, player};
use crate::report::lesson::{LessonResult, PageResult};
use crate::report::scene::Section;
use crate::shown::counted;

const SCRIPT: &str = include_str!("assets/lesson.js");

/// What the page of a lesson shows beside its results.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct LessonShown {
    /// The scene of the first page in words.
    pub sections: Vec<Section>,
    /// The files that were read: name and text.
    pub files: Vec<(String, String)>,
}

/// The page as the text of its file.
pub(in crate::report) fn lesson_page(
    lesson: &LessonResult,
    shown: &LessonShown,
    playback: Option<&Playback>,
    gallery: &Gallery,
) -> String {
    let pages = lesson.pages.iter().enumerate();
    let mut parts: Vec<Part> = pages
        .map(|(number, page)| Part {
            title: page.title.clone(),
            body: html! {
                (shown_first(page))
                div.said tabindex="0" { (page_body(page, lesson.trials)) }
                @if playback.is_some() {
                    div.slot {
                        @if number == 0 { @if let Some(playback) = playback { (folded(playback)) } }
                    }
                }
                (gallery.figure(&format!("film-{}", page.slug()), "Six moments of a typical trial of this page."))
            },
            class: "page",
        })
        .collect();
    let lines = [
        ("program", format!("bendwise {}", lesson.bendwise_version)),
        ("scenario", lesson.scenario.clone()),
        ("trials of each page", lesson.trials.to_string()),
        ("seed of the draws", lesson.seed.to_string()),
        (
            "hash of all files read (SHA-256)",
            lesson.files_hash.clone(),
        ),
    ];
    let lines = lines.map(|(name, text)| (name.to_owned(), text));
    parts.push(Part::new(
        "What went in",
        html! {
            (named(&lines))
            p.note { "The scene of the first page. What each further page changes in it stands on the page." }
            (section_parts(&shown.sections))
        },
    ));
    parts.push(Part::new("What the model leaves out", left_out()));
    parts.push(Part {
        class: "answers",
        ..Part::new("Answers", answers(lesson))
    });
    parts.push(scenario_copy(&shown.files));
    let document = Document {
        title: lesson.title.clone(),
        kind: "lesson",
        lead: html! {
            p.text { (lesson.description) }
            div.turn role="group" aria-label="Pages of the lesson" {
                button type="button" id="before" { "Page before" }
                output id="page-at" {}
                button type="button" id="after" { "Next page" }
                span.note { "or the keys Page Up and Page Down; in slides also ← and →" }
                button type="button" id="slides" aria-pressed="false" { "Slides" }
            }
        },
        parts,
        playback: playback.map_or_else(String::new, Playback::json),
        script: SCRIPT,
    };
    document.html()
}

/// What the script reads of a page: its trials, and how its playback opens.
fn shown_first(page: &PageResult) -> Markup {
    let opening = &page.opening;
    let [right, up] = opening.turned_deg;
    let axes = opening.axes.as_ref();
    let axes = axes.map(|axes| serde_json::to_string(axes).unwrap_or_default());
    html! {
        div.strategy data-strategy=(page.strategy) data-view=(opening.view) data-axes=[axes]
            data-right=(right) data-up=(up) data-opens=(opening.moment) {}
    }
}

/// The answers of all pages, folded away; on paper they are on a sheet of their own.
fn answers(lesson: &LessonResult) -> Markup {
    html! {
        details {
            summary { "The answers to the questions of all pages" }
            ol {
                @for page in &lesson.pages {
                    li { p { strong { (page.ask) } } p { (page.answer) } }
                }
            }
        }
    }
}

/// The player with its explanation folded away: on a projector the picture comes first.
fn folded(playback: &Playback) -> Markup {
    html! {
        div {
            (player(playback))
            details.meaning {
                summary { "How to read the picture" }
                (how_to_read())
            }
        }
    }
}

/// What a page says: the same in the file and beside a wire in hand.
#[must_use]
pub fn page_body(page: &PageResult, trials: u32) -> Markup {
    html! {
        @if let Some(changed) = &page.changed {
            p.changed {
                "Changed against the page before: " span title=[&changed.path] { (changed.what) } " from "
                del { (changed.from) } " to " ins { (changed.to) } ". Everything else, and every draw, is the same."
            }
        }
        p.text { (page.text) }
        p.look { strong { "Look at: " } (page.look) }
        h3 { "What " (counted(trials as usize, "trial shows", "trials show")) }
        p.note {
            "Technique \"" (page.technique) "\", wire \"" (page.wire) "\". Forces, times, lengths, angles, strains and \
             attempts are medians over the trials."
        }
        ul.claims {
            @for claim in &page.claims {
                li { (claim.says) small { "Held against the trials: " (claim.claim.replace('_', " ")) "; measured " (claim.measured) "." } }
            }
        }
        details.question {
            summary { strong { "Question. " } (page.ask) }
            p { (page.answer) }
        }
    }
}
