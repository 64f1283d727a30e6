//! Where a step of two devices starts from: the solver's first guess.

use nalgebra::Vector3;

use super::super::chain;
use super::super::guess::{along_shape, lengths, released};
use super::layout::Layout;
use super::{Hands, ROTATIONS};
use crate::rod::Rod;

/// The last accepted step, from which the next one is guessed.
#[derive(Debug, Clone, Default)]
pub(super) struct LastStep {
    hands: Hands,
    /// Changes of the unknowns of the wire's bare nodes and of the catheter's nodes, tips first.
    changes: [Vec<[f64; 5]>; 2],
}

impl LastStep {
    /// Takes note of a step that led from `start` to the rod's state; a release is not gone
    /// on with.
    pub(super) fn note(&mut self, hands: Hands, layout: &Layout, rod: &Rod<5>, start: &[f64]) {
        self.hands = hands;
        self.changes.iter_mut().for_each(Vec::clear);
        if released(rod, start, layout.exit, hands.turns()) {
            return;
        }
        let change = |i: usize| std::array::from_fn(|k| rod.q[5 * i + k] - start[5 * i + k]);
        let [wire, catheter] = &mut self.changes;
        wire.extend((0..layout.ahead).map(change));
        catheter.extend((layout.ahead..layout.exit).map(change));
    }

    /// Moves the rod to where it would be if it went on moving as in the last step; where that
    /// was a different movement, each device along the rod's shape and turned as a whole. The exit
    /// stays; `axis` is the direction of the guide.
    pub(super) fn guess(
        &self,
        rod: &mut Rod<5>,
        layout: &Layout,
        hands: Hands,
        axis: &Vector3<f64>,
    ) {
        let share = hands.share_of(self.hands);
        let mut q = rod.q.clone();
        let turns = hands.turns();
        for i in 0..=layout.exit {
            let (own, feed, nth) = if i < layout.ahead {
                (0, hands.feed_wire, i)
            } else {
                (1, hands.feed_catheter, i - layout.ahead)
            };
            let known = share
                .zip(self.changes[own].get(nth))
                .filter(|_| i < layout.exit);
            if let Some((share, change)) = known {
                for (k, d) in change.iter().enumerate() {
                    q[5 * i + k] += share * d;
                }
                continue;
            }
            if i < layout.exit {
                let x = along_shape(rod, i, feed, axis);
                q[5 * i..5 * i + 3].copy_from_slice(x.as_slice());
            }
            for (k, turn) in ROTATIONS.into_iter().zip(turns) {
                q[5 * i + k] -= turn;
            }
        }
        let grown = [layout.ahead.max(1) - 1, layout.exit - 1];
        let lengths = lengths(rod, layout.exit, grown);
        chain::rebuild::<5>(&mut q, layout.exit, |i, e| e.normalize() * lengths[i]);
        rod.q = q;
        rod.refresh();
    }
}
