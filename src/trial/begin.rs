//! The devices of a trial as they stand in the guide at its beginning, and what lies in their way.

use nalgebra::Vector3;

use super::drawn_devices::DrawnDevices;
use super::first_wire::GivenUp;
use super::prepared::Prepared;
use super::variation::Variation;
use super::watch::LEAST_OUTSIDE_MM;
use crate::contact::WalledLumen;
use crate::device::Wire;
use crate::hands::BalloonView;
use crate::scenario::model::{BendSpec, TechniqueSpec};
use crate::solve::{Assembly, FoldedStart, PairStart, Start, Unresolved};
use crate::technique::Loading;
use crate::vessel::{
    Balloon, FlexibleTube, InflatableBalloon, Lumen, Onward, Tree, WithGuide, obstacle,
};

/// Edge length in mm that a fold needs at most, to lie bent in a guide.
pub(super) const FOLD_EDGE_MM: f64 = 0.3;
/// How far the fold of a wire stands out of the guide at the beginning, in mm: far enough to open.
const FOLD_AHEAD_MM: f64 = 6.0;
/// Play in mm between the legs of a folded wire and the guide's wall at the beginning.
const LEG_PLAY_MM: f64 = 0.02;
/// Distance in mm from the surface of a body within which a wire's tip is said to lie at it: more
/// than the radius of any wire.
const AT_BODY_MM: f64 = 0.6;

/// The inflated balloon of a technique in a tree; `None` where it has none, or nothing goes straight on.
#[must_use]
pub fn balloon(tree: &Tree, target: usize, technique: &TechniqueSpec) -> Option<Balloon> {
    let spec = technique.aids.balloon.as_ref()?;
    let (parent, station) = tree.branches()[target].parent?;
    let onward = Onward::new(tree, parent, station, target);
    let (from, length) = (spec.beyond_mm, spec.length_mm);
    let axis = |s: f64| onward.position(s);
    Some(Balloon::new(axis, from, length, spec.diameter_mm))
}

/// Everything in which the wires of one trial begin.
pub struct TrialSetup<'t> {
    pub(super) prepared: &'t Prepared,
    pub(super) technique: &'t TechniqueSpec,
    pub(super) variation: Variation,
    pub(super) drawn: &'t DrawnDevices,
    pub(super) lumen: &'t dyn Lumen,
    pub(super) with_guide: WithGuide<'t>,
    /// Obstacles in the lumen, with their stiffness in mN/mm².
    bodies: Vec<(Balloon, f64)>,
    /// The technique's balloon, with its stiffness in mN/mm².
    balloon: Option<(InflatableBalloon, f64)>,
    /// Where the balloon's shaft lies.
    pub(super) shaft: FlexibleTube,
}

impl<'t> TrialSetup<'t> {
    /// The set-up of a trial with this variation and these devices in the tree that it draws, whose
    /// wall is that of `lumen`.
    pub(super) fn new(
        prepared: &'t Prepared,
        technique: &'t TechniqueSpec,
        (variation, drawn): (Variation, &'t DrawnDevices),
        tree: &'t Tree,
        lumen: &'t dyn Lumen,
    ) -> Self {
        let spec = technique.aids.balloon.as_ref();
        let balloon = balloon(tree, prepared.target_branch(), technique)
            .zip(spec)
            .map(|(body, spec)| (InflatableBalloon::new(body), spec.stiffness_mn_per_mm2));
        let obstacles = prepared.scenario().obstacles.iter();
        let obstacles =
            obstacles.filter_map(|o| Some((obstacle(tree, o)?, o.stiffness_mn_per_mm2)));
        Self {
            prepared,
            technique,
            variation,
            drawn,
            lumen,
            with_guide: prepared.with_guide(lumen),
            bodies: obstacles.collect(),
            balloon,
            shaft: FlexibleTube::default(),
        }
    }

    /// The body in the lumen at whose surface a point lies, in words.
    pub(super) fn body_at(&self, p: &Vector3<f64>) -> Option<&'static str> {
        let is_at = |body: &dyn Lumen| body.distance(p) > -AT_BODY_MM;
        if self.bodies.iter().any(|(body, _)| is_at(body)) {
            return Some("an obstacle in the lumen");
        }
        self.balloon().filter(|b| is_at(*b)).map(|_| "the balloon")
    }

    /// The technique's balloon.
    pub(super) fn balloon(&self) -> Option<&InflatableBalloon> {
        self.balloon.as_ref().map(|(balloon, _)| balloon)
    }

