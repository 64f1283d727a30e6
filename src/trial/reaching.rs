//! What counts as reached: how deep the tip has to lie, counted from the whole mouth, and the hold.
//!
//! A tip that lies deep enough has not reached the target yet: a hook that hangs on the carina does
//! so too. When it is fed a stated length further, whatever the technique, it has to go deeper by a
//! stated share of that length without leaving and without being withdrawn. A plan knows nothing of
//! this: it feeds as long as it sees reason to. A wire that is all fed before that has not held.

use std::collections::VecDeque;

use super::prepared::Prepared;
use super::setup::SetupError;
use crate::scenario::model::TargetSpec;
use crate::vessel::{Lumen, Onward, Tree};

/// Where the scenario says no length of hold: so many diameters of the branch.
const HOLD_DIAMETERS: f64 = 2.0;
/// And at the end of such a hold the tip is fed at least this far beyond the mouth, in mm.
const HOLD_TO_MM: f64 = 5.0;
/// Slack for sums of fed parts in mm.
const SLACK_MM: f64 = 1e-9;

/// What the tip has to do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reaching {
    /// Station on the target in mm at which its whole mouth ends.
    pub mouth_mm: f64,
    /// How far beyond that the tip has to lie, in mm.
    pub beyond_mm: f64,
    /// Length in mm that it is then fed further.
    pub hold_mm: f64,
    /// Share of that length by which it has to go deeper, 0 to 1.
    pub share: f64,
}

impl Reaching {
    /// What a scenario asks for in a branch of a tree whose wall is that of `lumen`.
    #[must_use]
    pub fn of(spec: &TargetSpec, tree: &Tree, lumen: &dyn Lumen, target: usize) -> Self {
        let mouth_mm = tree.whole_mouth_mm(lumen, target);
        let diameter_mm = 2.0 * tree.branches()[target].centreline.radius(mouth_mm);
        let by_itself = (HOLD_DIAMETERS * diameter_mm).max(HOLD_TO_MM - spec.beyond_ostium_mm);
        Self {
            mouth_mm,
            beyond_mm: spec.beyond_ostium_mm,
            hold_mm: spec.hold_mm.unwrap_or(by_itself),
            share: spec.hold_share,
        }
    }

    /// The same in a tree with other diameters, where the whole mouth ends at another station, in mm.
    pub(super) fn with_mouth(self, mouth_mm: f64) -> Self {
        Self { mouth_mm, ..self }
    }

    /// What is left to do for a tip so many mm from the target's start.
    pub(super) fn left(self, depth_mm: f64, holding: Holding) -> ToGo {
        let fed_mm = match holding {
            Holding::Outside => 0.0,
            Holding::Begun(stretch) | Holding::Held(stretch) | Holding::Failed(stretch) => {
                stretch.fed_mm
            }
        };
        ToGo {
            deeper_mm: (self.mouth_mm + self.beyond_mm - depth_mm).max(0.0),
            hold_mm: (self.hold_mm - fed_mm).max(0.0),
        }
    }

    /// Depth of the target in mm, from its start, that a hold can need.
    #[must_use]
    pub fn room_mm(&self) -> f64 {
        self.mouth_mm + self.beyond_mm + self.hold_mm
    }
}

/// A stretch of feeding with the tip deep enough in the target.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Stretch {
    /// Length fed in mm.
    pub fed_mm: f64,
    /// By how much the tip went deeper, in mm.
    pub deeper_mm: f64,
}

/// How far the hold has come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Holding {
    /// The tip does not lie deep enough in the target.
    Outside,
    /// It does; how it has gone since it was fed.
    Begun(Stretch),
    /// It has gone deeper over the whole hold: reached.
    Held(Stretch),
    /// It has been fed the whole hold, and not gone deeper by as much as it had to.
    Failed(Stretch),
}

/// What is left to do until the target counts as reached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToGo {
    /// How much deeper the tip has to come, in mm; 0 where it lies deep enough.
    pub deeper_mm: f64,
    /// Length in mm that is to be fed from there on, with which it has to go deeper; 0 or more.
    pub hold_mm: f64,
}

/// Measures the hold, from look to look.
#[derive(Debug)]
pub(super) struct Hold {
    reaching: Reaching,
    /// Wire outside the guide and depth of the tip, in mm, over the last stretch of feeding.
    fed: VecDeque<(f64, f64)>,
}

impl Hold {
    pub(super) fn new(reaching: Reaching) -> Self {
        Self {
            reaching,
            fed: VecDeque::new(),
        }
    }

