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
