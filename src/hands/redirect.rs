//! Feed, turning to and fro if asked for; when that fails, withdraw the tip to before the
//! branching, turn, and feed again.

use super::{Movement, Plan, Turns, View};

/// Movements of feeding between two turns to and fro.
const FEEDS_TO_A_TURN: u32 = 5;

enum Phase {
    Feeding,
    Withdrawing,
}

pub(super) struct Redirect {
    allowed: u32,
    withdraw_to_mm: f64,
    turn_rad: Option<f64>,
    /// Angle to which the hand turns next while it feeds, from where it began, in rad.
    rock_rad: f64,
    /// Where the hand has turned to while feeding, in rad.
    rocked_rad: f64,
    feeds: u32,
    attempts: u32,
    phase: Phase,
}

impl Redirect {
    pub(super) fn new(
        allowed: u32,
        withdraw_to_mm: f64,
        turn_rad: Option<f64>,
        rock_rad: f64,
    ) -> Self {
        Self {
            allowed,
            withdraw_to_mm,
            turn_rad,
            rock_rad,
            rocked_rad: 0.0,
            feeds: 0,
            attempts: 1,
            phase: Phase::Feeding,
        }
    }

    /// Feeds, with a turn to the one side and to the other now and then.
    fn feed(&mut self, turns: &mut dyn Turns) -> Movement {
        self.feeds += 1;
        if self.rock_rad.abs() > 0.0 && self.feeds.is_multiple_of(FEEDS_TO_A_TURN + 1) {
            let turn = self.rock_rad - self.rocked_rad;
            self.rocked_rad = self.rock_rad;
            self.rock_rad = -self.rock_rad;
            return Movement::Turn(turns.turn(Some(turn)));
        }
        Movement::Feed
    }
}

impl Plan for Redirect {
    fn next(&mut self, view: &View, turns: &mut dyn Turns) -> Movement {
        match self.phase {
            Phase::Feeding if !view.failing() => self.feed(turns),
            Phase::Feeding if self.attempts >= self.allowed => Movement::Stop,
            Phase::Feeding => {
                self.phase = Phase::Withdrawing;
                Movement::Withdraw
            }
            Phase::Withdrawing
                if view.before_branching_mm < self.withdraw_to_mm && !view.all_drawn_back =>
            {
                Movement::Withdraw
            }
            Phase::Withdrawing => {
                self.phase = Phase::Feeding;
                self.attempts += 1;
                Movement::Turn(turns.turn(self.turn_rad))
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

    struct Quarter;
    impl Turns for Quarter {
        fn turn(&mut self, _wanted: Option<f64>) -> f64 {
            1.5
        }
    }

    fn view(before: f64, astray: bool) -> View {
        View {
            before_branching_mm: before,
            next_branch: 1,
            towards: None,
            astray,
            stopped: false,
            looped: false,
            all_fed: false,
            all_drawn_back: false,
            catheter: None,
            anchor: None,
        }
    }

    #[test]
    fn a_failed_attempt_is_withdrawn_turned_and_repeated_until_the_attempts_are_used_up() {
        let mut plan = Redirect::new(2, 3.0, None, 0.0);
        let mut turns = Quarter;
        assert_eq!(plan.next(&view(5.0, false), &mut turns), Movement::Feed);
        assert_eq!(plan.next(&view(-8.0, true), &mut turns), Movement::Withdraw);
        assert_eq!(plan.next(&view(2.0, false), &mut turns), Movement::Withdraw);
        assert_eq!(
            plan.next(&view(3.1, false), &mut turns),
            Movement::Turn(1.5)
        );
        assert_eq!(plan.attempts(), 2);
        assert_eq!(plan.next(&view(3.1, false), &mut turns), Movement::Feed);
        assert_eq!(plan.next(&view(-8.0, true), &mut turns), Movement::Stop);
    }
}
