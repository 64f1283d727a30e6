//! What hands can do with the devices that they hold.

use serde::{Deserialize, Serialize};

use super::{BalloonView, CatheterMove, CatheterView, FEED_MM, Movement, View};

/// Wire in mm in front of a catheter below which neither is moved towards the other.
const LEAST_BARE_MM: f64 = FEED_MM;
/// Slack of a steered angle in rad for sums of turns.
const SLACK_RAD: f64 = 1e-9;

/// What the hands have to move beside the wire.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct Controls {
    /// Whether there is another wire to go on with.
    pub changes_wire: bool,
    /// In how many ways the guide can be pointed.
    pub guide_aims: usize,
    /// Whether there is a support catheter.
    pub has_catheter: bool,
    /// Whether there is a balloon.
    pub has_balloon: bool,
    /// Least and largest angle in rad of a steerable tip; `None` for another.
    pub steered_rad: Option<(f64, f64)>,
}

impl Controls {
    /// Why the hands cannot make a movement now; `None` where they can. A target that has been reached
    /// leaves the catheter alone to be moved.
    #[must_use]
    pub fn refusal(
        &self,
        movement: Movement,
        view: &View,
        has_reached: bool,
    ) -> Option<&'static str> {
        if has_reached && !matches!(movement, Movement::Catheter(_) | Movement::Stop) {
            return Some("the target is reached");
        }
        let refused = |holds: bool, why: &'static str| holds.then_some(why);
        let all_fed = || refused(view.all_fed, "all the wire that may be fed is fed");
        let all_back = || {
            refused(
                view.all_drawn_back,
                "no more wire can be drawn back into the guide",
            )
        };
        match movement {
            Movement::Stop | Movement::Turn(_) | Movement::Wait(_) => None,
            Movement::Feed => all_fed(),
            Movement::Withdraw => all_back().or_else(|| {
                let at_catheter = |c: CatheterView| c.bare_mm <= LEAST_BARE_MM;
                let at_catheter = view.catheter.is_some_and(at_catheter);
                refused(at_catheter, "the tip of the wire is at the catheter's")
            }),
            Movement::ChangeWire => refused(!self.changes_wire, "there is no other wire"),
            Movement::Inflate | Movement::Deflate => {
                let Some(balloon) = view.balloon.filter(|_| self.has_balloon) else {
                    return Some("there is no balloon");
                };
                balloon_refusal(movement == Movement::Inflate, &balloon)
            }
            Movement::AimGuide(way) => refused(
                way >= self.guide_aims,
                "the guide has no such way to be pointed",
            ),
            Movement::Catheter(movement) => {
                let (true, Some(catheter)) = (self.has_catheter, view.catheter) else {
                    return Some("there is no catheter");
                };
                match movement {
                    CatheterMove::Turn(_) => None,
                    CatheterMove::Feed => refused(
                        catheter.bare_mm <= LEAST_BARE_MM,
                        "the tip of the catheter is at the wire's",
                    ),
                    CatheterMove::FeedBoth => all_fed(),
                    CatheterMove::Withdraw => catheter_back(&catheter),
                    CatheterMove::WithdrawBoth => all_back().or_else(|| catheter_back(&catheter)),
                    CatheterMove::Steer(by_rad) => {
                        let Some((least, most)) = self.steered_rad else {
                            return Some("the tip of the catheter cannot be steered");
                        };
                        let angle = catheter.angle_rad + by_rad;
                        let within = angle >= least - SLACK_RAD && angle <= most + SLACK_RAD;
                        refused(
                            !within,
                            "the tip of the catheter is steered as far as it goes",
                        )
                    }
                }
            }
        }
    }
}

/// Why a balloon cannot be inflated or deflated. The model's balloon does not move aside for a device, so a deflated
/// one is inflated only where none lies.
fn balloon_refusal(inflates: bool, balloon: &BalloonView) -> Option<&'static str> {
    let is_deflated = balloon.diameter_mm <= 0.0;
    match inflates {
        true if balloon.is_full => Some("the balloon is inflated as far as it goes"),
        true if is_deflated && !balloon.is_free => {
            Some("a device lies where the balloon is to be inflated; withdraw it first")
        }
        false if is_deflated => Some("the balloon is deflated"),
        _ => None,
    }
}

fn catheter_back(catheter: &CatheterView) -> Option<&'static str> {
    catheter
        .all_drawn_back
        .then_some("no more of the catheter can be drawn back into the guide")
}

#[cfg(test)]
mod tests {
    use super::super::tests::seen;
    use super::*;

    #[test]
    fn hands_do_what_devices_and_vessel_leave_them() {
        let alone = Controls::default();
        let with = Controls {
            has_catheter: true,
            steered_rad: Some((0.0, 1.0)),
            ..alone
        };
        let view = seen(5.0, 10.0, false);
        let feed = Movement::Catheter(CatheterMove::Feed);
        assert_eq!(alone.refusal(Movement::Feed, &view, false), None);
        assert!(alone.refusal(feed, &view, false).is_some());
        assert_eq!(with.refusal(feed, &view, false), None);
        let bare = |bare_mm| seen(bare_mm, 10.0, false);
        assert!(with.refusal(feed, &bare(0.4), false).is_some());
        assert!(
            with.refusal(Movement::Withdraw, &bare(0.4), false)
                .is_some()
        );
        let steer = |by| Movement::Catheter(CatheterMove::Steer(by));
        assert_eq!(with.refusal(steer(1.0), &view, false), None);
        assert!(with.refusal(steer(-0.1), &view, false).is_some());
        assert!(alone.refusal(Movement::ChangeWire, &view, false).is_some());
        assert!(alone.refusal(Movement::AimGuide(0), &view, false).is_some());
        let mut fed = view;
        fed.all_fed = true;
        assert!(alone.refusal(Movement::Feed, &fed, false).is_some());
    }

    #[test]
    fn a_balloon_is_inflated_where_nothing_lies_and_deflated_where_it_is_inflated() {
        let with = Controls {
            has_balloon: true,
            ..Controls::default()
        };
        let view = |diameter_mm: f64, is_free| View {
            balloon: Some(BalloonView {
                diameter_mm,
                is_full: diameter_mm >= 3.0,
                is_free,
            }),
            ..seen(5.0, 10.0, false)
        };
        let can = |movement, diameter_mm, is_free| {
            let view = view(diameter_mm, is_free);
            with.refusal(movement, &view, false).is_none()
        };
        assert!(can(Movement::Deflate, 3.0, false));
        assert!(!can(Movement::Inflate, 3.0, true));
        assert!(can(Movement::Inflate, 1.0, false));
        assert!(can(Movement::Inflate, 0.0, true));
        assert!(!can(Movement::Inflate, 0.0, false));
        assert!(!can(Movement::Deflate, 0.0, true));
        let none = Controls::default();
        assert!(
            none.refusal(Movement::Inflate, &view(0.0, true), false)
                .is_some()
        );
    }

    #[test]
    fn a_target_that_is_reached_leaves_the_catheter_alone() {
        let with = Controls {
            has_catheter: true,
            ..Controls::default()
        };
        let view = seen(5.0, 10.0, false);
        assert!(with.refusal(Movement::Feed, &view, true).is_some());
        let feed = Movement::Catheter(CatheterMove::Feed);
        assert_eq!(with.refusal(feed, &view, true), None);
    }
}
