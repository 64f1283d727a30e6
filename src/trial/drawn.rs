//! What one trial draws, and the scene in that size: the ground on which it is worked.

use std::sync::Arc;

use nalgebra::Vector3;

use super::begin::TrialSetup;
use super::drawn_devices::DrawnDevices;
use super::places::Places;
use super::prepared::{Prepared, Strategy};
use super::recorder::Recorder;
use super::route::Route;
use super::screen::Screen;
use super::variation::{HandTurns, Variation};
use super::watch::Watch;
use crate::hands::Turns;
use crate::projection::Roadmap;
use crate::scenario::model::TechniqueSpec;
use crate::vessel::{Lumen, MovedTree, SurfaceLumen, Tree};

/// One trial of a strategy before its first movement: the variation that it draws, and the vessel in
/// the size that it draws. It depends on nothing but the scenario, the strategy, the study seed and
/// the number of the trial.
pub struct DrawnTrial<'p> {
    pub(super) prepared: &'p Prepared,
    pub(super) strategy: &'p Strategy,
    pub(super) trial: u32,
    pub(super) variation: Variation,
    pub(super) devices: DrawnDevices,
    pub(super) tree: Arc<Tree>,
    surface: Option<SurfaceLumen>,
    moved: Option<MovedTree>,
    believed: Option<Tree>,
    pub(super) route: Route,
}

impl<'p> DrawnTrial<'p> {
    /// Draws trial number `trial` of a strategy of the scenario.
    #[must_use]
    pub fn new(prepared: &'p Prepared, strategy: &'p Strategy, trial: u32) -> Self {
        let scenario = prepared.scenario();
        let variation = Variation::draw(&scenario.variation, scenario.study.seed, trial);
        let factor = variation.diameter_factor;
        let tree = Arc::new(prepared.tree().with_diameter_factor(factor));
        let surface = prepared.surface().map(|s| s.with_diameter_factor(factor));
        let moved = prepared.moved_tree(&tree);
        let believed = prepared.believed().map(|b| b.with_diameter_factor(factor));
        let route = Route::to(&tree, prepared.target_branch());
        let technique = &scenario.techniques[strategy.technique];
        Self {
            prepared,
            strategy,
            trial,
            devices: DrawnDevices::new(prepared, technique, &variation),
            variation,
            tree,
            surface,
            moved,
            believed,
            route,
        }
    }

    /// The vessel in the size that the trial draws.
    #[must_use]
    pub fn tree(&self) -> &Tree {
        &self.tree
    }

    /// The vessel where it gives way or moves; `None` for one that does neither.
    #[must_use]
    pub fn moved(&self) -> Option<&MovedTree> {
        self.moved.as_ref()
    }

    /// The vessel that the operator believes in, where that is another.
    #[must_use]
    pub fn believed(&self) -> Option<&Tree> {
        self.believed.as_ref()
    }

    /// Where a point at `p` (mm) is seen on the roadmap after a time in s, as the breath moves it.
    #[must_use]
    pub fn seen_at(&self, p: &Vector3<f64>, time_s: f64) -> Vector3<f64> {
        match self.prepared.scenario().motion {
            Some(_) => self.prepared.image().seen(p, time_s),
            None => *p,
        }
    }

    /// The technique of the strategy.
    #[must_use]
    pub fn technique(&self) -> &'p TechniqueSpec {
        &self.prepared.scenario().techniques[self.strategy.technique]
    }

    /// The devices at the guide's end and what lies in their way.
    #[must_use]
    pub fn setup(&self) -> TrialSetup<'_> {
        TrialSetup::new(
            self.prepared,
            self.technique(),
            (self.variation, &self.devices),
            &self.tree,
            self.lumen(),
        )
    }

    /// The hand of the trial, with the noise that it draws.
    #[must_use]
    pub fn turns(&self) -> impl Turns + use<> {
        let scenario = self.prepared.scenario();
        HandTurns::new(&scenario.variation, scenario.study.seed, self.trial)
    }

    /// The wall.
    pub(super) fn lumen(&self) -> &dyn Lumen {
        match (&self.surface, &self.moved) {
            (Some(surface), _) => surface,
            (None, Some(moved)) => moved,
            (None, None) => &*self.tree,
        }
    }

    /// What looks at the wire.
    pub(super) fn watch(&self) -> Watch<'_> {
        let prepared = self.prepared;
        let scenario = prepared.scenario();
        let technique = self.technique();
        let screen = prepared.beam(technique.sight).map(|beam| {
            let believed = self.believed.as_ref().unwrap_or(&*self.tree);
            let roadmap = Roadmap::new(believed, beam);
            let bend = scenario.wires[self.strategy.wire].tip.primary;
            let guide_mm = prepared.guide_progress_mm();
            Screen::new(
                believed,
                &self.route,
                roadmap,
                bend.map(|b| b.length_mm),
                (guide_mm, prepared.image()),
            )
        });
        let named = technique.aids.anchor.as_ref();
        let anchor = named.and_then(|anchor| self.tree.branch_index(&anchor.branch));
        let target = prepared.target_branch();
        let factor = self.variation.diameter_factor;
        let vessel = (&*self.tree, self.lumen());
        let mouth_mm = prepared.mouths().whole_mm(vessel, factor, target);
        Watch::new(
            vessel,
            (prepared.mouths(), factor),
            &self.route,
            &scenario.target,
            prepared.reaching().with_mouth(mouth_mm),
            (screen, prepared.image()),
            anchor,
        )
    }

    /// What keeps the steps: all that is asked for if `record`, or the peaks alone.
    pub(super) fn recorder(&self, record: bool) -> Recorder<'_> {
        let scenario = self.prepared.scenario();
        let target = self.prepared.target_branch();
        let guide_radius_mm = 0.5 * scenario.guide.inner_diameter_mm;
        Recorder::new(
            Places::new((&self.tree, self.lumen()), target, guide_radius_mm),
            self.lumen().giving(),
            record.then_some(scenario.study.record_every_mm),
        )
    }
}
