//! Where a step starts from: the solver's first guess.

use nalgebra::Vector3;

use super::chain;
use crate::rod::{Kinematics, Rod, node_of};

/// A movement of the hand in one step.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct HandStep {
    /// Fed length in mm.
    pub feed: f64,
    /// Turn in rad.
    pub turn: f64,
    /// Way of a guide that is carried along, in mm; 0 for one that stands.
    pub carried: Vector3<f64>,
}

impl HandStep {
    /// Share of `last` that this step is where it goes on with the same movement.
    fn share_of(self, last: Self) -> Option<f64> {
        let still = |a: f64, b: f64| a.abs() + b.abs() <= 0.0;
        let way = last.carried.norm_squared();
        if way > 0.0 {
            // The turn only follows from the guide's.
            let share = self.carried.dot(&last.carried) / way;
            let off = (self.carried - last.carried * share).norm() / self.carried.norm();
            let fed_off = (self.feed - share * last.feed).abs();
            let goes_on = off < 0.3 && fed_off <= 0.1 * self.feed.abs();
            return (goes_on && (0.2..=5.0).contains(&share)).then_some(share);
        }
        if self.feed * last.feed > 0.0 && still(self.turn, last.turn) {
            Some(self.feed / last.feed)
        } else if self.turn * last.turn > 0.0 && still(self.feed, last.feed) {
            Some(self.turn / last.turn)
        } else {
            None
        }
    }
}

/// The last accepted step, from which the next one is guessed.
///
/// What is gone on with is not the change itself but its difference from an advance along the
/// wire's own shape: a wire that slides along a bend keeps to it however long its steps.
#[derive(Debug, Clone, Default)]
pub(super) struct LastStep {
    hand: HandStep,
    /// Unknowns of the material nodes and their edges, tip first, in the present step if the wire
    /// advanced along its own shape.
    along: Vec<f64>,
    /// Difference of the last step's unknowns from those.
    off: Vec<f64>,
}

impl LastStep {
    /// Takes note of a step that led from `start` to the rod's state, with `material` unknowns
    /// that belong to material nodes. A release is not gone on with.
    pub(super) fn note(&mut self, hand: HandStep, rod: &Rod, start: &[f64], material: usize) {
        self.hand = hand;
        self.off.clear();
        if released(rod, start, material / 4, [hand.turn]) {
            return;
        }
        let along = self.along.iter().take(material);
        self.off
            .extend(rod.q.iter().zip(along).map(|(now, along)| now - along));
    }

    /// Moves the rod to where it would be if it advanced along its own shape and turned as a whole,
    /// with as much of the last step's difference from that as this step is of the last. Node `exit` and
    /// those behind it stay; `axis` is the direction of the guide.
    pub(super) fn guess(
        &mut self,
        rod: &mut Rod,
        exit: usize,
        hand: HandStep,
        axis: &Vector3<f64>,
    ) {
        let mut q = rod.q.clone();
        for i in 0..exit {
            let x = along_shape(rod, i, hand.feed, axis);
            q[4 * i..4 * i + 3].copy_from_slice(x.as_slice());
            q[4 * i + 3] -= hand.turn;
        }
        q[4 * exit + 3] -= hand.turn;
        self.along.clear();
        self.along.extend_from_slice(&q[..4 * exit]);
        if let Some(share) = hand.share_of(self.hand) {
            for (q, off) in q[..4 * exit].iter_mut().zip(&self.off) {
                *q += share * off;
            }
        }
        let lengths = lengths(rod, exit, [exit - 1]);
        chain::rebuild::<4>(&mut q, exit, |i, e| e.normalize() * lengths[i]);
        let mut kinematics = Kinematics::default();
        rod.kinematics_of(&q, &mut kinematics);
        rod.commit(&q, &mut kinematics);
    }
}

/// Lengths in mm of the edges in front of node `last` with the strains of the rod's state, so that
/// the next step starts with the forces along it. An edge that has `grown`, through which a device
/// flows, gets the strain of the one in front of it.
pub(super) fn lengths<const S: usize, const G: usize>(
    rod: &Rod<S>,
    last: usize,
    grown: [usize; G],
) -> Vec<f64> {
    let now = &rod.kinematics().length;
    let stretch = |i: usize| now[i] / rod.edges[i].rest_length;
    let like = |i: usize| match grown.contains(&i) {
        true => i.checked_sub(1).filter(|front| !grown.contains(front)),
        false => Some(i),
    };
    let length = |i: usize| rod.edges[i].rest_length * like(i).map_or(1.0, stretch);
    (0..last).map(length).collect()
}

/// Whether the rod let go in the step that led from `start` to its state: whether one of its first
/// `edges` edges turned, or spun beyond the `turns` (rad) of the hands, by more than half a radian.
///
/// A movement of the hand turns edges by a tenth of that. A snap turns them by up to a full turn at
/// once and then stops; a guess that went on with it would start the next step a turn further,
/// where the rod may find another equilibrium and stay.
pub(super) fn released<const S: usize, const R: usize>(
    rod: &Rod<S>,
    start: &[f64],
    edges: usize,
    turns: [f64; R],
) -> bool {
    const RELEASE_RAD: f64 = 0.5;
    let edge = |q: &[f64], i: usize| node_of::<S>(q, i + 1) - node_of::<S>(q, i);
    (0..edges).any(|i| {
        let spun = |(k, turn): (usize, &f64)| {
            let at = S * i + 3 + k;
            (rod.q[at] - start[at]).abs() - turn.abs() > RELEASE_RAD
        };
        edge(&rod.q, i).angle(&edge(start, i)) > RELEASE_RAD || turns.iter().enumerate().any(spun)
    })
}

/// Point that lies `feed` mm further along the rod's shape than node `i`, towards the tip.
pub(super) fn along_shape<const S: usize>(
    rod: &Rod<S>,
    i: usize,
    feed: f64,
    axis: &Vector3<f64>,
) -> Vector3<f64> {
    let mut at = i;
    let mut left = feed.abs();
    let mut x = rod.node(i);
    loop {
        let next = if feed >= 0.0 {
            at.checked_sub(1)
        } else {
            Some(at + 1).filter(|&k| k + 1 < rod.nodes())
        };
        let Some(next) = next else {
            let direction = if feed >= 0.0 { -rod.tangent(0) } else { -axis };
            return x + direction * left;
        };
        let to = rod.node(next);
        let length = (to - x).norm();
        if length >= left {
            return x + (to - x) * (left / length);
        }
        left -= length;
        x = to;
        at = next;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_carried_guide_goes_on_where_its_way_does_whatever_the_turn_that_follows() {
        let step = |x: f64, y: f64, turn: f64| HandStep {
            feed: 0.0,
            turn,
            carried: Vector3::new(x, y, 0.0),
        };
        let last = step(0.2, 0.0, 1e-9);
        assert_eq!(step(0.1, 0.0, 1e-3).share_of(last), Some(0.5));
        assert_eq!(step(0.1, 0.1, 1e-3).share_of(last), None);
        assert_eq!(step(-0.1, 0.0, 1e-9).share_of(last), None);
        assert_eq!(step(0.0, 0.0, 1e-3).share_of(last), None);
        let fed = HandStep {
            feed: 0.1,
            ..step(0.2, 0.0, 0.0)
        };
        assert_eq!(fed.share_of(last), None);
    }
}
