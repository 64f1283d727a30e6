//! Feed a folded wire, fold ahead, until its tip has passed the branching; withdraw, so that the
//! free leg opens into the branch; feed on. When it does not open there, turn and try again.
//!
//! A wire that comes out of a catheter's side port is moved with the catheter up to where it is fed
//! on, and turned by turning the catheter.

use super::{CatheterMove, Movement, Plan, Turns, View};

/// How far before the branching the tip has come back without entering, in mm, when the attempt
/// has failed.
const MISSED_MM: f64 = 2.0;
/// How much deeper than at its least the tip lies, in mm, when it is seen to go in.
const GOES_IN_MM: f64 = 3.0;
/// How far the tip comes back from its deepest place, in mm, when no more is to be withdrawn.
const COMES_BACK_MM: f64 = 1.0;
/// Movements of feeding on in which the tip may stay: a wire that was drawn taut round the carina
/// lays itself into a bow first.
const SLACK: u32 = 40;
/// Movements in a row without the tip going deeper after which wire is fed on.
const STILL: u32 = 10;

#[derive(Debug, Clone, Copy)]
enum Phase {
    Passing,
    /// Withdrawing, with the least depth past the branching seen so far.
    Opening {
        least_mm: f64,
    },
    /// Withdrawing while the tip goes into the branch: greatest depth, movements since.
    GoingIn {
        deepest_mm: f64,
        still: u32,
    },
    /// Feeding on; movements so far.
    Following {
        fed: u32,
    },
}

pub(super) struct LoopedBack {
    past_mm: f64,
    allowed: u32,
    turn_rad: Option<f64>,
    carried: bool,
    attempts: u32,
    phase: Phase,
}

impl LoopedBack {
    pub(super) fn new(past_mm: f64, allowed: u32, turn_rad: Option<f64>, carried: bool) -> Self {
        Self {
            past_mm,
            allowed,
            turn_rad,
            carried,
            attempts: 1,
            phase: Phase::Passing,
        }
    }

    fn again(&mut self, turns: &mut dyn Turns) -> Movement {
        if self.attempts >= self.allowed {
            return Movement::Stop;
        }
        self.attempts += 1;
        self.phase = Phase::Passing;
        let turn = turns.turn(self.turn_rad);
        if self.carried {
            Movement::Catheter(CatheterMove::Turn(turn))
        } else {
            Movement::Turn(turn)
        }
    }

    fn forward(&self) -> Movement {
        if self.carried {
            Movement::Catheter(CatheterMove::FeedBoth)
        } else {
            Movement::Feed
        }
    }

    fn back(&self) -> Movement {
        if self.carried {
            Movement::Catheter(CatheterMove::WithdrawBoth)
        } else {
            Movement::Withdraw
        }
    }

    /// Nothing is left to be drawn back.
    fn all_back(&self, view: &View) -> bool {
        match view.catheter {
            Some(catheter) if self.carried => catheter.all_drawn_back,
            _ => view.all_drawn_back,
        }
    }
}

impl Plan for LoopedBack {
    fn next(&mut self, view: &View, turns: &mut dyn Turns) -> Movement {
        let depth_mm = -view.before_branching_mm;
        match self.phase {
            Phase::Passing if depth_mm >= self.past_mm => {
                self.phase = Phase::Opening { least_mm: depth_mm };
                self.back()
            }
            Phase::Passing if view.stopped || view.all_fed => Movement::Stop,
            Phase::Passing => self.forward(),
            Phase::Opening { .. } if depth_mm < -MISSED_MM || self.all_back(view) => {
                self.again(turns)
            }
            Phase::Opening { least_mm } if depth_mm > least_mm + GOES_IN_MM => {
                self.phase = Phase::GoingIn {
                    deepest_mm: depth_mm,
                    still: 0,
                };
                self.back()
            }
            Phase::Opening { least_mm } => {
                self.phase = Phase::Opening {
                    least_mm: least_mm.min(depth_mm),
                };
                self.back()
            }
            Phase::GoingIn { .. } if depth_mm < -MISSED_MM => self.again(turns),
            Phase::GoingIn { deepest_mm, still }
                if still >= STILL
                    || depth_mm < deepest_mm - COMES_BACK_MM
                    || self.all_back(view) =>
            {
                self.phase = Phase::Following { fed: 0 };
                Movement::Feed
            }
            Phase::GoingIn { deepest_mm, still } => {
                let deeper = depth_mm > deepest_mm;
                self.phase = Phase::GoingIn {
                    deepest_mm: deepest_mm.max(depth_mm),
                    still: if deeper { 0 } else { still + 1 },
                };
                self.back()
            }
            Phase::Following { fed }
                if view.astray || view.all_fed || (view.stopped && fed >= SLACK) =>
            {
                Movement::Stop
            }
            Phase::Following { fed } => {
                self.phase = Phase::Following { fed: fed + 1 };
                Movement::Feed
            }
        }
    }

    fn attempts(&self) -> u32 {
        self.attempts
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hands::tests::{Asked, seen};

    #[test]
    fn wire_is_withdrawn_until_the_tip_comes_back_and_then_fed_on() {
        let mut plan = LoopedBack::new(3.0, 2, None, false);
        let mut next = |depth_mm: f64, stopped: bool| {
            let mut view = seen(0.0, -depth_mm, false);
            view.stopped = stopped;
            plan.next(&view, &mut Asked)
        };
        assert_eq!(next(-5.0, false), Movement::Feed);
        assert_eq!(next(3.0, false), Movement::Withdraw);
        // The tip goes in while wire is withdrawn, and on.
        for depth in [1.0, 0.5, 4.0, 9.0, 14.0, 14.2, 13.9] {
            assert_eq!(next(depth, false), Movement::Withdraw);
        }
        assert_eq!(next(13.1, false), Movement::Feed);
        // The bow takes up what is fed at first.
        for _ in 0..SLACK {
            assert_eq!(next(13.0, true), Movement::Feed);
        }
        assert_eq!(next(13.0, true), Movement::Stop);
    }
}
