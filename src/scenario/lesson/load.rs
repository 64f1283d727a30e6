//! From a path to a checked lesson.

use std::path::Path;
use std::sync::LazyLock;

use schemars::JsonSchema;
use serde::Deserialize;

use super::model::LessonSpec;
use super::page_table::PageTable;
use crate::scenario::document::Document;
use crate::scenario::error::ScenarioError;
use crate::scenario::on_scenario::{checked_text, text_at};
use crate::scenario::source::Source;
use crate::scenario::sweep::SetTable;
use crate::scenario::tables::plain_name;
use crate::schema::{Node, Place, Read, Refusal, defaults};

/// A lesson: pages that change one thing of a scenario each, with what its trials show.
#[derive(Debug, Deserialize, JsonSchema)]
pub(in crate::scenario) struct LessonTable {
    /// Short name: letters, digits and dashes.
    #[schemars(extend("x-example" = "\"soft-tip\""))]
    name: String,
    /// What the lesson is called.
    #[schemars(extend("x-example" = "\"Why a soft tip follows a bend\""))]
    title: String,
    /// What it teaches.
    #[schemars(extend("x-example" = "\"What this lesson teaches.\""))]
    description: String,
    /// Scenario, path from this file.
    #[schemars(extend("x-example" = "\"../s-bend.toml\""))]
    scenario: String,
    /// Trials of each page; trial n of every page has the same draws.
    #[serde(default = "defaults::count::<8>")]
    #[schemars(range(min = 1, max = 1000), extend("x-unit" = "trials", "x-example" = "8"))]
    trials: u32,
    /// Trials of each page that can be played, from the first.
    #[serde(default = "defaults::count::<2>")]
    #[schemars(range(min = 1, max = 20), extend("x-unit" = "trials", "x-example" = "2"))]
    recorded: u32,
    /// Seed of the draws.
    #[schemars(range(min = 0, max = 9_223_372_036_854_775_807_u64), extend(
        "x-default" = "that of the scenario",
        "x-example" = "1"
    ))]
    seed: Option<u64>,
    /// Technique of the first page.
    #[schemars(extend("x-default" = "the scenario's first", "x-example" = "\"push\""))]
    technique: Option<String>,
    /// Wire of the first page.
    #[schemars(extend("x-default" = "the scenario's first", "x-example" = "\"workhorse 1 gf\""))]
    wire: Option<String>,
    /// Paths taken out of the scenario before the first page.
    #[serde(default)]
    #[schemars(extend("x-example" = "['wire.*.surface']"))]
    remove: Vec<String>,
    /// Values set before the first page.
    #[serde(default)]
    #[schemars(length(max = 100), extend(
        "x-example" = "[[set]]\npath = 'vessel.branch.side.take_off_deg'\nvalue = 110"
    ))]
    set: Vec<SetTable>,
    /// The pages.
    #[schemars(length(min = 1, max = 12), extend("x-example" = PAGE))]
    page: Vec<PageTable>,
}

const PAGE: &str = "[[page]]\nname = \"stiff\"\ntitle = \"A stiff tip\"\ntext = \"It is pushed round the bend.\"\n\
                    look = \"The outer wall.\"\nquestion = { ask = \"Why?\", answer = \"It is stiff.\" }\n\
                    [[page.claim]]\nsay = \"It presses with {wall_force}.\"\nvalue = \"wall_force\"\nmore_than = 0";

/// What a lesson may hold.
pub(in crate::scenario) static LESSON: LazyLock<Node> = LazyLock::new(Node::of::<LessonTable>);

/// A lesson that was read, with its text.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadedLesson {
    /// The checked lesson.
    pub spec: LessonSpec,
    /// The text it was read from.
    pub source: Source,
}

/// Reads and checks the lesson file at `path`; the scenario is named, not read.
///
/// # Errors
///
/// The first fault found, as in [`crate::scenario::load`].
pub fn load_lesson(path: &Path) -> Result<LoadedLesson, ScenarioError> {
    load_lesson_text(path, text_at(path)?)
}

/// Checks a lesson whose text is given; `path` is where it counts as standing, so that its scenario is
/// found.
///
/// # Errors
///
/// As [`load_lesson`].
pub fn load_lesson_text(path: &Path, text: String) -> Result<LoadedLesson, ScenarioError> {
    let (spec, source) = checked_text(Document::Lesson, path, text, LessonTable::checked)?;
    Ok(LoadedLesson { spec, source })
}

impl LessonTable {
    fn checked(self, folder: &Path) -> Read<LessonSpec> {
        plain_name(&self.name, "soft-tip")?;
        let mut pages = Vec::new();
        let names: Vec<String> = self.page.iter().map(|page| page.name.clone()).collect();
        for (index, table) in self.page.into_iter().enumerate() {
            let at = Place::top("page").entry(index);
            if names[..index].contains(&table.name) {
                return Err(Refusal::at(
                    at.field("name"),
                    "a page before it has this name",
                    "give each page a name of its own",
                ));
            }
            pages.push(table.checked(at, &names)?);
        }
        let removed = self.remove.into_iter().enumerate();
        let set = self.set.into_iter().enumerate();
        Ok(LessonSpec {
            name: self.name,
            title: self.title,
            description: self.description,
            scenario: folder.join(self.scenario),
            scenario_place: Place::top("scenario"),
            trials: self.trials,
            recorded: self.recorded.min(self.trials),
            seed: self.seed,
            technique: self.technique,
            wire: self.wire,
            removed: removed
                .map(|(i, path)| (path, Place::top("remove").entry(i)))
                .collect(),
            set: set
                .map(|(i, set)| set.checked(Place::top("set").entry(i).field("path")))
                .collect(),
            pages,
        })
    }
}
