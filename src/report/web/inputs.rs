//! What went into a study: the scene in words as tables, a copy of the scenario, and what the page needs to
//! know of the scene beside.

use std::path::Path;

use maud::{Markup, html};

use super::document::Part;
use super::markdown::meanings;
use crate::projection::Beam;
use crate::report::scene::{Block, Flow, Section};
use crate::scenario::Source;
use crate::trial::Prepared;

/// What the page of a study shows beside its results.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PageInputs {
    /// The scene in words; empty where nobody has given it.
    pub sections: Vec<Section>,
    /// The files of the scenario: name and text.
    pub files: Vec<(String, String)>,
    /// How the C-arm stands, where the scenario says so.
    pub c_arm: Option<SceneView>,
    /// The branches: name, and parent by number with the station in mm at which it leaves that.
    pub branches: Vec<Way>,
    /// Limits that the scenario states.
    pub limits: Limits,
}

/// How a branch hangs on the tree.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// Name.
    pub name: String,
    /// Parent by number, and station on it in mm; `None` for an inlet.
    pub parent: Option<(usize, f64)>,
    /// Station on its own axis in mm at which it leaves the parent's lumen.
    pub ostium_mm: f64,
}

/// A C-arm's view of a scene.
#[derive(Debug, Clone, PartialEq)]
pub struct SceneView {
    /// As people write it.
    pub view: String,
    /// Its beam in the scene.
    pub beam: Beam,
    /// Distance of the X-ray source from the isocentre in mm.
    pub source_mm: f64,
}

/// Limits that a scenario states.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Limits {
    /// Largest force on one millimetre of wall in mN.
    pub wall_force_mn: Option<f64>,
    /// Backward movement in mm at which the guide is lost; `None` for a guide that holds.
    pub back_out_mm: Option<f64>,
    /// Wire outside the guide in mm.
    pub fed_mm: f64,
    /// Compression of the wall from which it folds; `None` for a vessel that does not give way.
    pub fold_strain: Option<f64>,
}

impl PageInputs {
    /// What is known of a scene that is ready to run; sections and files are for who has read it.
    #[must_use]
    pub fn new(prepared: &Prepared) -> Self {
        let scenario = prepared.scenario();
        let c_arm = scenario.view.as_ref().map(|view| SceneView {
            view: view.current.to_string(),
            beam: Beam::in_scene(&view.current, &view.frame.to_patient),
            source_mm: view.source_object_mm,
        });
        let guide = &scenario.guide;
        Self {
            c_arm,
            branches: (prepared.tree().branches().iter())
                .map(|branch| Way {
                    name: branch.name.clone(),
                    parent: branch.parent,
                    ostium_mm: branch.ostium_mm,
                })
                .collect(),
            limits: Limits {
                wall_force_mn: scenario.target.wall_force_limit_mn,
                back_out_mm: guide
                    .backup_stiffness_mn_per_mm
                    .map(|_| guide.back_out_limit_mm),
                fed_mm: scenario.target.max_fed_mm,
                fold_strain: scenario.bed.as_ref().map(|bed| bed.fold_strain),
            },
            ..Self::default()
        }
    }

    /// The same with the scene in words and the files that it was read from.
    #[must_use]
    pub fn described(self, sections: Vec<Section>, source: &Source) -> Self {
        Self {
            sections,
            files: files(source),
            ..self
        }
    }
}

/// The files of a scenario: names and texts.
#[must_use]
pub fn files(source: &Source) -> Vec<(String, String)> {
    let file = |path: &Path, text: &str| {
        let name = path.file_name().unwrap_or_default();
        (name.to_string_lossy().into_owned(), text.to_owned())
    };
    let tree = source.tree.iter().map(|tree| file(&tree.path, &tree.text));
    let own = file(&source.path, &source.text);
    [own].into_iter().chain(tree).collect()
}

/// The scene in words, a part of a page that is folded away until somebody opens it, and open on paper; the caution
/// stands on every page already.
pub(in crate::report) fn section_parts(sections: &[Section]) -> Markup {
    let mut shown = sections.iter().filter(|s| s.title != "CAUTION").peekable();
    html! {
        @if shown.peek().is_some() {
            details.inputs {
                summary { "Vessel, wires, techniques and settings in full" }
                @for section in shown {
                    @if !section.title.is_empty() {
                        h3 { (heading(&section.title)) }
                    }
                    (flow(&section.flow))
                }
            }
        }
    }
}

/// The files of a scenario, to be copied or saved.
pub(in crate::report) fn scenario_copy(files: &[(String, String)]) -> Part {
    Part::new(
        "The scenario",
        html! {
            p { "What this page was made from, word by word." }
            @for (name, text) in files {
                details {
                    summary { (name) }
                    pre tabindex="0" { (text) }
                }
            }
        },
    )
}

fn flow(flow: &Flow) -> Markup {
    html! {
        @for block in &flow.0 {
            @match block {
                Block::Table(table) => {
                    (sortable(&table.heads, &table.rows))
                }
                Block::Pairs(lines) => { (named(lines)) }
                Block::Paragraph(text) => { p.note { (text) } }
                Block::Bullets(list) => { ul { @for text in list { li { (text) } } } }
                Block::Label(text) => { p.label { (text) } }
            }
        }
    }
}

/// Lines of a name and a text.
pub(super) fn named(lines: &[(String, String)]) -> Markup {
    html! {
        div.scroll tabindex="0" {
            table.named {
                tbody {
                    @for (name, text) in lines {
                        tr { th scope="row" { (name) } td { (text) } }
                    }
                }
            }
        }
    }
}

/// A table that can be sorted; heads are title and unit.
pub(in crate::report) fn sortable(heads: &[(String, String)], rows: &[Vec<String>]) -> Markup {
    let titles: Vec<String> = heads.iter().map(|head| head.0.clone()).collect();
    html! {
        div.scroll tabindex="0" {
            table.sortable {
                thead {
                    tr {
                        @for (title, unit) in heads {
                            th { (title) @if !unit.is_empty() { " " span.unit { (unit) } } }
                        }
                    }
                }
                tbody {
                    @for row in rows {
                        tr { @for cell in row { td { (cell) } } }
                    }
                }
            }
        }
        (meanings(&titles))
    }
}

/// A title in sentence case: the words that stand in capitals in plain text are small here.
fn heading(title: &str) -> String {
    let small = title.split(' ').map(|word| {
        let letters = word.chars().filter(|c| c.is_alphabetic());
        if word.len() > 2 && letters.clone().all(char::is_uppercase) {
            word.to_lowercase()
        } else {
            word.to_owned()
        }
    });
    let text = small.collect::<Vec<_>>().join(" ");
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn capitals_of_plain_text_become_a_sentence() {
        assert_eq!(heading("SUPPORT CATHETERS"), "Support catheters");
        assert_eq!(
            heading("BENDING STIFFNESS in N mm², against distance from the tip"),
            "Bending stiffness in N mm², against distance from the tip"
        );
    }
}
