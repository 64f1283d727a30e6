//! Feed, turning to and fro if asked for; when that fails, withdraw the tip to before the
//! branching, turn, and feed again.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::fields::{Around, Fields};
use super::{Feeds, Loading, Needs, PlanSpec, Technique, words};
use crate::hands::aim::Aimed;
use crate::hands::{BEYOND_AIM_RAD, Movement, Plan, Turns, View};
use crate::scenario::model::{Scenario, TechniqueSpec};
use crate::scenario::view::SightSpec;
use crate::schema::{Read, Refusal, defaults};
use crate::shown::degrees;
use crate::units;

/// Feed; when the tip is astray or stopped, withdraw to before the ostium, turn, feed again.
#[derive(Debug, Deserialize, JsonSchema)]
pub(crate) struct RedirectFields {
    /// Attempts in all.
    #[serde(default = "defaults::count::<5>")]
    #[schemars(range(min = 1, max = 100), extend("x-unit" = "attempts", "x-example" = "5"))]
    attempts: u32,
    /// Turn of the hand between attempts, where it sees all.
    #[serde(default, rename = "turn_deg", with = "units::degrees")]
    #[schemars(with = "Option<f64>", range(min = -360, max = 360), extend(
        "x-default" = "drawn from the circle",
        "x-example" = "60"
    ))]
    turn_rad: Option<f64>,
    /// How far beyond the aim each further attempt turns, alternately to either side, where the hand sees
    /// one projection and aims by it.
    #[serde(default, rename = "beyond_deg", with = "units::degrees")]
    #[schemars(with = "Option<f64>", range(min = -360, max = 360), extend(
        "default" = BEYOND_AIM_RAD.to_degrees(),
        "x-example" = "30"
    ))]
    beyond_rad: Option<f64>,
    /// How far before the ostium the tip is withdrawn.
    #[serde(default = "defaults::number::<3>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "3"))]
    withdraw_to_mm: f64,
    /// Turn of the hand to and fro while it feeds, to either side; 0 for none.
    #[serde(default, rename = "rock_deg", with = "units::degrees")]
    #[schemars(with = "f64", range(min = 0, max = 180), extend("x-example" = "30"))]
    rock_rad: f64,
    /// When the hands feed from where the tip is withdrawn to until 5 mm behind a branching: "in-diastole" waits
    /// for the vessel to rest between two beats, which needs [vessel.motion.heart]; common practice, no source.
    #[serde(default)]
    #[schemars(extend("x-example" = "\"in-diastole\""))]
    feeds: Feeds,
}

impl Fields for RedirectFields {
    fn checked(&self, around: Around<'_>) -> Read<PlanSpec> {
        self.turns_as_it_sees(around)?;
        Ok(Redirect {
            attempts: self.attempts,
            withdraw_to_mm: self.withdraw_to_mm,
            turn_rad: self.turn_rad,
            beyond_rad: self.beyond_rad,
            rock_rad: self.rock_rad,
            feeds: self.feeds,
        }
        .into())
    }
}

impl RedirectFields {
    /// Refuses a turn that goes with another sight than the technique's, unless that of its own stands
    /// beside it: then a sweep may change the sight.
    fn turns_as_it_sees(&self, around: Around<'_>) -> Read<()> {
        match (self.turn_rad, self.beyond_rad, around.aims) {
            (Some(turn_rad), None, true) => {
                let deg = degrees(turn_rad);
                Err(Refusal::at(
                    around.at.field("turn_deg"),
                    "with a projected sight the hand turns to where it aims, not by an angle that is said",
                    format!(
                        "write beyond_deg = {deg} to turn that far beyond the aim in further attempts, or \
                         remove turn_deg"
                    ),
                ))
            }
            (None, Some(beyond_rad), false) => {
                let deg = degrees(beyond_rad);
                Err(Refusal::at(
                    around.at.field("beyond_deg"),
                    "a hand that sees all aims at nothing that it could turn beyond",
                    format!(
                        "write turn_deg = {deg} to turn by that angle between attempts, or give a projected sight"
                    ),
                ))
            }
            _ => Ok(()),
        }
    }
}

