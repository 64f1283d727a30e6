//! Feed at the roll with which the wire was loaded until feeding on makes no sense.

use super::{Movement, Plan, Turns, View};

pub(super) struct Push;

impl Plan for Push {
    fn next(&mut self, view: &View, _turns: &mut dyn Turns) -> Movement {
        if view.failing() {
            Movement::Stop
        } else {
            Movement::Feed
        }
    }

    fn attempts(&self) -> u32 {
        1
    }
}
