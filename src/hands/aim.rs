//! Redirecting by what one projection shows: aim the bend at the side on which the branch is
//! seen to leave, feed; when that fails, withdraw, aim again a little to one side, feed again.
//!
//! The hand turns in parts as long as the bend is seen to point ever more to that side, and goes
//! back a part once it does less so. Depth is unknown: a bend that points well to the side as
//! seen may still point past an ostium in front or behind, and the hand tries a little further
//! either way with each attempt. Where the view shows no side (the branch is hidden behind
//! another vessel, or the tip has no bend), the hand turns by any angle.

use std::collections::BTreeMap;

use super::{Movement, Plan, Turns, View};

/// How far beyond the aim each further attempt turns, alternately to either side, in rad, where
/// the scenario does not say: 30 degrees, common practice, no source.
pub const BEYOND_AIM_RAD: f64 = std::f64::consts::FRAC_PI_6;
/// Part of a turn between two looks in rad: 20 degrees, so that the aim is good to half of that.
const PART_RAD: f64 = std::f64::consts::PI / 9.0;
/// Most parts of one aim: a full turn and a little.
const MOST_PARTS: u32 = 20;

enum Phase {
    Feeding,
    Withdrawing,
    Aiming(Aim),
}

/// An aim under way: the hand turns in parts as long as the bend is seen to point ever more to a
/// side, and goes back a part once it does less so.
pub(crate) struct Aim {
    /// How much the bend was seen to point to the side at the look before.
    before: f64,
    /// 1 or -1: which way the hand turns.
    way: f64,
    parts: u32,
    rising: bool,
}

/// What an aim asks of the hand next, in rad.
pub(crate) enum Aiming {
    /// Turn and look again.
    Turn(f64),
    /// The aim ends with this turn.
    Last(f64),
}

impl Aim {
    /// Begins at a look at which the bend points to the side by `seen`; the first turn in rad.
    pub(crate) fn begin(seen: f64) -> (Self, f64) {
        let aim = Self {
            before: seen,
            way: 1.0,
            parts: 1,
            rising: false,
        };
        (aim, PART_RAD)
    }

    /// Goes on after the next look.
    pub(crate) fn go_on(&mut self, seen: f64) -> Aiming {
        let better = seen > self.before;
        let at_best = !better && self.rising && self.before > 0.0;
        if at_best || self.parts >= MOST_PARTS {
            return Aiming::Last(if at_best { -self.way * PART_RAD } else { 0.0 });
        }
        if !better && self.parts == 1 {
            self.way = -self.way;
        }
        self.rising = better;
        self.before = seen;
        self.parts += 1;
        Aiming::Turn(self.way * PART_RAD)
    }
}

/// How far beyond the aim attempt number `earlier` (from 0) turns: 0, then ever further to either
/// side by `step_rad`.
pub(crate) fn beyond_aim(earlier: u32, step_rad: f64) -> f64 {
    let sign = if earlier.is_multiple_of(2) { -1.0 } else { 1.0 };
    sign * f64::from(earlier.div_ceil(2)) * step_rad
}

pub(crate) struct Aimed {
    allowed: u32,
    withdraw_to_mm: f64,
    beyond_rad: f64,
    attempts: u32,
    phase: Phase,
    /// How often the hand has aimed at each branching.
    aims: BTreeMap<usize, u32>,
    /// The branching aimed at last.
    aimed_at: Option<usize>,
}

impl Aimed {
    pub(crate) fn new(allowed: u32, withdraw_to_mm: f64, beyond_rad: f64) -> Self {
        Self {
            allowed,
            withdraw_to_mm,
            beyond_rad,
            attempts: 1,
            phase: Phase::Feeding,
            aims: BTreeMap::new(),
            aimed_at: None,
        }
    }

    /// Begins to aim at the branching that comes next.
    fn aim(&mut self, view: &View, turns: &mut dyn Turns) -> Movement {
        self.aimed_at = Some(view.next_branch);
        let Some(seen) = view.towards else {
            self.phase = Phase::Feeding;
            return Movement::Turn(turns.turn(None));
        };
        let (aim, part) = Aim::begin(seen);
        self.phase = Phase::Aiming(aim);
        Movement::Turn(turns.turn(Some(part)))
    }

