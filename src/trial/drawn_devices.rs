//! Wires and catheters as one trial draws them: the one place where its factors meet what a device is.

use super::prepared::Prepared;
use super::variation::Variation;
use crate::device::{Catheter, Wire};
use crate::scenario::model::{BendSpec, TechniqueSpec};

/// The devices of a scenario with the friction and the bends that one trial draws.
pub(super) struct DrawnDevices {
    /// The wires as they are shaped.
    wires: Vec<Wire>,
    /// The same with the fold that the technique gives to the wire it works with.
    worked: Vec<Wire>,
    /// The bends at the tips of the wires.
    bends: Vec<Option<BendSpec>>,
    catheters: Vec<Catheter>,
}

impl DrawnDevices {
    /// The devices of a scenario as a trial with this variation of the technique draws them. The factor
    /// on bends is one on the angles of all bends of a wire, a fold included.
    pub(super) fn new(
        prepared: &Prepared,
        technique: &TechniqueSpec,
        variation: &Variation,
    ) -> Self {
        let friction = |own: f64| own * variation.friction_factor;
        let drawn = |wire: &Wire| {
            wire.with_bend_factor(variation.bend_factor)
                .with_friction(friction(wire.friction()))
        };
        let catheter = |c: &Catheter| c.with_friction(friction(c.friction()));
        let all = prepared.wires();
        let wires: Vec<Wire> = all.iter().map(drawn).collect();
        let worked = match technique.plan.fold() {
            Some(fold) => all.iter().map(|w| drawn(&w.with_fold(&fold))).collect(),
            None => wires.clone(),
        };
        let bend = |bend: BendSpec| BendSpec {
            angle_rad: bend.angle_rad * variation.bend_factor,
            ..bend
        };
        let scenario = prepared.scenario();
        let tips = scenario.wires.iter().map(|wire| wire.tip.primary.map(bend));
        Self {
            wires,
            worked,
            bends: tips.collect(),
            catheters: prepared.catheters().iter().map(catheter).collect(),
        }
    }

    /// Wire number `index` of the scenario as it is shaped.
    pub(super) fn wire(&self, index: usize) -> &Wire {
        &self.wires[index]
    }

    /// Wire number `index` as the technique works with it: folded where it folds it.
    pub(super) fn worked(&self, index: usize) -> &Wire {
        &self.worked[index]
    }

    /// The bend at the tip of wire number `index`; `None` for a straight one.
    pub(super) fn bend(&self, index: usize) -> Option<&BendSpec> {
        self.bends[index].as_ref()
    }

    /// Catheter number `index` of the scenario.
    pub(super) fn catheter(&self, index: usize) -> &Catheter {
        &self.catheters[index]
    }
}
