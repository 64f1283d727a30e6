//! A bent support catheter is brought to the ostium, bared, aimed, and the wire fed through it;
//! when that fails the wire is drawn back and the bend aimed again, a little to one side.

use super::aim::{Aim, Aiming, beyond_aim};
use super::{CatheterMove, CatheterView, Movement, Plan, Turns, View, follow};

/// How far inside the catheter the wire's tip is drawn to bare the bend, in mm.
const INSIDE_MM: f64 = 0.5;
/// Change of a steered angle between two looks in rad: 10 degrees.
const STEER_PART_RAD: f64 = std::f64::consts::PI / 18.0;

enum Phase {
    /// Both go forward, the wire ahead.
    Bringing,
    /// The wire is drawn back into the catheter.
    Baring,
    /// The tip is steered to its angle.
    Steering,
    Aiming(Aim),
    /// The wire is turned, then fed.
    Turning,
    /// The wire is fed out of the aimed tip.
    Feeding,
}

/// What the technique is asked to do.
#[derive(Debug, Clone, Copy)]
pub(super) struct Settings {
    pub before_ostium_mm: f64,
    pub steer_rad: Option<f64>,
    pub attempts: u32,
    pub beyond_rad: f64,
    pub follow_mm: Option<f64>,
    /// Whether the wire is turned by any angle before every attempt after the first.
    pub turns_wire: bool,
}

pub(super) struct AngledSupport {
    settings: Settings,
    attempts: u32,
    phase: Phase,
}

impl AngledSupport {
    pub(super) fn new(settings: Settings) -> Self {
        Self {
            settings,
            attempts: 1,
            phase: Phase::Bringing,
        }
    }

    /// Bares the bend, steers it and aims it, in that order.
    fn make_ready(&mut self, catheter: &CatheterView, turns: &mut dyn Turns) -> Movement {
        if catheter.bare_mm > -INSIDE_MM {
            self.phase = Phase::Baring;
            return Movement::Withdraw;
        }
        let left = self.settings.steer_rad.unwrap_or(catheter.angle_rad) - catheter.angle_rad;
        if left.abs() > 1e-6 {
            self.phase = Phase::Steering;
            let part = left.clamp(-STEER_PART_RAD, STEER_PART_RAD);
            return Movement::Catheter(CatheterMove::Steer(part));
        }
        let turn = match catheter.towards {
            Some(seen) => {
                let (aim, part) = Aim::begin(seen);
                self.phase = Phase::Aiming(aim);
                turns.turn(Some(part))
            }
            None => {
                self.phase = self.aimed();
                turns.turn(None)
            }
        };
        Movement::Catheter(CatheterMove::Turn(turn))
    }

    /// What comes after the aim.
    fn aimed(&self) -> Phase {
        if self.settings.turns_wire && self.attempts > 1 {
            Phase::Turning
        } else {
            Phase::Feeding
        }
    }

    fn go_on(&mut self, mut aim: Aim, seen: Option<f64>, turns: &mut dyn Turns) -> Movement {
        self.phase = self.aimed();
        let turn = match seen.map(|seen| aim.go_on(seen)) {
            Some(Aiming::Turn(part)) => {
                self.phase = Phase::Aiming(aim);
                turns.turn(Some(part))
            }
            Some(Aiming::Last(back)) => {
                let beyond = beyond_aim(self.attempts - 1, self.settings.beyond_rad);
                turns.turn(Some(back + beyond))
            }
            None => turns.turn(None),
        };
        Movement::Catheter(CatheterMove::Turn(turn))
    }
}

