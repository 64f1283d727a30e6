//! The page of results without recorded trials: a sweep, bench tests, a look at a scene.

use maud::{Markup, html};

use super::document::{Document, Gallery, Part};
use super::inputs::{named, scenario_copy, section_parts};
use super::markdown::{left_out, parts};
use crate::report::scene::Section;

/// What stands on such a page.
#[derive(Debug, Clone, Default)]
pub struct PlainPage<'a> {
    /// What kind of page it is.
    pub kind: &'static str,
    /// The text of `report.md`.
    pub report: &'a str,
    /// Inputs: name and value.
    pub inputs: Vec<(String, String)>,
    /// More on the inputs.
    pub more: Option<Markup>,
    /// The scene in words.
    pub sections: &'a [Section],
    /// The files that were read: name and text.
    pub files: &'a [(String, String)],
}

impl PlainPage<'_> {
    /// The page as the text of its file, with all figures of the gallery that the report does not show.
    #[must_use]
    pub fn html(&self, gallery: &Gallery) -> String {
        let title = self.report.lines().next().unwrap_or_default();
        let title = title.trim_start_matches("# ").to_owned();
        let (lead, report) = parts(self.report, gallery);
        let inputs = html! {
            (named(&self.inputs))
            @if let Some(more) = &self.more { (more) }
            (section_parts(self.sections))
        };
        let mut shown = vec![Part::new("What went in", inputs)];
        // Inputs stand before results, and so before a table in the lead.
        let lead_has_results = lead.0.contains("<table");
        if lead_has_results {
            shown.push(Part::new("Readings", lead.clone()));
        }
        // What columns mean is looked up after all else.
        let (columns, results): (Vec<Part>, Vec<Part>) = report
            .into_iter()
            .filter(|part| part.title != "Caution")
            .partition(|part| part.title.starts_with("Columns of"));
        shown.extend(results);
        let in_text = |name: &&str| !self.report.contains(&format!("figures/{name}."));
        let names: Vec<&str> = gallery.names("").filter(in_text).collect();
        if !names.is_empty() {
            let figures = html! {
                @for name in names { (gallery.figure(name, &words(name))) }
            };
            shown.push(Part::new("Figures", figures));
        }
        shown.extend(columns);
        shown.push(Part::new("What the model leaves out", left_out()));
        if !self.files.is_empty() {
            shown.push(scenario_copy(self.files));
        }
        let document = Document {
            title,
            kind: self.kind,
            lead: html! { @if !lead_has_results { (lead) } },
            parts: shown,
            playback: String::new(),
            script: "",
        };
        document.html()
    }
}

/// The name of a figure's file as words.
fn words(name: &str) -> String {
    let text = name.replace(['-', '_'], " ");
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| {
        first.to_uppercase().chain(letters).collect::<String>() + "."
    })
}
