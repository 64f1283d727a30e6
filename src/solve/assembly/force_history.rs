//! How the forces go from step to step: a step is as long as what lies between two readings allows.
//!
//! Forces are read where a step ends. In between they are off a straight line by `F'' h^2 / 8` at most, `F''`
//! being their second derivative by the fed length and `h` the step (the error of linear interpolation). A
//! step is cut where that is more than a share of the largest of the forces.

use crate::solve::hands::Hands;

/// Largest difference of a force from a straight line between two readings, over the largest of all forces
/// that are read. A step is cut before it is made where the last one says that it would have more.
const SHARE: f64 = 0.01;
/// The same for a step that has been made: where it has more, it is taken back.
const SHARE_OF_MADE: f64 = 0.02;
/// Length in mm below which no step is cut for its forces: half of a feed of the hands.
const LEAST_MM: f64 = 0.2;

/// Forces that are read after a step, in mN: push on the wire, largest on a millimetre of wall, on the tip.
pub(super) type StepForces = [f64; 3];

/// A step that fed or withdrew.
#[derive(Debug, Clone, Copy, PartialEq)]
struct FeedStep {
    hands: Hands,
    /// Fed length in mm.
    fed_mm: f64,
    /// Change of the forces over that length, in mN/mm.
    slope: StepForces,
    /// Longest step in mm that goes on from here.
    longest_mm: f64,
}

/// The forces from step to step, while hands feed or withdraw.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct ForceHistory {
    /// Forces after the last step; unknown where something else has changed since.
    read: Option<StepForces>,
    /// That step, where it fed or withdrew and the forces before it are known.
    last: Option<FeedStep>,
}

impl ForceHistory {
    /// Into how many parts a step of `fed_mm` with that movement is cut before it is made; 1 or more. Where
    /// another movement begins, forces may turn, and the step is cut.
    pub(super) fn parts(&self, hands: Hands, fed_mm: f64) -> f64 {
        let longest_mm = self.last_of(hands).map_or(LEAST_MM, |last| last.longest_mm);
        (fed_mm / longest_mm.max(LEAST_MM)).max(1.0)
    }

    /// Whether a step of `fed_mm` that ends with these forces may hide others in between. `noise_mn` is what a
    /// force in mN has to be for its change to say something.
    pub(super) fn hides(
        &self,
        hands: Hands,
        fed_mm: f64,
        read: &StepForces,
        noise_mn: f64,
    ) -> bool {
        let can_be_halved = fed_mm >= (2.0 - 1e-9) * LEAST_MM;
        let longest_mm = self.longest_mm(hands, fed_mm, read, noise_mn);
        can_be_halved && longest_mm.is_some_and(|mm| mm * (SHARE_OF_MADE / SHARE).sqrt() < fed_mm)
    }

    /// Takes note of a step that was made.
    pub(super) fn note(&mut self, hands: Hands, fed_mm: f64, read: StepForces, noise_mn: f64) {
        let longest_mm = self.longest_mm(hands, fed_mm, &read, noise_mn);
        let before = self.read.replace(read);
        self.last = before.filter(|_| fed_mm > 0.0).map(|before| FeedStep {
            hands,
            fed_mm,
            slope: slope(&before, &read, fed_mm),
            longest_mm: longest_mm.unwrap_or(LEAST_MM),
        });
    }

    /// Longest step in mm that shows what the forces do, where one of `fed_mm` ends with those that are
    /// `read`; unknown for a movement that does not go on with the last one.
    fn longest_mm(
        &self,
        hands: Hands,
        fed_mm: f64,
        read: &StepForces,
        noise_mn: f64,
    ) -> Option<f64> {
        let (last, before) = (self.last_of(hands)?, self.read?);
        let change = slope(&before, read, fed_mm);
        let slopes = change.iter().zip(&last.slope);
        let turned = slopes.map(|(now, then)| (now - then).abs());
        let second_derivative = 2.0 * turned.fold(0.0, f64::max) / (fed_mm + last.fed_mm);
        let forces = read.iter().chain(&before).map(|force| force.abs());
        let largest = forces.fold(noise_mn, f64::max);
        let longest_mm = (8.0 * SHARE * largest / second_derivative).sqrt();
        // Forces that do not change at all.
        Some(if longest_mm.is_nan() {
            f64::INFINITY
        } else {
            longest_mm
        })
    }

    /// The last step, if that movement goes on with it.
    fn last_of(&self, hands: Hands) -> Option<&FeedStep> {
        let last = self.last.as_ref();
        last.filter(|last| hands.share_of(last.hands).is_some())
    }
}