    /// What is seen of the balloon while these devices lie in the vessel.
    pub(super) fn balloon_view(&self, devices: &Assembly<'_>) -> Option<BalloonView> {
        let balloon = self.balloon()?;
        let diameter_mm = balloon.diameter_mm();
        // What lies there matters to a deflated one alone.
        let is_free = || {
            let shape = devices.wire_shape();
            let beside = shape.beside.iter().flat_map(|beside| &beside.nodes_mm);
            let mut points = shape.nodes_mm.iter().chain(beside);
            points.all(|p| balloon.full().distance(p) <= -AT_BODY_MM)
        };
        Some(BalloonView {
            diameter_mm,
            is_full: diameter_mm >= balloon.full().diameter_mm(),
            is_free: diameter_mm > 0.0 || is_free(),
        })
    }

    /// Wire number `index` of the scenario as this trial draws it, alone or in the technique's
    /// catheter, in equilibrium at the guide's end.
    pub(super) fn begin(&self, index: usize) -> Result<Assembly<'_>, GivenUp> {
        let needs = self.technique.plan.needs();
        let wire = self.drawn.worked(index);
        let mut devices = match (needs.loading, &needs.fold) {
            (Loading::SidePort { carrier, .. }, fold) => {
                self.carried(wire, &carrier, fold.as_ref())?
            }
            (Loading::Catheter { index, lead_mm, .. }, _) => {
                self.pair(wire, index, lead_mm, self.longest_mm())?
            }
            (Loading::Guide, Some(fold)) => self.folded(wire, fold)?,
            (Loading::Guide, None) => self.straight(wire)?,
        };
        for (body, stiffness) in &self.bodies {
            devices.obstruct(WalledLumen::new(body, *stiffness));
        }
        if let Some((balloon, stiffness)) = &self.balloon {
            devices.obstruct(WalledLumen::new(balloon, *stiffness));
        }
        if self.lay_shaft(wire)? {
            devices.obstruct(self.walled(&self.shaft));
        }
        Ok(devices)
    }

    /// Brings wire number `index` in place of the one in `devices`: through the catheter, which holds its
    /// place, or anew from the guide's end. Returns whether a catheter held the place.
    pub(super) fn exchange<'g>(
        &'g self,
        devices: &mut Assembly<'g>,
        index: usize,
    ) -> Result<bool, GivenUp> {
        let held = devices.exchange_wire(self.drawn.worked(index), self.variation.roll_rad)?;
        if !held {
            *devices = self.begin(index)?;
        }
        Ok(held)
    }

    /// A wire `lead_mm` in front of a catheter at the guide's end, neither ever more than
    /// `longest_mm` outside.
    pub(super) fn pair(
        &self,
        wire: &Wire,
        catheter: usize,
        lead_mm: f64,
        longest_mm: f64,
    ) -> Result<Assembly<'_>, Unresolved> {
        let start = PairStart {
            wire_mm: LEAST_OUTSIDE_MM + lead_mm,
            catheter_mm: LEAST_OUTSIDE_MM,
            longest_mm,
            wire_roll_rad: self.variation.roll_rad,
            catheter_roll_rad: self.variation.catheter_roll_rad,
        };
        Assembly::pair(
            (wire, self.drawn.catheter(catheter)),
            self.walled(self.lumen),
            self.prepared.guide_tip(),
            self.prepared.step_settings(),
            start,
        )
    }

    /// A lumen with the wall of the vessel.
    pub(super) fn walled<'l>(&self, lumen: &'l dyn Lumen) -> WalledLumen<'l> {
        WalledLumen::new(lumen, self.prepared.scenario().vessel.wall)
    }

    pub(super) fn longest_mm(&self) -> f64 {
        self.prepared.scenario().target.max_fed_mm + 2.0
    }

    fn straight(&self, wire: &Wire) -> Result<Assembly<'_>, Unresolved> {
        let start = Start {
            outside_mm: LEAST_OUTSIDE_MM,
            longest_mm: self.longest_mm(),
            roll_rad: self.variation.roll_rad,
        };
        Assembly::straight(
            wire,
            self.walled(self.lumen),
            self.prepared.guide_tip(),
            self.prepared.step_settings(),
            start,
        )
    }

    fn folded(&self, wire: &Wire, fold: &BendSpec) -> Result<Assembly<'_>, Unresolved> {
        let mut settings = self.prepared.step_settings();
        settings.edge_mm = settings.edge_mm.min(FOLD_EDGE_MM);
        let guide_radius_mm = 0.5 * self.prepared.scenario().guide.inner_diameter_mm;
        let fold = FoldedStart {
            from_tip_mm: fold.from_tip_mm + 0.5 * fold.length_mm,
            legs_apart_mm: guide_radius_mm - wire.radius_mm() - LEG_PLAY_MM,
            ahead_mm: FOLD_AHEAD_MM,
            longest_mm: self.longest_mm(),
            roll_rad: self.variation.roll_rad,
        };
        Assembly::folded(
            wire,
            self.walled(&self.with_guide),
            self.prepared.guide_tip(),
            settings,
            fold,
        )
    }
}
