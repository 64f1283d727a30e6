//! A wire whose guide is carried along: the side port of a catheter that moves.

use nalgebra::Vector3;

use super::WireRod;
use crate::solve::GuideTip;
use crate::solve::guided::Layout;

/// A turn of the hand.
#[derive(Debug, Clone, Copy)]
pub(in crate::solve) enum Turn {
    /// By an angle in rad, positive right-handed about the forward direction.
    Hand(f64),
    /// Such that the wire's first director at the guide comes nearest to this direction.
    To(Vector3<f64>),
}

impl WireRod<'_> {
    /// The guide, along which the rod's end has been carried, is at `guide_tip` now.
    pub(in crate::solve) fn stand_at(&mut self, guide_tip: GuideTip) {
        self.guide_tip = guide_tip;
    }

    /// The wire's first director at the guide.
    pub(in crate::solve) fn director(&self) -> Vector3<f64> {
        self.body.rod.material_frame(self.layout.exit())[0]
    }

    /// Turn of the hand in rad, forward, that brings the director at the guide to `director`.
    pub(in crate::solve) fn turn_to(&self, director: &Vector3<f64>) -> f64 {
        let [first, second] = self.body.rod.material_frame(self.layout.exit());
        // The rod runs backwards: a turn forward is one back about its tangent.
        -director.dot(&second).atan2(director.dot(&first))
    }

    /// Turns the whole wire and its hand by `turn` rad.
    pub(in crate::solve) fn turn_all(&mut self, turn: f64) {
        self.turned[0] += turn;
        for i in 0..=self.layout.exit() {
            self.body.rod.q[4 * i + 3] -= turn;
        }
    }
}