    /// What has to be done.
    pub(super) fn reaching(&self) -> &Reaching {
        &self.reaching
    }

    /// Begins anew, as after withdrawing.
    pub(super) fn forget(&mut self) {
        self.fed.clear();
    }

    /// Takes note of the wire outside the guide and of the tip's depth from the target's start, in
    /// mm, if it lies in the target and outside every other vessel.
    pub(super) fn look(&mut self, outside_mm: f64, depth_mm: Option<f64>) -> Holding {
        let Reaching {
            mouth_mm,
            beyond_mm,
            hold_mm,
            share,
        } = self.reaching;
        let Some(depth_mm) = depth_mm.filter(|depth| *depth >= mouth_mm + beyond_mm) else {
            self.fed.clear();
            return Holding::Outside;
        };
        self.fed.push_back((outside_mm, depth_mm));
        let over = |from: &(f64, f64)| outside_mm - from.0 >= hold_mm - SLACK_MM;
        while self.fed.get(1).is_some_and(over) {
            self.fed.pop_front();
        }
        let from = self.fed[0];
        let stretch = Stretch {
            fed_mm: outside_mm - from.0,
            deeper_mm: depth_mm - from.1,
        };
        if !over(&from) {
            Holding::Begun(stretch)
        } else if stretch.deeper_mm >= share * stretch.fed_mm {
            Holding::Held(stretch)
        } else {
            Holding::Failed(stretch)
        }
    }
}

impl Prepared {
    /// Refuses a target that has no room for what has to be done in it.
    pub(super) fn check_room(&self) -> Result<(), SetupError> {
        let (tree, target) = (self.tree(), self.target_branch());
        let room_mm = Onward::new(tree, target, 0.0, target).length_mm();
        let reaching = self.reaching();
        if reaching.room_mm() <= room_mm {
            return Ok(());
        }
        Err(SetupError::NoRoom {
            branch: tree.branches()[target].name.clone(),
            length_mm: room_mm,
            reaching: *reaching,
            needed_mm: reaching.room_mm(),
            place: self.scenario().target.place.clone(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const REACHING: Reaching = Reaching {
        mouth_mm: 6.0,
        beyond_mm: 5.0,
        hold_mm: 4.0,
        share: 0.5,
    };

    #[test]
    fn what_is_left_is_first_the_way_in_and_then_the_hold() {
        let left = |depth_mm, holding| {
            let to_go = REACHING.left(depth_mm, holding);
            (to_go.deeper_mm, to_go.hold_mm)
        };
        assert_eq!(left(8.5, Holding::Outside), (2.5, 4.0));
        let begun = Stretch {
            fed_mm: 1.5,
            deeper_mm: 1.0,
        };
        assert_eq!(left(12.0, Holding::Begun(begun)), (0.0, 2.5));
    }

    /// What a tip that goes deeper by `share` of what it is fed, from 10 mm on, comes to.
    fn fed(share: f64) -> (f64, Holding) {
        let mut hold = Hold::new(REACHING);
        let mut outside = 50.0;
        loop {
            let depth = 10.0 + share * (outside - 50.0);
            let holding = hold.look(outside, Some(depth));
            if matches!(holding, Holding::Held(_) | Holding::Failed(_)) || outside > 100.0 {
                return (outside, holding);
            }
            outside += 0.4;
        }
    }

    #[test]
    fn a_tip_that_goes_on_holds_and_one_that_hangs_does_not() {
        let (outside, holding) = fed(0.9);
        assert!(matches!(holding, Holding::Held(s) if (s.deeper_mm - 3.6).abs() < 1e-6));
        assert!((outside - 50.0 - 1.2 - 4.0).abs() < 1e-6, "{outside}");
        assert!(matches!(fed(0.4).1, Holding::Failed(s) if s.deeper_mm < 2.0));
        assert_eq!(fed(0.0).1, Holding::Outside);
    }

    #[test]
    fn a_tip_that_leaves_or_is_drawn_back_begins_anew() {
        let mut hold = Hold::new(REACHING);
        hold.look(50.0, Some(11.0));
        hold.look(53.0, Some(14.0));
        assert_eq!(hold.look(53.4, None), Holding::Outside);
        let begun = Holding::Begun(Stretch::default());
        assert_eq!(hold.look(54.0, Some(14.0)), begun);
        hold.look(57.0, Some(17.0));
        hold.forget();
        assert_eq!(hold.look(57.0, Some(17.0)), begun);
    }
}