/// Feed; when the tip is astray or stopped, withdraw to before the ostium, turn, feed again.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Redirect {
    /// Attempts in all, at least 1.
    pub attempts: u32,
    /// How far before the ostium the tip is withdrawn, in mm; above 0.
    pub withdraw_to_mm: f64,
    /// Turn of the hand between attempts in rad, where it sees all; `None` draws it from the whole circle.
    pub turn_rad: Option<f64>,
    /// How far beyond the aim each further attempt turns, alternately to either side, in rad, where the
    /// hand sees one projection; `None` for [`BEYOND_AIM_RAD`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub beyond_rad: Option<f64>,
    /// Turn of the hand to and fro while it feeds, to either side, in rad; 0 for none.
    pub rock_rad: f64,
    /// When the hands feed at a branching.
    pub feeds: Feeds,
}

impl Redirect {
    fn beyond_rad(&self) -> f64 {
        self.beyond_rad.unwrap_or(BEYOND_AIM_RAD)
    }
}

impl Technique for Redirect {
    fn needs(&self) -> Needs {
        Needs {
            diastole: self.feeds == Feeds::InDiastole,
            ..Needs::loaded_in(Loading::Guide)
        }
    }

    fn plan(&self, sight: SightSpec) -> Box<dyn Plan> {
        match sight {
            SightSpec::Full => {
                let plan = RedirectPlan::new(*self);
                self.feeds.plan(plan, self.withdraw_to_mm)
            }
            SightSpec::Projected(_) => {
                let plan = Aimed::new(self.attempts, self.withdraw_to_mm, self.beyond_rad());
                self.feeds.plan(plan, self.withdraw_to_mm)
            }
        }
    }

    fn words(&self, technique: &TechniqueSpec, _: &Scenario) -> String {
        let withdraw_to_mm = self.withdraw_to_mm;
        let feeds = self.feeds.words();
        let tries = words::tries(self.attempts);
        if let SightSpec::Projected(view) = technique.sight {
            return format!(
                "seen in {view} alone: feed to {withdraw_to_mm} mm before the ostium, turn the \
                 bend to its side as seen, feed; when seen astray or stopped withdraw, aim {} \
                 deg further to one side or the other, feed again; {tries} at most{feeds}",
                degrees(self.beyond_rad()),
            );
        }
        let rock = if self.rock_rad > 0.0 {
            format!(", turning {} deg to and fro", degrees(self.rock_rad))
        } else {
            String::new()
        };
        format!(
            "feed{rock}; when astray or stopped withdraw to {withdraw_to_mm} mm before the \
             ostium, turn {}, feed again; {tries} at most{feeds}",
            words::turn(self.turn_rad),
        )
    }

    fn turns(&self) -> bool {
        true
    }

    fn seconds_per_100_mm(&self) -> f64 {
        // 0.05 to 0.36 s were measured.
        0.2
    }
}

/// Movements of feeding between two turns to and fro.
const FEEDS_TO_A_TURN: u32 = 5;

enum Phase {
    Feeding,
    Withdrawing,
}

pub(super) struct RedirectPlan {
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

impl RedirectPlan {
    pub(super) fn new(settings: Redirect) -> Self {
        Self {
            allowed: settings.attempts,
            withdraw_to_mm: settings.withdraw_to_mm,
            turn_rad: settings.turn_rad,
            rock_rad: settings.rock_rad,
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

impl Plan for RedirectPlan {
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
    use crate::hands::tests::alone;

    struct Quarter;
    impl Turns for Quarter {
        fn turn(&mut self, _wanted: Option<f64>) -> f64 {
            1.5
        }
    }

    fn view(before: f64, astray: bool) -> View {
        View {
            astray,
            ..alone(before)
        }
    }

    #[test]
    fn a_failed_attempt_is_withdrawn_turned_and_repeated_until_the_attempts_are_used_up() {
        let mut plan = RedirectPlan::new(Redirect {
            attempts: 2,
            withdraw_to_mm: 3.0,
            turn_rad: None,
            beyond_rad: None,
            rock_rad: 0.0,
            feeds: Feeds::AnyTime,
        });
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
