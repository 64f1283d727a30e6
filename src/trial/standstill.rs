//! Whether the tip of a device stays where it is while the device is fed.

use std::collections::VecDeque;

use nalgebra::Vector3;

/// Fed length in mm over which a tip that does not move counts as stopped.
const STOPPED_OVER_MM: f64 = 5.0;
/// Share of the fed length below which the tip's movement counts as none.
const STOPPED_SHARE: f64 = 0.1;

/// The tip's places over the last stretch of feeding, with the length outside the guide in mm.
#[derive(Debug, Default)]
pub(super) struct Standstill(VecDeque<(f64, Vector3<f64>)>);

impl Standstill {
    /// Takes note of a tip at `tip` (mm), of a device of which `outside_mm` are outside the guide. Gives the
    /// length outside in mm from which on the tip has stayed where it was, if it has so over the last
    /// stretch of feeding.
    pub(super) fn look(&mut self, outside_mm: f64, tip: Vector3<f64>) -> Option<f64> {
        let over = &mut self.0;
        over.push_back((outside_mm, tip));
        while over
            .get(1)
            .is_some_and(|(fed, _)| as_commanded(outside_mm - fed) >= STOPPED_OVER_MM)
        {
            over.pop_front();
        }
        let (fed, then) = over.front()?;
        let stays = (tip - then).norm() < STOPPED_SHARE * (outside_mm - fed);
        (as_commanded(outside_mm - fed) >= STOPPED_OVER_MM && stays).then_some(*fed)
    }

    /// Forgets the places so far, as after a turn.
    pub(super) fn forget(&mut self) {
        self.0.clear();
    }
}

/// A length in mm that many movements of the hands add up to, without the rounding of the sum, which
/// depends on the steps into which they are cut: movements are multiples of one length, and plans
/// compare their sums with round numbers.
pub(super) fn as_commanded(length_mm: f64) -> f64 {
    const PER_MM: f64 = 1e6;
    (length_mm * PER_MM).round() / PER_MM
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The last answer of a tip that goes `tip_mm` a millimetre fed.
    fn fed(standstill: &mut Standstill, from_mm: f64, to_mm: f64, tip_mm: f64) -> Option<f64> {
        let steps = (0..).map(|k| from_mm + 0.25 * f64::from(k));
        let steps = steps.take_while(|s| *s <= to_mm);
        steps.fold(None, |_, outside_mm| {
            standstill.look(outside_mm, Vector3::new(tip_mm * outside_mm, 0.0, 0.0))
        })
    }

    #[test]
    fn a_tip_counts_as_stopped_after_five_millimetres_and_from_where_it_stayed() {
        let mut standstill = Standstill::default();
        assert_eq!(fed(&mut standstill, 3.0, 7.75, 0.0), None);
        assert_eq!(fed(&mut standstill, 8.0, 9.0, 0.0), Some(4.0));
        standstill.forget();
        assert_eq!(fed(&mut standstill, 9.0, 13.0, 0.0), None);
    }

    #[test]
    fn a_tip_that_goes_a_tenth_of_what_is_fed_has_not_stopped() {
        assert_eq!(fed(&mut Standstill::default(), 0.0, 20.0, 0.11), None);
        assert_eq!(fed(&mut Standstill::default(), 0.0, 20.0, 0.09), Some(15.0));
    }
}
