//! What hands do to devices, and what they feel.

use super::settings::TURN_RAD_PER_S;

/// A movement of the hands in one step.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Hands {
    /// Wire fed, in mm.
    pub feed_wire: f64,
    /// Wire turned, in rad.
    pub turn_wire: f64,
    /// Catheter fed, in mm.
    pub feed_catheter: f64,
    /// Catheter turned, in rad.
    pub turn_catheter: f64,
    /// Change of the catheter's steered angle, in rad.
    pub steer: f64,
    /// Time in s that the movement takes at least; alone, the hands wait.
    pub wait_s: f64,
}

impl Hands {
    fn all(self) -> [f64; 6] {
        [
            self.feed_wire,
            self.turn_wire,
            self.feed_catheter,
            self.turn_catheter,
            self.steer,
            self.wait_s,
        ]
    }

    /// Wire alone fed by a length in mm.
    #[must_use]
    pub fn feed(feed_wire: f64) -> Self {
        Self {
            feed_wire,
            ..Self::default()
        }
    }

    /// Wire alone turned by an angle in rad.
    #[must_use]
    pub fn turn(turn_wire: f64) -> Self {
        Self {
            turn_wire,
            ..Self::default()
        }
    }

    /// Nothing but time in s.
    #[must_use]
    pub fn wait(wait_s: f64) -> Self {
        Self {
            wait_s,
            ..Self::default()
        }
    }

    /// Wire and catheter fed by the same length in mm.
    #[must_use]
    pub fn together(feed_mm: f64) -> Self {
        Self {
            feed_wire: feed_mm,
            feed_catheter: feed_mm,
            ..Self::default()
        }
    }

    /// The same movement, larger or smaller by a factor.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        let [
            feed_wire,
            turn_wire,
            feed_catheter,
            turn_catheter,
            steer,
            wait_s,
        ] = self.all().map(|v| v * factor);
        Self {
            feed_wire,
            turn_wire,
            feed_catheter,
            turn_catheter,
            steer,
            wait_s,
        }
    }

    /// Whether nothing is moved.
    #[must_use]
    pub fn is_still(self) -> bool {
        self.all().iter().all(|v| v.abs() <= 0.0)
    }

    /// Time in s that the movement takes at a speed of feeding in mm/s.
    pub(super) fn seconds(self, speed_mm_per_s: f64) -> f64 {
        let (fed, turned) = self.extent();
        (fed / speed_mm_per_s)
            .max(turned / TURN_RAD_PER_S)
            .max(self.wait_s)
    }

    pub(super) fn feeds(self) -> [f64; 2] {
        [self.feed_wire, self.feed_catheter]
    }

    pub(super) fn turns(self) -> [f64; 2] {
        [self.turn_wire, self.turn_catheter]
    }

    /// Largest length in mm by which either device is fed, and largest angle in rad by which either
    /// is turned.
    pub(super) fn extent(self) -> (f64, f64) {
        let largest = |way: [f64; 2]| way[0].abs().max(way[1].abs());
        (largest(self.feeds()), largest(self.turns()))
    }

    /// Share of `last` that this step is where it goes on with the same movement.
    pub(super) fn share_of(self, last: Self) -> Option<f64> {
        let dot = |a: [f64; 6], b: [f64; 6]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
        let (a, b) = (self.all(), last.all());
        let share = dot(a, b) / dot(b, b);
        let off: f64 = (0..6).map(|k| (a[k] - share * b[k]).abs()).sum();
        let size: f64 = a.iter().map(|v| v.abs()).sum();
        (share > 0.0 && off < 1e-9 * size).then_some(share)
    }
}

/// What the hands feel: forces in mN and moments in mN mm, positive against a resistance.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Reactions {
    /// Push force on the wire and on the catheter; 0 for one that is not there.
    pub push: [f64; 2],
    /// Torque on the wire and on the catheter, likewise.
    pub torque: [f64; 2],
    /// Moment that holds the catheter's steered angle.
    pub steer: f64,
}

impl Reactions {
    /// Work in mN mm of the hands in a step that ends with these reactions and began with `before`.
    pub(super) fn work(&self, before: &Self, hands: Hands) -> f64 {
        let mean = |before: f64, after: f64| 0.5 * (before + after);
        let mut sum = mean(before.steer, self.steer) * hands.steer;
        for k in 0..2 {
            sum += mean(before.push[k], self.push[k]) * hands.feeds()[k]
                + mean(before.torque[k], self.torque[k]) * hands.turns()[k];
        }
        sum
    }
}