impl Plan for AngledSupport {
    fn next(&mut self, view: &View, turns: &mut dyn Turns) -> Movement {
        let Some(catheter) = view.catheter else {
            return Movement::Stop;
        };
        let there = catheter.before_branching_mm <= self.settings.before_ostium_mm;
        match std::mem::replace(&mut self.phase, Phase::Feeding) {
            Phase::Bringing if there => self.make_ready(&catheter, turns),
            Phase::Bringing if view.all_fed || catheter.stopped => Movement::Stop,
            Phase::Bringing => {
                self.phase = Phase::Bringing;
                Movement::Catheter(CatheterMove::FeedBoth)
            }
            Phase::Baring | Phase::Steering => self.make_ready(&catheter, turns),
            Phase::Aiming(aim) => self.go_on(aim, catheter.towards, turns),
            Phase::Turning => Movement::Turn(turns.turn(None)),
            Phase::Feeding if !view.failing() => Movement::Feed,
            Phase::Feeding if self.attempts >= self.settings.attempts => Movement::Stop,
            Phase::Feeding => {
                self.attempts += 1;
                self.make_ready(&catheter, turns)
            }
        }
    }

    fn attempts(&self) -> u32 {
        self.attempts
    }

    fn after_reaching(&mut self, view: &View) -> Option<Movement> {
        follow(self.settings.follow_mm, view)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hands::tests::{Asked, seen};

    #[test]
    fn the_tip_is_brought_bared_steered_aimed_and_used_and_aimed_again_when_the_wire_fails() {
        let mut plan = AngledSupport::new(Settings {
            before_ostium_mm: 2.0,
            steer_rad: Some(0.25),
            attempts: 2,
            beyond_rad: 0.5,
            follow_mm: None,
            turns_wire: false,
        });
        let mut next = |bare: f64, before: f64, angle: f64, towards: f64, failing: bool| {
            let mut view = seen(bare, before, failing);
            if let Some(catheter) = &mut view.catheter {
                catheter.angle_rad = angle;
                catheter.towards = Some(towards);
            }
            plan.next(&view, &mut Asked)
        };
        let moved = Movement::Catheter;
        assert_eq!(
            next(5.0, 9.0, 0.0, 0.0, false),
            moved(CatheterMove::FeedBoth)
        );
        assert_eq!(next(5.0, 1.9, 0.0, 0.0, false), Movement::Withdraw);
        let Movement::Catheter(CatheterMove::Steer(part)) = next(-0.6, 1.9, 0.0, 0.0, false) else {
            panic!("the tip is steered once it is bare");
        };
        assert!((part - STEER_PART_RAD).abs() < 1e-12);
        let Movement::Catheter(CatheterMove::Steer(_)) = next(-0.6, 1.9, part, 0.0, false) else {
            panic!("the tip is steered on");
        };
        let Movement::Catheter(CatheterMove::Turn(first)) = next(-0.6, 1.9, 0.25, 0.2, false)
        else {
            panic!("the steered tip is aimed");
        };
        assert!(first > 0.0);
        // It points better, then worse: back to where it pointed best, and the wire is fed.
        assert_eq!(
            next(-0.6, 1.9, 0.25, 0.7, false),
            moved(CatheterMove::Turn(first))
        );
        assert_eq!(
            next(-0.6, 1.9, 0.25, 0.6, false),
            moved(CatheterMove::Turn(-first))
        );
        assert_eq!(next(-0.6, 1.9, 0.25, 0.7, false), Movement::Feed);
        // The wire fails: back into the catheter, aim again, and half a radian further.
        assert_eq!(next(8.0, 1.9, 0.25, 0.7, true), Movement::Withdraw);
        assert_eq!(
            next(-0.6, 1.9, 0.25, 0.2, true),
            moved(CatheterMove::Turn(first))
        );
        assert_eq!(
            next(-0.6, 1.9, 0.25, 0.7, true),
            moved(CatheterMove::Turn(first))
        );
        let last = next(-0.6, 1.9, 0.25, 0.6, true);
        assert_eq!(last, moved(CatheterMove::Turn(-first + 0.5)));
        assert_eq!(next(8.0, 1.9, 0.25, 0.7, true), Movement::Stop);
    }
}
