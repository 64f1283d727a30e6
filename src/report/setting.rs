//! What the sinks of a study know of its scene.

use super::film::Stage;
use super::outline::SceneOutline;
use crate::anatomy::Imported;
use crate::scenario::model::BedSpec;
use crate::trial::Prepared;

/// What the subtitle of a figure says of a vessel that gives way.
pub(super) const AT_REST: &str = "; the vessel gives way and is drawn where it lies at rest";

/// The scene of a study, as tables and figures need it.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// The scene.
    pub outline: SceneOutline,
    /// Wires in the order of the scenario: name and outer diameter in mm.
    pub wires: Vec<(String, f64)>,
    /// What the vessel lies in, in words; `None` where only the wall's local dent gives way.
    pub bed: Option<String>,
    /// What was guessed and changed when the file of anatomy was read, in words; empty without one.
    pub anatomy_as_read: Vec<String>,
    /// What films need to know of the scene; without it there are none.
    pub stage: Option<Stage>,
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
            bed: prepared.scenario().bed.as_ref().map(BedSpec::words),
            anatomy_as_read: imported.map_or_else(Vec::new, Imported::as_read),
            stage: Some(Stage::new(prepared)),
        }
    }

    /// Names of the wires in the order of their colours.
    #[must_use]
    pub fn wire_names(&self) -> Vec<String> {
        self.wires.iter().map(|(name, _)| name.clone()).collect()
    }
}
