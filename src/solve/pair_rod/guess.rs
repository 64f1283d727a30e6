//! Where a step of two devices starts from: the solver's first guess.

use nalgebra::Vector3;

use super::super::chain;
use super::super::guess::{along_shape, lengths, released};
use super::ROTATIONS;
use super::layout::PairLayout;
use crate::rod::Rod;
use crate::solve::Hands;

/// The last accepted step, from which the next one is guessed.
#[derive(Debug, Clone, Default)]
pub(in crate::solve) struct LastStep {
    hands: Hands,
    /// Unknowns of the nodes in front of the exit in the present step if each device advanced along the
    /// rod's shape, tip first.
    along: Vec<[f64; 5]>,
    /// Differences of the last step's unknowns from those: the wire's bare nodes, and the catheter's
    /// nodes, tips first.
    off: [Vec<[f64; 5]>; 2],
}

impl LastStep {
    /// Takes note of a step that led from `start` to the rod's state; a release is not gone
    /// on with.
    pub(super) fn note(&mut self, hands: Hands, layout: &PairLayout, rod: &Rod<5>, start: &[f64]) {
        self.hands = hands;
        self.off.iter_mut().for_each(Vec::clear);
        if released(rod, start, layout.exit, hands.turns()) {
            return;
        }
        let along = &self.along;
        let off = |i: usize| std::array::from_fn(|k| rod.q[5 * i + k] - along[i][k]);
        let [wire, catheter] = &mut self.off;
        wire.extend((0..layout.ahead).map(off));
        catheter.extend((layout.ahead..layout.exit).map(off));
    }

    /// Moves the rod to where it would be if each device advanced along the rod's shape and turned as a
    /// whole, with as much of the last step's difference from that as this step is of the last. The
    /// exit stays; `axis` is the direction of the guide.
    pub(super) fn guess(
        &mut self,
        rod: &mut Rod<5>,
        layout: &PairLayout,
        hands: Hands,
        axis: &Vector3<f64>,
    ) {
        let share = hands.share_of(self.hands).unwrap_or(0.0);
        let mut q = rod.q.clone();
        self.along.clear();
        for i in 0..=layout.exit {
            for (k, turn) in ROTATIONS.into_iter().zip(hands.turns()) {
                q[5 * i + k] -= turn;
            }
            if i == layout.exit {
                break;
            }
            let (own, feed, nth) = if i < layout.ahead {
                (0, hands.feed_wire, i)
            } else {
                (1, hands.feed_catheter, i - layout.ahead)
            };
            let x = along_shape(rod, i, feed, axis);
            q[5 * i..5 * i + 3].copy_from_slice(x.as_slice());
            self.along.push(std::array::from_fn(|k| q[5 * i + k]));
            if let Some(off) = self.off[own].get(nth) {
                for (q, off) in q[5 * i..].iter_mut().zip(off) {
                    *q += share * off;
                }
            }
        }
        let grown = [layout.ahead.max(1) - 1, layout.exit - 1];
        let lengths = lengths(rod, layout.exit, grown);
        chain::rebuild::<5>(&mut q, layout.exit, |i, e| e.normalize() * lengths[i]);
        rod.q = q;
        rod.refresh();
    }
}
