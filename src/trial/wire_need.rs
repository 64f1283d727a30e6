//! How much wire a technique takes, and whether as much may be fed.

use super::prepared::Prepared;
use crate::scenario::Warning;
use crate::scenario::model::TechniqueSpec;
use crate::vessel::Onward;

/// Reserve that a warning proposes over what the centrelines ask for: a wire lies in waves.
const RESERVE: f64 = 1.15;

impl Prepared {
    /// Length of wire in mm outside the guide that a technique takes at the least: along the
    /// centrelines to where the hold ends, and what is folded or looped beyond the branching.
    #[must_use]
    pub fn wire_need_mm(&self, technique: &TechniqueSpec) -> f64 {
        let branches = self.tree().branches();
        let parent = branches[self.target_branch()].parent;
        let branching = parent.map_or(0.0, |(parent, at)| self.tree().progress_mm(parent, at));
        let way_mm = branching - self.guide_progress_mm();
        let beyond_mm = technique.plan.needs().beyond_branching_mm;
        way_mm + beyond_mm.max(self.reaching().room_mm())
    }

    /// Techniques for which the wire that may be fed cannot be enough, or whose folded wire comes
    /// to the end of the target.
    #[must_use]
    pub fn short_of_wire(&self) -> Vec<Warning> {
        let (tree, target) = (self.tree(), self.target_branch());
        let room_mm = Onward::new(tree, target, 0.0, target).length_mm();
        let hold_mm = self.reaching().hold_mm;
        let folded = self.scenario().techniques.iter().filter_map(|technique| {
            let fold = technique.plan.fold()?;
            let leg_mm = fold.from_tip_mm + fold.length_mm;
            (leg_mm + hold_mm > room_mm).then(|| Warning {
                place: technique.place.clone(),
                message: format!(
                    "technique {:?} lets a free leg of {leg_mm:.0} mm fall into the target, which ends at {room_mm:.1} mm: its tip comes to the end and cannot hold; {:.0} mm would be enough",
                    technique.name,
                    (leg_mm + hold_mm).ceil()
                ),
            })
        });
        self.short_of_feed().into_iter().chain(folded).collect()
    }

    fn short_of_feed(&self) -> Vec<Warning> {
        let scenario = self.scenario();
        let max_fed_mm = scenario.target.max_fed_mm;
        let reaching = self.reaching();
        let short = scenario.techniques.iter().filter_map(|technique| {
            let need_mm = self.wire_need_mm(technique);
            (need_mm > max_fed_mm).then(|| Warning {
                place: technique.place.clone(),
                message: format!(
                    "technique {:?} takes {need_mm:.1} mm of wire along the centrelines (way to the branching, whole mouth {:.1} mm, {} mm beyond it, hold {:.1} mm, and what is folded or looped), but max_fed_mm of [target] is {max_fed_mm}; {:.0} would be enough",
                    technique.name,
                    reaching.mouth_mm,
                    reaching.beyond_mm,
                    reaching.hold_mm,
                    (RESERVE * need_mm).ceil()
                ),
            })
        });
        short.collect()
    }
}
