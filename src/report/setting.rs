//! What the sinks of a study know of its scene.

use std::sync::{Arc, OnceLock};

use super::film::Stage;
use super::outline::SceneOutline;
use super::scene::acting;
use super::summary::{Summary, summary};
use super::web::PageInputs;
use crate::anatomy::Imported;
use crate::scenario::Scenario;
use crate::study::StudySetup;
use crate::trial::Prepared;
use crate::trial::result::TrialRow;

/// What the subtitle of a figure says of a vessel that gives way or moves.
pub(super) const AT_REST: &str =
    "; the vessel does not stay where it lies at rest, and is drawn there";

/// The scene of a study, as tables and figures need it.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// The scene.
    pub outline: SceneOutline,
    /// Wires in the order of the scenario: name and outer diameter in mm.
    pub wires: Vec<(String, f64)>,
    /// What was guessed and changed when the file of anatomy was read, in words; empty without one.
    pub anatomy_as_read: Vec<String>,
    /// What holds the vessel and what moves it, in words; empty for one that is rigid and stands.
    pub vessel_acts: Vec<String>,
    /// Whether a heart moves it.
    pub is_beating: bool,
    /// What each technique is that a person made by hand, in words; empty where there is none.
    pub by_hand: Vec<String>,
    /// What films need to know of the scene; without it there are none.
    pub stage: Option<Stage>,
    /// What the page shows beside the results.
    pub page: PageInputs,
    /// The study in numbers, made by the first sink that wants it.
    summary: OnceLock<Summary>,
}

impl Setting {
    /// The setting of a scenario that is ready to run, and the tree that its file of anatomy became.
    #[must_use]
    pub fn new(prepared: &Prepared, imported: Option<&Imported>) -> Self {
        let wires = &prepared.scenario().wires;
        Self {
            outline: SceneOutline::new(prepared),
            wires: wires
                .iter()
                .map(|w| (w.name.clone(), w.diameter_mm))
                .collect(),
            anatomy_as_read: imported.map_or_else(Vec::new, Imported::as_read),
            vessel_acts: acting(prepared.scenario()),
            is_beating: prepared.is_beating(),
            by_hand: by_hand(prepared.scenario()),
            stage: Some(Stage::new(prepared)),
            page: PageInputs::new(prepared),
            summary: OnceLock::new(),
        }
    }

    /// The setting of a scene alone, without films and without anything that acts on the vessel.
    #[must_use]
    pub fn of_outline(outline: SceneOutline, wires: Vec<(String, f64)>) -> Self {
        Self {
            outline,
            wires,
            anatomy_as_read: Vec::new(),
            vessel_acts: Vec::new(),
            is_beating: false,
            by_hand: Vec::new(),
            stage: None,
            page: PageInputs::default(),
            summary: OnceLock::new(),
        }
    }

    /// The study in numbers, once all its rows are known.
    #[must_use]
    pub fn summary(&self, setup: &StudySetup, rows: &[Vec<TrialRow>]) -> &Summary {
        self.summary.get_or_init(|| summary(setup, rows, self))
    }

    /// Names of the wires in the order of their colours.
    #[must_use]
    pub fn wire_names(&self) -> Vec<String> {
        self.wires.iter().map(|(name, _)| name.clone()).collect()
    }
}

/// What of a scenario's techniques a person made, in words.
fn by_hand(scenario: &Scenario) -> Vec<String> {
    let recorded = scenario.techniques.iter();
    let recorded = recorded.filter(|technique| technique.plan.is_by_hand());
    let said = recorded.map(|technique| {
        format!(
            "Technique {:?} is a session by hand: {}. On other draws and with other wires these movements are made \
             blindly.",
            technique.name,
            technique.plan.technique().words(technique, scenario)
        )
    });
    said.collect()
}

/// The scenes of a study's strategies.
#[derive(Debug, Clone)]
pub struct Settings(Vec<Arc<Setting>>);

impl Settings {
    /// The same scene for all strategies.
    #[must_use]
    pub fn one(setting: &Arc<Setting>) -> Self {
        Self(vec![setting.clone()])
    }

    /// A scene for each strategy, in their order; there is at least one.
    #[must_use]
    pub fn each(settings: Vec<Arc<Setting>>) -> Self {
        Self(settings)
    }

    /// The scene of a strategy by its number.
    #[must_use]
    pub fn of(&self, strategy: usize) -> &Arc<Setting> {
        &self.0[strategy.min(self.0.len() - 1)]
    }
}
