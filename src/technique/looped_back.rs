//! Feed a folded wire, fold ahead, until its tip has passed the branching; withdraw, so that the
//! free leg opens into the branch; feed on. When it does not open there, turn and try again.
//!
//! A wire that comes out of a catheter's side port is moved with the catheter up to where it is fed
//! on, and turned by turning the catheter.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::carrier::{FIRST_WIRE_PAST_MM, carrier};
use super::fields::{Around, Fields, keeps_guide};
use super::{Loading, Needs, PlanSpec, Technique, words};
use crate::hands::{CatheterMove, Movement, Plan, Turns, View};
use crate::scenario::model::{BendSpec, CarrierSpec, Scenario, TechniqueSpec};
use crate::scenario::view::SightSpec;
use crate::schema::{Read, Refusal, defaults};
use crate::shown::degrees;
use crate::units;

/// Fold the wire back on itself; feed the fold ahead until the tip has passed the branch;
/// withdraw, so that the free leg drops into it; feed on. When it does not, turn and try again.
#[expect(
    clippy::doc_markdown,
    reason = "these comments are read by people who write scenarios"
)]
#[derive(Debug, Deserialize, JsonSchema)]
pub(crate) struct LoopedBackFields {
    /// Attempts in all.
    #[serde(default = "defaults::count::<5>")]
    #[schemars(range(min = 1, max = 100), extend("x-unit" = "attempts", "x-example" = "5"))]
    attempts: u32,
    /// Turn of the hand between attempts.
    #[serde(default, rename = "turn_deg", with = "units::degrees")]
    #[schemars(with = "Option<f64>", range(min = -360, max = 360), extend(
        "x-default" = "drawn from the circle",
        "x-example" = "60"
    ))]
    turn_rad: Option<f64>,
    /// Middle of the fold behind the tip.
    #[serde(default = "defaults::number::<30>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "30"))]
    fold_mm: f64,
    /// Length of wire in the fold, below fold_mm; long is round, short is sharp.
    #[serde(default = "defaults::number::<6>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "6"))]
    fold_length_mm: f64,
    /// Angle that the fold keeps when it is free.
    #[serde(
        default = "defaults::degrees::<150>",
        rename = "fold_set_deg",
        with = "units::degrees"
    )]
    #[schemars(with = "f64", range(max = 180), extend("exclusiveMinimum" = 0, "x-example" = "150"))]
    fold_set_rad: f64,
    /// Direction of the fold about the wire, as that of a bend.
    #[serde(default, rename = "fold_plane_deg", with = "units::degrees")]
    #[schemars(with = "f64", range(min = -360, max = 360), extend("x-example" = "0"))]
    fold_plane_rad: f64,
    /// How far past the branching the tip is fed.
    #[serde(default = "defaults::number::<3>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "3"))]
    past_mm: f64,
    /// Catheter with a side port, out of which the wire comes; without it the wire is loaded
    /// through the guide alone.
    #[schemars(extend("x-example" = "\"straight\""))]
    catheter: Option<String>,
    /// Wire over which that catheter rides.
    #[schemars(extend("x-example" = "\"workhorse 1 gf\""))]
    first_wire: Option<String>,
    /// How far past the branching that wire lies.
    #[schemars(range(max = 10_000), extend(
        "exclusiveMinimum" = 0,
        "default" = FIRST_WIRE_PAST_MM,
        "x-example" = "25"
    ))]
    first_wire_past_mm: Option<f64>,
}

impl Fields for LoopedBackFields {
    fn checked(&self, around: Around<'_>) -> Read<PlanSpec> {
        keeps_guide(
            around,
            "the free leg of a folded wire may lie back in the guide",
        )?;
        let at = around.at;
        let named = [&self.catheter, &self.first_wire];
        let carried = named.iter().any(|name| name.is_some()) || self.first_wire_past_mm.is_some();
        let carrier = if carried {
            let past_mm = self.first_wire_past_mm.unwrap_or(FIRST_WIRE_PAST_MM);
            let named = named.map(Option::as_deref);
            Some(carrier(around, named, past_mm)?)
        } else {
            None
        };
        if self.fold_mm <= self.fold_length_mm {
            return Err(Refusal::at(
                at.field("fold_length_mm"),
                format!(
                    "the fold lies {} mm behind the tip and leaves no free leg",
                    self.fold_mm
                ),
                format!("choose fold_length_mm below {}", self.fold_mm),
            ));
        }
        Ok(LoopedBack {
            fold: BendSpec {
                from_tip_mm: self.fold_mm - 0.5 * self.fold_length_mm,
                length_mm: self.fold_length_mm,
                angle_rad: self.fold_set_rad,
                plane_rad: self.fold_plane_rad,
            },
            past_mm: self.past_mm,
            attempts: self.attempts,
            turn_rad: self.turn_rad,
            carrier,
        }
        .into())
    }
}

/// Fold the wire back on itself; feed the fold ahead until the tip has passed the branch;
/// withdraw, so that the free leg drops into it; feed on. When it does not, turn and try again.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LoopedBack {
    /// The fold.
    pub fold: BendSpec,
    /// How far past the branching the tip is fed, in mm; above 0.
    pub past_mm: f64,
    /// Attempts in all, at least 1.
    pub attempts: u32,
    /// Turn of the hand between attempts in rad; `None` draws it from the whole circle.
    pub turn_rad: Option<f64>,
    /// The catheter out of whose side port the main leg comes; `None` for a wire that is
    /// loaded through the guide alone.
    pub carrier: Option<CarrierSpec>,
}

impl Technique for LoopedBack {
    fn needs(&self) -> Needs {
        let loading = self
            .carrier
            .map_or(Loading::Guide, |carrier| Loading::SidePort {
                carrier,
                port_past_mm: self.fold.from_tip_mm + self.past_mm,
            });
        Needs {
            loading,
            fold: Some(self.fold),
            // Where the free leg has passed the branching.
            beyond_branching_mm: self.past_mm + 2.0 * self.fold.from_tip_mm + self.fold.length_mm,
            diastole: false,
        }
    }

    fn plan(&self, _: SightSpec) -> Box<dyn Plan> {
        let carried = self.carrier.is_some();
        Box::new(LoopedBackPlan::new(
            self.past_mm,
            self.attempts,
            self.turn_rad,
            carried,
        ))
    }

    fn words(&self, _: &TechniqueSpec, scenario: &Scenario) -> String {
        format!(
            "fold the wire back {} mm behind its tip ({} mm long, keeps {} deg){}; feed the \
             fold ahead until the tip is {} mm past the branching; withdraw until it \
             drops in, feed on; else turn {}, try again; {} at most",
            self.fold.from_tip_mm + 0.5 * self.fold.length_mm,
            self.fold.length_mm,
            degrees(self.fold.angle_rad),
            self.carrier
                .map_or_else(String::new, |c| words::carried(&c, scenario)),
            self.past_mm,
            words::turn(self.turn_rad),
            words::tries(self.attempts)
        )
    }

    fn turns(&self) -> bool {
        true
    }

    fn seconds_per_100_mm(&self) -> f64 {
        // 0.6 to 1.3 s were measured, and 6 to 30 s with a catheter that carries the wire.
        if self.carrier.is_some() { 12.0 } else { 0.9 }
    }
}

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

pub(super) struct LoopedBackPlan {
    past_mm: f64,
    allowed: u32,
    turn_rad: Option<f64>,
    carried: bool,
    attempts: u32,
    phase: Phase,
}

impl LoopedBackPlan {
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

impl Plan for LoopedBackPlan {
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
        let mut plan = LoopedBackPlan::new(3.0, 2, None, false);
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
