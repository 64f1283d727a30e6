//! What the sinks of a study know of its scene.

use super::film::Stage;
use super::outline::SceneOutline;
use crate::trial::Prepared;

/// The scene of a study, as tables and figures need it.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// The scene.
    pub outline: SceneOutline,
    /// Wires in the order of the scenario: name and outer diameter in mm.
    pub wires: Vec<(String, f64)>,
    /// What films need to know of the scene; without it there are none.
    pub stage: Option<Stage>,
}

impl Setting {
    /// The setting of a scenario that is ready to run.
    #[must_use]
    pub fn new(prepared: &Prepared) -> Self {
        let wires = &prepared.scenario().wires;
        Self {
            outline: SceneOutline::new(prepared),
            wires: wires
                .iter()
                .map(|w| (w.name.clone(), w.diameter_mm))
                .collect(),
            stage: Some(Stage::new(prepared)),
        }
    }

    /// Names of the wires in the order of their colours.
    #[must_use]
    pub fn wire_names(&self) -> Vec<String> {
        self.wires.iter().map(|(name, _)| name.clone()).collect()
    }
}
