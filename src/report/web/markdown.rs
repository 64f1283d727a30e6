//! From the Markdown of a report to parts of a page: tables that can be sorted, with a word on each of
//! their columns, and figures inside.

use std::collections::BTreeSet;

use maud::{Markup, PreEscaped, html};
use pulldown_cmark::{CowStr, Event, Options, Parser, Tag, TagEnd, html::push_html};

use super::document::{Gallery, Part};
use super::meanings::meaning;

/// The page of the guide that says what the model leaves out.
const LIMITS: &str = include_str!("../../guide/limits.md");

/// The text above the first heading of second rank, without the title, and a part for each such heading.
#[must_use]
pub fn parts(text: &str, gallery: &Gallery) -> (Markup, Vec<Part>) {
    let mut pieces = text.split("\n## ");
    let lead = pieces.next().unwrap_or_default();
    let lead = match lead.strip_prefix("# ") {
        Some(rest) => rest.split_once('\n').map_or("", |(_, below)| below),
        None => lead,
    };
    let parts = pieces.map(|piece| {
        let (title, body) = piece.split_once('\n').unwrap_or((piece, ""));
        Part::new(title.trim(), markup(body, gallery))
    });
    (markup(lead, gallery), parts.collect())
}

/// What the model leaves out, as the guide says it; its links lead nowhere from here.
#[must_use]
pub fn left_out() -> Markup {
    let body = LIMITS.split_once('\n').map_or(LIMITS, |(_, body)| body);
    markup(&body.replace("\n## ", "\n### "), &Gallery::default())
}

/// Markdown as markup. HTML in it is text: names come from people.
fn markup(text: &str, gallery: &Gallery) -> Markup {
    let options = Options::ENABLE_TABLES;
    let mut events: Vec<Event<'_>> = Vec::new();
    let mut heads: Vec<String> = Vec::new();
    let (mut in_head, mut in_image) = (false, false);
    for event in Parser::new_ext(text, options) {
        match event {
            Event::Html(text) | Event::InlineHtml(text) => events.push(Event::Text(text)),
            Event::Start(Tag::Link { .. }) | Event::End(TagEnd::Link) => {}
            Event::Start(Tag::Image {
                dest_url, title, ..
            }) => {
                in_image = true;
                let file = dest_url.rsplit('/').next().unwrap_or_default();
                let name = file.split('.').next().unwrap_or_default();
                let says = if title.is_empty() { name } else { &title };
                let figure = gallery.figure(name, says).into_string();
                events.push(Event::InlineHtml(CowStr::from(figure)));
            }
            Event::End(TagEnd::Image) => in_image = false,
            _ if in_image => {}
            event => {
                match &event {
                    Event::Start(Tag::TableHead) => {
                        in_head = true;
                        heads.clear();
                    }
                    Event::End(TagEnd::TableHead) => in_head = false,
                    Event::Start(Tag::TableCell) if in_head => heads.push(String::new()),
                    Event::Text(text) | Event::Code(text) if in_head => {
                        if let Some(head) = heads.last_mut() {
                            head.push_str(text);
                        }
                    }
                    _ => {}
                }
                let ends_table = event == Event::End(TagEnd::Table);
                events.push(event);
                if ends_table {
                    let said = meanings(&heads).into_string();
                    events.push(Event::InlineHtml(CowStr::from(said)));
                }
            }
        }
    }
    let mut out = String::new();
    push_html(&mut out, events.into_iter());
    let out = out.replace(
        "<table>",
        "<div class=\"scroll\" tabindex=\"0\"><table class=\"sortable\">",
    );
    PreEscaped(out.replace("</table>", "</table></div>"))
}

/// What columns mean, for those of which there is more to say than their heads do.
pub(super) fn meanings(heads: &[String]) -> Markup {
    let mut seen = BTreeSet::new();
    let known = heads.iter().filter_map(|head| Some((head, meaning(head)?)));
    let known: Vec<_> = known.filter(|(_, meaning)| seen.insert(*meaning)).collect();
    html! {
        @if !known.is_empty() {
            details.meaning {
                summary { "What the columns say" }
                dl {
                    @for (head, meaning) in &known {
                        dt { (head) }
                        dd { (meaning) }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn html_and_links_in_a_report_are_text() {
        let text = "# Title\n\nlead <script>x</script>\n\n## Table\n\n| strategy | n |\n| --- | --- |\n| a <b>b</b> | 1 |\n\n[there](https://example.org)\n";
        let (lead, parts) = parts(text, &Gallery::default());
        assert!(
            lead.into_string()
                .contains("&lt;script&gt;x&lt;/script&gt;")
        );
        assert_eq!(parts.len(), 1);
        let body = parts[0].body.clone().into_string();
        assert!(body.contains("<table class=\"sortable\">") && body.contains("&lt;b&gt;"));
        assert!(!body.contains("href") && body.contains("there"));
        assert!(body.contains("<dt>strategy</dt>"));
    }

    #[test]
    fn the_guide_says_what_is_left_out() {
        let said = left_out().into_string();
        assert!(said.contains("blood flow") && !said.contains("<h2"));
    }
}
