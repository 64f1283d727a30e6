//! How the forces go from step to step: a step is as long as what lies between two steps allows.
//!
//! Forces are read where a step ends. What they do in between is off a straight line by `F'' h^2 / 8` at
//! most, `F''` being their second derivative by the fed length and `h` the step (the error of linear
//! interpolation). A step is cut where that is more than a share of the forces themselves.

use crate::solve::hands::Hands;

/// Largest difference of a force from a straight line between two steps, over the largest of the forces.
const SHARE: f64 = 0.01;
/// How much more is granted to a step that has been made.
const MADE: f64 = 2.0;
/// Into how many parts the longest step is cut at most for this.
pub(super) const PARTS: f64 = 2.0;

/// Forces that are read after a step, in mN: push on the wire, largest force of a contact, force on the tip.
pub(super) type StepForces = [f64; 3];

/// The last step of a movement.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Last {
    hands: Hands,
    /// Fed length in mm.
    fed_mm: f64,
    /// Forces at its end.
    read: StepForces,
    /// Change of the forces in the step over its length, in mN/mm.
    slope: StepForces,
    /// Longest step in mm that goes on from here.
    longest_mm: f64,
}

/// The forces of a movement of feeding or withdrawing, from step to step.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct ForceHistory {
    /// The last step, if it fed or withdrew.
    last: Option<Last>,
    /// Forces after the last step, whatever it was.
    before: StepForces,
}

impl ForceHistory {
    /// Into how many parts a step of `fed_mm` with that movement is cut before it is made; 1 or more.
    pub(super) fn parts(&self, hands: Hands, fed_mm: f64) -> f64 {
        match self.going_on(hands) {
            Some(last) => (fed_mm / last.longest_mm).clamp(1.0, PARTS),
            None => 1.0,
        }
    }

    /// Whether a step of `fed_mm` that ends with these forces may have more of them in between than it shows.
    pub(super) fn hides(&self, hands: Hands, fed_mm: f64, read: &StepForces) -> bool {
        self.going_on(hands)
            .is_some_and(|last| last.longest_mm_to(fed_mm, read) * MADE.sqrt() < fed_mm)
    }

    /// Takes note of a step that was made.
    pub(super) fn note(&mut self, hands: Hands, fed_mm: f64, read: StepForces) {
        if fed_mm <= 0.0 {
            *self = Self {
                last: None,
                before: read,
            };
            return;
        }
        let longest_mm = match self.going_on(hands) {
            Some(last) => last.longest_mm_to(fed_mm, &read),
            None => f64::INFINITY,
        };
        let from = std::mem::replace(&mut self.before, read);
        self.last = Some(Last {
            hands,
            fed_mm,
            read,
            slope: slope(&from, &read, fed_mm),
            longest_mm,
        });
    }

    fn going_on(&self, hands: Hands) -> Option<&Last> {
        let last = self.last.as_ref();
        last.filter(|last| hands.share_of(last.hands).is_some())
    }
}

impl Last {
    /// Longest step in mm that shows what the forces do, where the next one of `fed_mm` ends with `read`.
    fn longest_mm_to(&self, fed_mm: f64, read: &StepForces) -> f64 {
        let slope = slope(&self.read, read, fed_mm);
        let turned = slope
            .iter()
            .zip(&self.slope)
            .map(|(now, then)| (now - then).abs());
        let bent = 2.0 * turned.fold(0.0, f64::max) / (fed_mm + self.fed_mm);
        let forces = read.iter().chain(&self.read).map(|force| force.abs());
        let largest = forces.fold(0.0, f64::max);
        if bent > 0.0 {
            (8.0 * SHARE * largest / bent).sqrt()
        } else {
            f64::INFINITY
        }
    }
}

fn slope(from: &StepForces, to: &StepForces, way_mm: f64) -> StepForces {
    std::array::from_fn(|k| (to[k] - from[k]) / way_mm)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A push force that goes with the fed length like that, read after steps of these lengths.
    fn history(force: impl Fn(f64) -> f64, steps_mm: &[f64]) -> (ForceHistory, f64) {
        let mut history = ForceHistory::default();
        let mut fed_mm = 0.0;
        history.note(Hands::default(), 0.0, [force(0.0), 0.0, 0.0]);
        for &step_mm in steps_mm {
            fed_mm += step_mm;
            history.note(Hands::feed(step_mm), step_mm, [force(fed_mm), 0.0, 0.0]);
        }
        (history, fed_mm)
    }

    #[test]
    fn a_force_that_goes_on_straight_hides_nothing_however_long_the_step() {
        let line = |fed_mm: f64| 1.0 + 0.3 * fed_mm;
        let (history, fed_mm) = history(line, &[0.4, 0.2]);
        let hands = Hands::feed(2.0);
        assert!(!history.hides(hands, 2.0, &[line(fed_mm + 2.0), 0.0, 0.0]));
        assert!((history.parts(hands, 2.0) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_step_is_as_long_as_the_error_between_two_readings_allows() {
        // Off by `bent h^2 / 8` in the middle; the force hardly changes.
        let bent = 0.5;
        let parabola = |fed_mm: f64| 10.0 - 0.5 * bent * (fed_mm - 0.2) * (fed_mm - 0.2);
        let longest_mm = (8.0 * SHARE * 10.0 / bent).sqrt();
        let (history, fed_mm) = history(parabola, &[0.2, 0.2]);
        for share in [0.98, 1.02] {
            let step_mm = share * longest_mm * MADE.sqrt();
            let read = [parabola(fed_mm + step_mm), 0.0, 0.0];
            let hides = history.hides(Hands::feed(step_mm), step_mm, &read);
            assert_eq!(hides, share > 1.0, "{share} of the longest step");
        }
        let parts = history.parts(Hands::feed(1.5 * longest_mm), 1.5 * longest_mm);
        assert!((parts - 1.5).abs() < 0.01, "{parts}");
        assert!((history.parts(Hands::feed(100.0), 100.0) - PARTS).abs() < 1e-12);
    }

    #[test]
    fn nothing_is_known_of_a_force_after_another_movement() {
        let (mut history, _) = history(|fed_mm| fed_mm * fed_mm, &[0.4, 0.4]);
        let jump = [5.0, 0.0, 0.0];
        assert!(history.hides(Hands::feed(0.4), 0.4, &jump));
        assert!(!history.hides(Hands::feed(-0.4), 0.4, &jump));
        history.note(Hands::turn(0.1), 0.0, jump);
        assert!(!history.hides(Hands::feed(0.4), 0.4, &[50.0, 0.0, 0.0]));
    }
}
