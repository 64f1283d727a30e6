//! The frame of a page: head, contents, style, scripts, and figures inside.

use std::collections::BTreeMap;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::report::CAUTION;

const STYLE: &str = include_str!("assets/page.css");
const PAGE_SCRIPT: &str = include_str!("assets/page.js");
const NUMBERS_SCRIPT: &str = include_str!("assets/numbers.js");
const VIEW_SCRIPT: &str = include_str!("assets/view3d.js");
const MARKS_STYLE: &str = include_str!("assets/marks.css");
const MARKS_SCRIPT: &str = include_str!("assets/marks.js");
const PLAYER_SCRIPT: &str = include_str!("assets/player.js");

/// A part of a page with a heading of its own.
#[derive(Debug, Clone)]
pub struct Part {
    /// Heading.
    pub title: String,
    /// What stands below it.
    pub body: Markup,
    /// What scripts and style know it by; empty for nothing.
    pub class: &'static str,
}

impl Part {
    /// A part.
    #[must_use]
    pub fn new(title: &str, body: Markup) -> Self {
        Self {
            title: title.to_owned(),
            body,
            class: "",
        }
    }
}

/// A page.
#[derive(Debug, Clone)]
pub struct Document {
    /// What it is about.
    pub title: String,
    /// What kind of page it is: study, sweep, bench tests, views.
    pub kind: &'static str,
    /// What stands above the first part.
    pub lead: Markup,
    /// The parts in their order.
    pub parts: Vec<Part>,
    /// What the scripts play, as JSON; empty for nothing.
    pub playback: String,
    /// A script that only pages of this kind have; empty for none.
    pub script: &'static str,
}

impl Document {
    /// The page as the text of its file.
    #[must_use]
    pub fn html(&self) -> String {
        let numbered = || self.parts.iter().enumerate();
        let page = html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    // Nothing may be fetched, whatever a text of the scenario says.
                    meta http-equiv="Content-Security-Policy"
                        content="default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:";
                    title { (self.title) ", bendwise " (self.kind) }
                    style { (PreEscaped(STYLE)) (PreEscaped(foot(&self.title, self.kind))) }
                    @if !self.playback.is_empty() { style { (PreEscaped(MARKS_STYLE)) } }
                }
                body {
                    a.skip href="#content" { "To the content" }
                    header {
                        p.kind { "bendwise " (env!("CARGO_PKG_VERSION")) ", " (self.kind) }
                        h1 { (self.title) }
                        div.switches {
                            button type="button" id="large" aria-pressed="false" { "Large type" }
                            button type="button" id="print" { "Print or save as PDF" }
                        }
                    }
                    nav aria-label="Contents" {
                        ol {
                            @for (i, part) in numbered() {
                                li { a href={"#part-" (i + 1)} { (part.title) } }
                            }
                        }
                    }
                    main id="content" tabindex="-1" {
                        p.caution { strong { "Caution. " } (CAUTION) }
                        (self.lead)
                        @for (i, part) in numbered() {
                            section id={"part-" (i + 1)} class=[Some(part.class).filter(|class| !class.is_empty())] aria-labelledby={"head-" (i + 1)} {
                                h2 id={"head-" (i + 1)} { (part.title) }
                                (part.body)
                            }
                        }
                    }
                    @if !self.playback.is_empty() {
                        script type="application/json" id="playback" { (PreEscaped(&self.playback)) }
                        script { (PreEscaped(NUMBERS_SCRIPT)) }
                        script { (PreEscaped(VIEW_SCRIPT)) }
                        script { (PreEscaped(MARKS_SCRIPT)) }
                        script { (PreEscaped(PLAYER_SCRIPT)) }
                    }
                    script { (PreEscaped(PAGE_SCRIPT)) }
                    @if !self.script.is_empty() { script { (PreEscaped(self.script)) } }
                }
            }
        };
        page.into_string() + "\n"
    }
}

/// What stands at the foot of each sheet of paper: what it belongs to, and which of how many it is.
fn foot(title: &str, kind: &str) -> String {
    // A text of a style sheet: what could end it, or the style, is written by its number.
    let plain: String = title
        .chars()
        .map(|c| match c {
            '"' | '\\' | '<' | '>' | '&' => format!("\\{:x} ", u32::from(c)),
            c if c.is_control() => " ".to_owned(),
            c => c.to_string(),
        })
        .collect();
    format!(
        r#"
@page {{
  @bottom-left {{ content: "{plain}, bendwise {kind}"; font: 8pt system-ui, sans-serif; color: #5a616a; }}
  @bottom-right {{ content: counter(page) " of " counter(pages); font: 8pt system-ui, sans-serif; color: #5a616a; }}
}}
"#
    )
}

/// Bytes of an SVG from which on its PNG stands in the page.
const LARGE: usize = 130_000;

/// Figures by the name of their file without folder and ending, each with the kind of picture.
#[derive(Debug, Clone, Default)]
pub struct Gallery(BTreeMap<String, (&'static str, Vec<u8>)>);

impl Gallery {
    /// Keeps a file if it is a figure: its SVG, or its PNG where the SVG is large or there is none.
    pub fn keep(&mut self, file: &str, bytes: &[u8]) {
        let file = file.rsplit('/').next().unwrap_or(file);
        let Some((name, ending)) = file.rsplit_once('.') else {
            return;
        };
        let kind = match ending {
            "svg" if bytes.len() < LARGE => "svg+xml",
            "png" if !self.0.contains_key(name) => "png",
            _ => return,
        };
        self.0.insert(name.to_owned(), (kind, bytes.to_vec()));
    }

    /// Names of the figures that begin so, in rising order.
    pub fn names<'a>(&'a self, start: &'a str) -> impl Iterator<Item = &'a str> {
        let names = self.0.keys().map(String::as_str);
        names.filter(move |name| name.starts_with(start))
    }

    /// Bytes of a figure; 0 where it is not there.
    #[must_use]
    pub fn bytes(&self, name: &str) -> usize {
        self.0.get(name).map_or(0, |figure| figure.1.len())
    }

    /// A figure with what it shows in words; nothing where it is not there.
    #[must_use]
    pub fn figure(&self, name: &str, says: &str) -> Markup {
        let Some((kind, bytes)) = self.0.get(name) else {
            return html! {};
        };
        let data = STANDARD.encode(bytes);
        html! {
            figure {
                img alt=(says) loading="lazy" src={"data:image/" (kind) ";base64," (data)};
                figcaption { (says) " " span.file { "figures/" (name) ".svg and .png" } }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_person_wrote_is_text_in_the_page() {
        let page = Document {
            title: "<script>alert(1)</script> & \"more\"".to_owned(),
            kind: "study",
            lead: html! {},
            parts: vec![Part::new("<b>", html! { "<i>" })],
            playback: String::new(),
            script: "",
        };
        let html = page.html();
        assert!(!html.contains("<script>alert") && !html.contains("<b>") && !html.contains("<i>"));
        assert!(html.contains("&lt;script&gt;alert(1)&lt;/script&gt; &amp;"));
    }
}