fn slope(from: &StepForces, to: &StepForces, way_mm: f64) -> StepForces {
    std::array::from_fn(|k| (to[k] - from[k]) / way_mm)
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOISE_MN: f64 = 1e-6;

    /// A push force that goes with the fed length like that, read after steps of these lengths.
    fn history(force: impl Fn(f64) -> f64, steps_mm: &[f64]) -> (ForceHistory, f64) {
        let mut history = ForceHistory::default();
        let mut fed_mm = 0.0;
        history.note(Hands::default(), 0.0, [force(0.0), 0.0, 0.0], NOISE_MN);
        for &step_mm in steps_mm {
            fed_mm += step_mm;
            let read = [force(fed_mm), 0.0, 0.0];
            history.note(Hands::feed(step_mm), step_mm, read, NOISE_MN);
        }
        (history, fed_mm)
    }

    #[test]
    fn a_force_that_goes_on_straight_hides_nothing_however_long_the_step() {
        for slope in [0.0, 0.3] {
            let line = |fed_mm: f64| 1.0 + slope * fed_mm;
            let (history, fed_mm) = history(line, &[0.4, 0.2]);
            let hands = Hands::feed(2.0);
            let read = [line(fed_mm + 2.0), 0.0, 0.0];
            assert!(!history.hides(hands, 2.0, &read, NOISE_MN));
            assert!((history.parts(hands, 2.0) - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn a_step_is_as_long_as_the_error_between_two_readings_allows() {
        // Off by `bent h^2 / 8` in the middle; the force hardly changes.
        let bent = 0.5;
        let parabola = |fed_mm: f64| 10.0 - 0.5 * bent * (fed_mm - 0.2) * (fed_mm - 0.2);
        let longest_mm = |share: f64| (8.0 * share * 10.0 / bent).sqrt();
        let (history, fed_mm) = history(parabola, &[0.2, 0.2]);
        for share in [0.98, 1.02] {
            let step_mm = share * longest_mm(SHARE_OF_MADE);
            let read = [parabola(fed_mm + step_mm), 0.0, 0.0];
            let hides = history.hides(Hands::feed(step_mm), step_mm, &read, NOISE_MN);
            assert_eq!(hides, share > 1.0, "{share} of the longest step");
        }
        let step_mm = 1.5 * longest_mm(SHARE);
        let parts = history.parts(Hands::feed(step_mm), step_mm);
        assert!((parts - 1.5).abs() < 0.01, "{parts}");
    }

    #[test]
    fn no_step_is_cut_below_the_least_length() {
        let (history, _) = history(|fed_mm| fed_mm.powi(6), &[0.4, 0.4]);
        let jump = [1e3, 0.0, 0.0];
        assert!(history.hides(Hands::feed(0.4), 0.4, &jump, NOISE_MN));
        assert!(!history.hides(Hands::feed(0.3), 0.3, &jump, NOISE_MN));
        let parts = history.parts(Hands::feed(10.0 * LEAST_MM), 10.0 * LEAST_MM);
        assert!((parts - 10.0).abs() < 1e-9, "{parts}");
    }

    #[test]
    fn where_another_movement_begins_a_step_is_cut_and_nothing_is_said_of_its_forces() {
        let (mut history, _) = history(|fed_mm| fed_mm, &[0.4, 0.4]);
        let jump = [5.0, 0.0, 0.0];
        assert!(history.hides(Hands::feed(0.4), 0.4, &jump, NOISE_MN));
        assert!((history.parts(Hands::feed(0.4), 0.4) - 1.0).abs() < 1e-9);
        for back in [Hands::feed(-0.4), Hands::together(0.4)] {
            assert!(!history.hides(back, 0.4, &jump, NOISE_MN));
            assert!((history.parts(back, 0.4) - 2.0).abs() < 1e-9);
        }
        history.note(Hands::turn(0.1), 0.0, jump, NOISE_MN);
        assert!(!history.hides(Hands::feed(0.4), 0.4, &[50.0, 0.0, 0.0], NOISE_MN));
        assert!((history.parts(Hands::feed(0.4), 0.4) - 2.0).abs() < 1e-9);
    }

    #[test]
    fn forces_that_are_no_more_than_noise_cut_nothing() {
        let (history, _) = history(|fed_mm| 1e-8 * (40.0 * fed_mm).sin(), &[0.2, 0.2, 0.2]);
        assert!(!history.hides(Hands::feed(0.4), 0.4, &[-1e-8, 0.0, 0.0], 1e-4));
        let quiet = history.longest_mm(Hands::feed(0.4), 0.4, &[-1e-8, 0.0, 0.0], 1e-4);
        assert!(quiet.is_some_and(|mm| mm > 0.4), "{quiet:?}");
    }
}
