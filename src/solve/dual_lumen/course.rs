//! How the load of the second wire goes from step to step.

use nalgebra::SVector;

use crate::solve::telescope::{Hands, PortLoad};

/// The loads at the ends of the last steps.
#[derive(Debug, Default)]
pub(super) struct Course {
    hands: Hands,
    /// After the last step and after the one before.
    last: Option<SVector<f64, 7>>,
    before: Option<SVector<f64, 7>>,
}

impl Course {
    /// Takes note of a step that ended under `load`.
    pub(super) fn note(&mut self, hands: Hands, load: Option<&PortLoad>) {
        let goes_on = hands.share_of(self.hands).is_some();
        self.before = if goes_on { self.last } else { None };
        self.last = load.map(|load| load.force);
        self.hands = hands;
    }

    /// The load to be expected after a step that goes on with the same movement, where two steps
    /// have gone before.
    pub(super) fn expected(&self, hands: Hands, load: Option<&PortLoad>) -> Option<PortLoad> {
        let share = hands.share_of(self.hands)?;
        let (last, before) = (self.last?, self.before?);
        Some(PortLoad {
            force: last + (last - before) * share,
            anchor: None,
            ..*load?
        })
    }
}
