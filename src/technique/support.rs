//! A straight support catheter follows the wire: wire and catheter advance in turn. The wire is
//! redirected in front of the catheter; where it has to come back further, both come back.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::fields::{Around, Fields, catheter};
use super::redirect::{Redirect, RedirectPlan};
use super::{Feeds, Loading, Needs, PlanSpec, Technique, words};
use crate::hands::{CatheterMove, CatheterView, Movement, Plan, Turns, View, follow};
use crate::scenario::model::{Scenario, TechniqueSpec};
use crate::scenario::view::SightSpec;
use crate::schema::{Read, defaults};
use crate::units;

/// A straight support catheter follows the wire, which is redirected; the two advance in turn.
#[derive(Debug, Deserialize, JsonSchema)]
pub(crate) struct SupportFields {
    /// Attempts in all.
    #[serde(default = "defaults::count::<5>")]
    #[schemars(range(min = 1, max = 100), extend("x-unit" = "attempts", "x-example" = "5"))]
    attempts: u32,
    /// Turn of the wire between attempts.
    #[serde(default, rename = "turn_deg", with = "units::degrees")]
    #[schemars(with = "Option<f64>", range(min = -360, max = 360), extend(
        "x-default" = "drawn from the circle",
        "x-example" = "60"
    ))]
    turn_rad: Option<f64>,
    /// How far before the ostium the wire's tip is withdrawn.
    #[serde(default = "defaults::number::<3>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "3"))]
    withdraw_to_mm: f64,
    /// The catheter.
    #[schemars(extend("x-example" = "\"straight\""))]
    catheter: String,
    /// Wire in front of the catheter when that has followed.
    #[serde(default = "defaults::number::<10>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "10"))]
    behind_tip_mm: f64,
    /// How much further the wire goes before the catheter follows.
    #[serde(default = "defaults::number::<5>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "5"))]
    stride_mm: f64,
    /// How far before the ostium the catheter stays; negative beyond it.
    #[serde(default = "defaults::number::<2>")]
    #[schemars(range(min = -20, max = 100), extend("x-example" = "2"))]
    before_ostium_mm: f64,
    /// How far beyond the ostium the catheter is to follow the wire.
    #[schemars(range(max = 10_000), extend(
        "exclusiveMinimum" = 0,
        "x-default" = "it does not",
        "x-example" = "5"
    ))]
    follow_mm: Option<f64>,
}

impl Fields for SupportFields {
    fn checked(&self, around: Around<'_>) -> Read<PlanSpec> {
        Ok(Support {
            catheter: catheter(around, &self.catheter)?,
            behind_tip_mm: self.behind_tip_mm,
            stride_mm: self.stride_mm,
            before_ostium_mm: self.before_ostium_mm,
            attempts: self.attempts,
            withdraw_to_mm: self.withdraw_to_mm,
            turn_rad: self.turn_rad,
            follow_mm: self.follow_mm,
        }
        .into())
    }
}

/// Length of wire in front of the catheter's tip at the beginning, in mm.
const LEAD_MM: f64 = 5.0;

/// A straight support catheter follows the wire, which is redirected as by [`Redirect`]; wire and
/// catheter advance in turn.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Support {
    /// Index of the catheter.
    pub catheter: usize,
    /// Length of wire in front of the catheter's tip when that has followed, in mm; above 0.
    pub behind_tip_mm: f64,
    /// How much further the wire goes before the catheter follows, in mm; above 0.
    pub stride_mm: f64,
    /// How far before the ostium the catheter stays, in mm.
    pub before_ostium_mm: f64,
    /// Attempts in all, at least 1.
    pub attempts: u32,
    /// How far before the ostium the wire's tip is withdrawn, in mm; above 0.
    pub withdraw_to_mm: f64,
    /// Turn of the wire between attempts in rad; `None` draws it from the whole circle.
    pub turn_rad: Option<f64>,
    /// How far beyond the ostium the catheter is to follow once the wire is there, in mm;
    /// `None` ends the trial when the wire is.
    pub follow_mm: Option<f64>,
}

impl Technique for Support {
    fn needs(&self) -> Needs {
        Needs::loaded_in(Loading::Catheter {
            index: self.catheter,
            lead_mm: LEAD_MM,
            follows: self.follow_mm.is_some(),
        })
    }

    fn plan(&self, _: SightSpec) -> Box<dyn Plan> {
        Box::new(SupportPlan::new(*self))
    }

    fn words(&self, _: &TechniqueSpec, scenario: &Scenario) -> String {
        format!(
            "catheter {:?} follows the wire to {} mm behind its tip each time the \
             wire is {} mm further, and stays {} mm before the ostium; when \
             the wire is astray or stopped withdraw it to {} mm before the ostium, turn \
             {}, feed again; {} at most{}",
            words::catheter(scenario, self.catheter),
            self.behind_tip_mm,
            self.stride_mm,
            self.before_ostium_mm,
            self.withdraw_to_mm,
            words::turn(self.turn_rad),
            words::tries(self.attempts),
            words::follows(self.follow_mm)
        )
    }

    fn turns(&self) -> bool {
        true
    }

    fn seconds_per_100_mm(&self) -> f64 {
        // 0.23 s were measured.
        0.25
    }
}

/// Length of wire in mm that stays in front of the catheter when the wire is drawn back.
const LEAST_BARE_MM: f64 = 1.0;

struct SupportPlan {
    settings: Support,
    wire: RedirectPlan,
    following: bool,
}

impl SupportPlan {
    fn new(settings: Support) -> Self {
        Self {
            settings,
            wire: RedirectPlan::new(Redirect {
                attempts: settings.attempts,
                withdraw_to_mm: settings.withdraw_to_mm,
                turn_rad: settings.turn_rad,
                beyond_rad: None,
                rock_rad: 0.0,
                feeds: Feeds::AnyTime,
            }),
            following: false,
        }
    }

    /// Whether it is the catheter's turn to go forward.
    fn follows(&mut self, catheter: &CatheterView) -> bool {
        let spare = catheter.bare_mm - self.settings.behind_tip_mm;
        let may =
            catheter.before_branching_mm > self.settings.before_ostium_mm && !catheter.stopped;
        self.following = may
            && spare
                > if self.following {
                    0.0
                } else {
                    self.settings.stride_mm
                };
        self.following
    }
}

impl Plan for SupportPlan {
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
        follow(self.settings.follow_mm, view)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hands::tests::{Asked, seen};

    fn plan() -> SupportPlan {
        SupportPlan::new(Support {
            catheter: 0,
            behind_tip_mm: 10.0,
            stride_mm: 5.0,
            before_ostium_mm: 2.0,
            attempts: 2,
            withdraw_to_mm: 3.0,
            turn_rad: None,
            follow_mm: Some(4.0),
        })
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
