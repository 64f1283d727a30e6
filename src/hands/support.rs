//! A straight support catheter follows the wire: wire and catheter advance in turn. The wire is
//! redirected in front of the catheter; where it has to come back further, both come back.

use super::redirect::Redirect;
use super::{CatheterMove, CatheterView, Movement, Plan, Turns, View, follow};

/// Length of wire in mm that stays in front of the catheter when the wire is drawn back.
const LEAST_BARE_MM: f64 = 1.0;

pub(super) struct Support {
    wire: Redirect,
    behind_tip_mm: f64,
    stride_mm: f64,
    before_ostium_mm: f64,
    follow_mm: Option<f64>,
    following: bool,
}

impl Support {
    pub(super) fn new(
        behind_tip_mm: f64,
        stride_mm: f64,
        before_ostium_mm: f64,
        follow_mm: Option<f64>,
        wire: Redirect,
    ) -> Self {
        Self {
            wire,
            behind_tip_mm,
            stride_mm,
            before_ostium_mm,
            follow_mm,
            following: false,
        }
    }

    /// Whether it is the catheter's turn to go forward.
    fn follows(&mut self, catheter: &CatheterView) -> bool {
        let spare = catheter.bare_mm - self.behind_tip_mm;
        let may = catheter.before_branching_mm > self.before_ostium_mm && !catheter.stopped;
        self.following = may && spare > if self.following { 0.0 } else { self.stride_mm };
        self.following
    }
}

impl Plan for Support {
    fn next(&mut self, view: &View, turns: &mut dyn Turns) -> Movement {
        let Some(catheter) = view.catheter else {
            return Movement::Stop;
        };
        if !view.failing() && self.follows(&catheter) {
            return Movement::Catheter(CatheterMove::Feed);
        }
        match self.wire.next(view, turns) {
            Movement::Withdraw if catheter.bare_mm <= LEAST_BARE_MM => {
                Movement::Catheter(CatheterMove::WithdrawBoth)
            }
            other => other,
        }
    }

    fn attempts(&self) -> u32 {
        self.wire.attempts()
    }

    fn after_reaching(&mut self, view: &View) -> Option<Movement> {
        follow(self.follow_mm, view)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hands::tests::{Asked, seen};

    fn plan() -> Support {
        Support::new(10.0, 5.0, 2.0, Some(4.0), Redirect::new(2, 3.0, None, 0.0))
    }

    #[test]
    fn wire_and_catheter_go_forward_in_turn() {
        let mut plan = plan();
        let mut next = |bare_mm, before_mm| plan.next(&seen(bare_mm, before_mm, false), &mut Asked);
        let fed = Movement::Catheter(CatheterMove::Feed);
        assert_eq!(next(14.9, 20.0), Movement::Feed);
        assert_eq!(next(15.1, 20.0), fed);
        assert_eq!(next(10.2, 16.0), fed);
        assert_eq!(next(9.9, 15.8), Movement::Feed);
        // The catheter stays before the ostium.
        assert_eq!(next(30.0, 1.9), Movement::Feed);
    }

    #[test]
    fn wire_that_has_come_back_to_the_catheter_takes_it_along() {
        let mut plan = plan();
        let failing = |bare_mm| seen(bare_mm, 2.0, true);
        assert_eq!(plan.next(&failing(6.0), &mut Asked), Movement::Withdraw);
        let both = Movement::Catheter(CatheterMove::WithdrawBoth);
        assert_eq!(plan.next(&failing(0.9), &mut Asked), both);
    }

    #[test]
    fn the_catheter_follows_beyond_the_ostium_as_far_as_asked() {
        let mut plan = plan();
        let fed = Movement::Catheter(CatheterMove::Feed);
        assert_eq!(plan.after_reaching(&seen(12.0, -3.9, false)), Some(fed));
        assert_eq!(plan.after_reaching(&seen(12.0, -4.1, false)), None);
    }
}