    /// How far beyond the aim this attempt turns: 0, then ever further to either side.
    fn beyond(&mut self) -> f64 {
        let aims = self.aims.entry(self.aimed_at.unwrap_or(0)).or_default();
        *aims += 1;
        beyond_aim(*aims - 1, self.beyond_rad)
    }

    /// Goes on with an aim after a look.
    fn go_on(&mut self, mut aim: Aim, view: &View, turns: &mut dyn Turns) -> Movement {
        let Some(seen) = view.towards else {
            self.phase = Phase::Feeding;
            return Movement::Turn(turns.turn(None));
        };
        match aim.go_on(seen) {
            Aiming::Last(back) => {
                self.phase = Phase::Feeding;
                let beyond = self.beyond();
                Movement::Turn(turns.turn(Some(back + beyond)))
            }
            Aiming::Turn(part) => {
                self.phase = Phase::Aiming(aim);
                Movement::Turn(turns.turn(Some(part)))
            }
        }
    }
}

impl Plan for Aimed {
    fn next(&mut self, view: &View, turns: &mut dyn Turns) -> Movement {
        match std::mem::replace(&mut self.phase, Phase::Feeding) {
            Phase::Aiming(aim) => self.go_on(aim, view, turns),
            Phase::Feeding if view.failing() => {
                if self.attempts >= self.allowed {
                    return Movement::Stop;
                }
                self.phase = Phase::Withdrawing;
                Movement::Withdraw
            }
            Phase::Feeding => {
                let near = view.before_branching_mm <= self.withdraw_to_mm;
                if near && self.aimed_at != Some(view.next_branch) {
                    self.aim(view, turns)
                } else {
                    Movement::Feed
                }
            }
            Phase::Withdrawing
                if view.before_branching_mm < self.withdraw_to_mm && !view.all_drawn_back =>
            {
                self.phase = Phase::Withdrawing;
                Movement::Withdraw
            }
            Phase::Withdrawing => {
                self.attempts += 1;
                self.aim(view, turns)
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
    use crate::hands::tests::alone;

    /// Turns as asked, and half a turn where the plan does not know.
    struct Steady;
    impl Turns for Steady {
        fn turn(&mut self, wanted: Option<f64>) -> f64 {
            wanted.unwrap_or(std::f64::consts::PI)
        }
    }

    fn view(before: f64, towards: Option<f64>) -> View {
        View {
            towards,
            ..alone(before)
        }
    }

    /// Lets the plan aim a bend that is seen to point to the side by the cosine of its roll;
    /// returns the roll at which it feeds.
    fn aimed_from(plan: &mut Aimed, start: f64) -> f64 {
        let mut roll = start;
        loop {
            match plan.next(&view(3.0, Some(f64::cos(roll))), &mut Steady) {
                Movement::Turn(angle) => roll += angle,
                _ => return roll,
            }
        }
    }

    #[test]
    fn the_bend_is_turned_to_the_side_from_every_roll() {
        for k in 0..36 {
            let start = f64::from(k) * 10.0_f64.to_radians() + 0.01;
            let roll = aimed_from(&mut Aimed::new(3, 3.0, 0.5), start);
            let off = roll.sin().atan2(roll.cos()).abs();
            assert!(off <= 0.5 * PART_RAD + 0.02, "from {start}: off by {off}");
        }
    }

    #[test]
    fn further_attempts_aim_to_either_side_ever_further() {
        let mut plan = Aimed::new(5, 3.0, 0.5);
        let mut offs = Vec::new();
        for _ in 0..4 {
            let roll = aimed_from(&mut plan, 0.0);
            offs.push((roll.sin().atan2(roll.cos()) * 10.0).round() / 10.0);
            let astray = View {
                astray: true,
                ..view(-8.0, Some(1.0))
            };
            assert_eq!(plan.next(&astray, &mut Steady), Movement::Withdraw);
        }
        assert_eq!(offs, [0.0, 0.5, -0.5, 1.0]);
        assert_eq!(plan.attempts(), 4);
    }

    #[test]
    fn without_a_side_to_be_seen_the_hand_turns_by_any_angle() {
        let mut plan = Aimed::new(2, 3.0, 0.5);
        assert_eq!(plan.next(&view(9.0, None), &mut Steady), Movement::Feed);
        let turned = plan.next(&view(2.0, None), &mut Steady);
        assert_eq!(turned, Movement::Turn(std::f64::consts::PI));
        assert_eq!(plan.next(&view(2.0, None), &mut Steady), Movement::Feed);
    }
}
