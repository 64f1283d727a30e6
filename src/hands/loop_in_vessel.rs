//! A loop made inside the vessel: feed the wire out of a side port into another branch, which holds
//! its tip; go on with the catheter over its first wire, so that the wire lays itself into a loop;
//! once the tip has come out and past the target's branching, withdraw as with a folded wire.

use super::angled_support::{self, AngledSupport};
use super::looped_back::LoopedBack;
use super::{AnchorView, CatheterMove, Movement, Plan, Turns, View};

/// Length of wire out of the port, beyond what is to lie in the anchor, at which a wire that is not
/// in there has gone elsewhere, in mm.
const ELSEWHERE_MM: f64 = 10.0;
/// Movements in a row between which wire is paid out.
const PAYS_OUT_EVERY: u32 = 2;
/// Movements of the catheter after the tip has left the anchor before its way is looked at anew.
const ON_ITS_WAY: u32 = 20;

/// What the technique is asked to do.
#[derive(Debug, Clone, Copy)]
pub(super) struct Settings {
    pub before_ostium_mm: f64,
    pub hold_mm: f64,
    pub slack_mm: f64,
    pub past_mm: f64,
    pub attempts: u32,
    pub beyond_rad: f64,
}

#[derive(Debug, Clone, Copy)]
enum Phase {
    /// The wire goes into the anchor.
    Entering,
    /// The catheter goes on, wire is paid out; length of wire out of the port until that ends,
    /// movements so far.
    Looping { until_mm: f64, movements: u32 },
    /// The tip is drawn out of the anchor; movements since it came out.
    DrawingOut { since: u32 },
    /// As with a folded wire.
    Opening,
}

pub(super) struct LoopInVessel {
    settings: Settings,
    entering: AngledSupport,
    opening: LoopedBack,
    phase: Phase,
}

impl LoopInVessel {
    pub(super) fn new(settings: Settings) -> Self {
        let entering = angled_support::Settings {
            before_ostium_mm: settings.before_ostium_mm,
            steer_rad: None,
            attempts: settings.attempts,
            beyond_rad: settings.beyond_rad,
            follow_mm: None,
            turns_wire: true,
        };
        Self {
            settings,
            entering: AngledSupport::new(entering),
            opening: LoopedBack::new(settings.past_mm, settings.attempts, None, true),
            phase: Phase::Entering,
        }
    }

    /// What is seen, with the anchor for the branch to be entered.
    fn towards_anchor(&self, view: &View, anchor: &AnchorView) -> View {
        let bare_mm = view.catheter.map_or(0.0, |c| c.bare_mm);
        let elsewhere = bare_mm > self.settings.hold_mm + ELSEWHERE_MM;
        View {
            astray: elsewhere && anchor.tip_depth_mm <= 0.0,
            catheter: view.catheter.map(|catheter| super::CatheterView {
                before_branching_mm: anchor.catheter_before_mm,
                towards: anchor.towards,
                ..catheter
            }),
            ..*view
        }
    }
}

impl Plan for LoopInVessel {
    fn next(&mut self, view: &View, turns: &mut dyn Turns) -> Movement {
        let (Some(anchor), Some(catheter)) = (view.anchor, view.catheter) else {
            return Movement::Stop;
        };
        let on = Movement::Catheter(CatheterMove::FeedBoth);
        let stuck = catheter.stopped || view.all_fed;
        match self.phase {
            Phase::Entering if anchor.tip_depth_mm < self.settings.hold_mm => {
                let seen = self.towards_anchor(view, &anchor);
                self.entering.next(&seen, turns)
            }
            Phase::Entering => {
                self.phase = Phase::Looping {
                    until_mm: catheter.bare_mm + self.settings.slack_mm,
                    movements: 0,
                };
                on
            }
            Phase::Looping { .. } | Phase::DrawingOut { .. } if stuck => Movement::Stop,
            Phase::Looping { until_mm, .. } if catheter.bare_mm >= until_mm => {
                self.phase = Phase::DrawingOut { since: 0 };
                on
            }
            Phase::Looping {
                until_mm,
                movements,
            } => {
                self.phase = Phase::Looping {
                    until_mm,
                    movements: movements + 1,
                };
                if movements.is_multiple_of(PAYS_OUT_EVERY) {
                    Movement::Feed
                } else {
                    on
                }
            }
            Phase::DrawingOut { since } if since >= ON_ITS_WAY => {
                self.phase = Phase::Opening;
                self.opening.next(view, turns)
            }
            Phase::DrawingOut { since } => {
                let out = anchor.tip_depth_mm <= 0.0;
                self.phase = Phase::DrawingOut {
                    since: if out { since + 1 } else { 0 },
                };
                on
            }
            Phase::Opening => self.opening.next(view, turns),
        }
    }

    fn attempts(&self) -> u32 {
        self.entering.attempts() + self.opening.attempts() - 1
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hands::tests::{Asked, seen};

    #[test]
    fn the_wire_enters_the_anchor_is_paid_out_drawn_out_and_withdrawn() {
        let mut plan = LoopInVessel::new(Settings {
            before_ostium_mm: 2.0,
            hold_mm: 10.0,
            slack_mm: 1.0,
            past_mm: 3.0,
            attempts: 2,
            beyond_rad: 0.5,
        });
        let mut next = |bare: f64, port_before: f64, tip_depth_mm: f64, past: f64| {
            let mut view = seen(bare, 0.0, false);
            view.before_branching_mm = -past;
            view.anchor = Some(AnchorView {
                catheter_before_mm: port_before,
                towards: None,
                tip_depth_mm,
            });
            plan.next(&view, &mut Asked)
        };
        let on = Movement::Catheter(CatheterMove::FeedBoth);
        assert_eq!(next(-1.0, 5.0, 0.0, -9.0), on);
        let Movement::Catheter(CatheterMove::Turn(_)) = next(-1.0, 1.9, 0.0, -9.0) else {
            panic!("the port is turned where it lies before the anchor");
        };
        assert_eq!(next(-1.0, 1.9, 0.0, -9.0), Movement::Feed);
        assert_eq!(next(9.0, 1.9, 9.0, -9.0), Movement::Feed);
        assert_eq!(next(12.0, 1.9, 10.1, -9.0), on);
        assert_eq!(next(12.0, 1.5, 10.1, -9.0), Movement::Feed);
        assert_eq!(next(12.4, 1.1, 10.1, -9.0), on);
        // A millimetre is paid out: from here on catheter and wire go together.
        assert_eq!(next(13.1, -5.0, 8.0, -9.0), on);
        assert_eq!(next(13.1, -9.0, 3.0, -9.0), on);
        for _ in 0..ON_ITS_WAY {
            assert_eq!(next(13.1, -20.0, 0.0, -1.0), on);
        }
        // On until the tip is past the target's branching, then back.
        assert_eq!(next(13.1, -24.0, 0.0, 2.0), on);
        let back = Movement::Catheter(CatheterMove::WithdrawBoth);
        assert_eq!(next(13.1, -25.0, 0.0, 3.1), back);
    }
}
