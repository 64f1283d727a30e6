//! A bent support catheter is brought to the ostium, bared, aimed, and the wire fed through it;
//! when that fails the wire is drawn back and the bend aimed again, a little to one side.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::fields::{Around, Fields, catheter};
use super::{Loading, Needs, PlanSpec, Technique, words};
use crate::hands::aim::{Aim, Aiming, beyond_aim};
use crate::hands::{CatheterMove, CatheterView, Movement, Plan, Turns, View, follow};
use crate::scenario::model::{CatheterSpec, Scenario, TechniqueSpec};
use crate::scenario::view::SightSpec;
use crate::schema::{Place, Read, Refusal, defaults};
use crate::shown::degrees;
use crate::units;

/// A bent support catheter is brought to the ostium over the wire, the wire drawn back into it,
/// the bend aimed by turning the catheter at its hub, and the wire fed through it; when that fails
/// the wire is drawn back and the bend aimed again, a little to one side.
#[derive(Debug, Deserialize, JsonSchema)]
pub(crate) struct AngledSupportFields {
    /// Attempts in all.
    #[serde(default = "defaults::count::<5>")]
    #[schemars(range(min = 1, max = 100), extend("x-unit" = "attempts", "x-example" = "5"))]
    attempts: u32,
    /// How far beyond the aim each further attempt turns the catheter, alternately to either
    /// side.
    #[serde(
        default = "defaults::degrees::<30>",
        rename = "turn_deg",
        with = "units::degrees"
    )]
    #[schemars(with = "f64", range(min = -360, max = 360), extend("x-example" = "60"))]
    beyond_rad: f64,
    /// The catheter.
    #[schemars(extend("x-example" = "\"straight\""))]
    catheter: String,
    /// How far before the ostium the catheter's tip is brought; negative beyond it.
    #[serde(default = "defaults::number::<2>")]
    #[schemars(range(min = -20, max = 100), extend("x-example" = "2"))]
    before_ostium_mm: f64,
    /// Wire in front of the catheter on the way. With its own bend in the catheter's the wire may fold
    /// over the catheter's tip.
    #[serde(default = "defaults::number::<20>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "20"))]
    lead_mm: f64,
    /// Angle to which a steerable tip is bent there, in its range.
    #[serde(default, rename = "angle_deg", with = "units::degrees")]
    #[schemars(with = "Option<f64>", range(min = -180, max = 180), extend(
        "x-default" = "its largest",
        "x-example" = "90"
    ))]
    angle_rad: Option<f64>,
    /// How far beyond the ostium the catheter is to follow the wire.
    #[schemars(range(max = 10_000), extend(
        "exclusiveMinimum" = 0,
        "x-default" = "it does not",
        "x-example" = "5"
    ))]
    follow_mm: Option<f64>,
}

impl Fields for AngledSupportFields {
    fn checked(&self, around: Around<'_>) -> Read<PlanSpec> {
        let catheter = catheter(around, &self.catheter)?;
        Ok(AngledSupport {
            catheter,
            before_ostium_mm: self.before_ostium_mm,
            lead_mm: self.lead_mm,
            steer_rad: steered(
                &around.devices.catheters[catheter],
                self.angle_rad,
                around.at,
            )?,
            attempts: self.attempts,
            beyond_rad: self.beyond_rad,
            follow_mm: self.follow_mm,
        }
        .into())
    }
}

/// Angle in rad to which the tip of a catheter is bent at the ostium; `None` for a preformed one.
fn steered(catheter: &CatheterSpec, angle_rad: Option<f64>, at: &Place) -> Read<Option<f64>> {
    let name = &catheter.name;
    let Some(tip) = catheter.tip else {
        return Err(Refusal::at(
            at.field("catheter"),
            format!("the tip of catheter \"{name}\" is straight and cannot be aimed"),
            "give that catheter a tip, or set kind = \"support\"",
        ));
    };
    let Some((low, high)) = tip.range_rad else {
        return match angle_rad {
            None => Ok(None),
            Some(_) => Err(Refusal::at(
                at.field("angle_deg"),
                format!("the tip of catheter \"{name}\" is preformed and cannot be steered"),
                "remove angle_deg, or give that catheter a steerable tip",
            )),
        };
    };
    let angle_rad = angle_rad.unwrap_or(high);
    if angle_rad < low || angle_rad > high {
        let [low, high] = [low, high].map(f64::to_degrees);
        return Err(Refusal::at(
            at.field("angle_deg"),
            format!("catheter \"{name}\" can be steered from {low:.0} to {high:.0} deg"),
            "choose an angle in that range",
        ));
    }
    Ok(Some(angle_rad))
}

/// A bent support catheter is brought to the ostium over the wire, the wire drawn back into
/// it, the bend aimed by turning the catheter at its hub, and the wire fed through it; when
/// that fails the wire is drawn back and the bend aimed again, a little to one side.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct AngledSupport {
    /// Index of the catheter.
    pub catheter: usize,
    /// How far before the ostium the catheter's tip is brought, in mm.
    pub before_ostium_mm: f64,
    /// Length of wire in front of the catheter's tip on the way there, in mm; above 0. Wire is kept well
    /// ahead of a bent catheter (common practice, no source).
    pub lead_mm: f64,
    /// Angle to which a steerable tip is bent there, in rad; `None` for a preformed one.
    pub steer_rad: Option<f64>,
    /// Attempts in all, at least 1.
    pub attempts: u32,
    /// How far beyond the aim each further attempt turns, alternately to either side, in rad.
    pub beyond_rad: f64,
    /// As in [`Support`](super::Support).
    pub follow_mm: Option<f64>,
}

impl Technique for AngledSupport {
    fn needs(&self) -> Needs {
        Needs::loaded_in(Loading::Catheter {
            index: self.catheter,
            lead_mm: self.lead_mm,
            follows: self.follow_mm.is_some(),
        })
    }

    fn plan(&self, _: SightSpec) -> Box<dyn Plan> {
        Box::new(AngledSupportPlan::new(AimedFeed {
            before_ostium_mm: self.before_ostium_mm,
            steer_rad: self.steer_rad,
            attempts: self.attempts,
            beyond_rad: self.beyond_rad,
            follow_mm: self.follow_mm,
            turns_wire: false,
        }))
    }

    fn words(&self, _: &TechniqueSpec, scenario: &Scenario) -> String {
        format!(
            "bring catheter {:?} to {} mm before the ostium with the wire \
             {} mm ahead, draw the wire into it{}, turn its hub until the bend is seen to point \
             to the side of the branch, feed the wire; when it goes astray or stops draw it back, \
             aim {} deg further to one side or the other; {} at most{}",
            words::catheter(scenario, self.catheter),
            self.before_ostium_mm,
            self.lead_mm,
            self.steer_rad.map_or_else(String::new, |a| format!(
                ", steer its tip to {} deg",
                degrees(a)
            )),
            degrees(self.beyond_rad),
            words::tries(self.attempts),
            words::follows(self.follow_mm)
        )
    }

    fn turns(&self) -> bool {
        true
    }

    fn seconds_per_100_mm(&self) -> f64 {
        0.7
    }
}

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

/// How a catheter is aimed and the wire fed through it.
#[derive(Debug, Clone, Copy)]
pub(super) struct AimedFeed {
    pub before_ostium_mm: f64,
    pub steer_rad: Option<f64>,
    pub attempts: u32,
    pub beyond_rad: f64,
    pub follow_mm: Option<f64>,
    /// Whether the wire is turned by any angle before every attempt after the first.
    pub turns_wire: bool,
}

pub(super) struct AngledSupportPlan {
    settings: AimedFeed,
    attempts: u32,
    phase: Phase,
}

impl AngledSupportPlan {
    pub(super) fn new(settings: AimedFeed) -> Self {
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

impl Plan for AngledSupportPlan {
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
        let mut plan = AngledSupportPlan::new(AimedFeed {
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
