//! A loop made inside the vessel: feed the wire out of a side port into another branch, which holds
//! its tip; go on with the catheter over its first wire, so that the wire lays itself into a loop;
//! once the tip has come out and past the target's branching, withdraw as with a folded wire.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::angled_support::{AimedFeed, AngledSupportPlan};
use super::carrier::CarrierFields;
use super::fields::{Around, Fields};
use super::looped_back::LoopedBackPlan;
use super::{Loading, Needs, PlanSpec, Technique, words};
use crate::hands::{AnchorView, CatheterMove, CatheterView, Movement, Plan, Turns, View};
use crate::scenario::model::{CarrierSpec, Scenario, TechniqueSpec};
use crate::scenario::view::SightSpec;
use crate::schema::{Read, defaults};
use crate::shown::degrees;
use crate::units;

/// The wire is fed out of a side port into another branch, the anchor; the catheter goes on over
/// its first wire, so that the wire lays itself into a loop, until its tip has come out and past
/// the target's branching; then all is withdrawn, so that the free leg drops into the target; the
/// wire is fed on.
#[derive(Debug, Deserialize, JsonSchema)]
pub(crate) struct LoopInVesselFields {
    /// Attempts in all to enter the anchor.
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
    /// How far before the anchor's ostium the side port is brought; negative beyond it.
    #[serde(default = "defaults::number::<2>")]
    #[schemars(range(min = -20, max = 100), extend("x-example" = "2"))]
    before_ostium_mm: f64,
    /// Branch that holds the tip while the loop forms.
    #[schemars(extend("x-example" = "\"diagonal\""))]
    anchor: String,
    /// How deep the tip is fed into it.
    #[serde(default = "defaults::number::<15>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "15"))]
    hold_mm: f64,
    /// Wire paid out while the loop forms, beyond what the catheter takes along.
    #[serde(default = "defaults::number::<5>")]
    #[schemars(range(min = 0, max = 10_000), extend("x-example" = "5"))]
    slack_mm: f64,
    /// How far past the branching the tip is brought.
    #[serde(default = "defaults::number::<3>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "3"))]
    past_mm: f64,
    #[serde(flatten)]
    carrier: CarrierFields,
}

impl Fields for LoopInVesselFields {
    fn checked(&self, around: Around<'_>) -> Read<PlanSpec> {
        Ok(LoopInVessel {
            carrier: self.carrier.checked(around)?,
            before_ostium_mm: self.before_ostium_mm,
            hold_mm: self.hold_mm,
            slack_mm: self.slack_mm,
            past_mm: self.past_mm,
            attempts: self.attempts,
            beyond_rad: self.beyond_rad,
        }
        .into())
    }

    fn anchor(&self) -> Option<&str> {
        Some(&self.anchor)
    }
}

/// The wire is fed out of a side port into another branch (the anchor); the catheter goes on
/// over its first wire, so that the wire, held in that branch, lays itself into a loop, until
/// its tip has come out and past the target's branching; then all is withdrawn, so that the
/// free leg drops into the target; the wire is fed on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LoopInVessel {
    /// The catheter.
    pub carrier: CarrierSpec,
    /// How far before the anchor's ostium the port is brought, in mm.
    pub before_ostium_mm: f64,
    /// How deep the tip is fed into the anchor, in mm; above 0.
    pub hold_mm: f64,
    /// Wire paid out while the loop forms beyond what the catheter takes along, in mm; 0 or
    /// more.
    pub slack_mm: f64,
    /// How far past the branching the tip is brought, in mm; above 0.
    pub past_mm: f64,
    /// Attempts in all to enter the anchor, at least 1.
    pub attempts: u32,
    /// As in [`AngledSupport`](super::AngledSupport).
    pub beyond_rad: f64,
}

impl Technique for LoopInVessel {
    fn needs(&self) -> Needs {
        Needs {
            loading: Loading::SidePort {
                carrier: self.carrier,
                port_past_mm: self.hold_mm + self.past_mm,
            },
            fold: None,
            // Where the loop lies.
            beyond_branching_mm: self.past_mm + 2.0 * self.hold_mm + self.slack_mm,
            diastole: false,
        }
    }

    fn plan(&self, _: SightSpec) -> Box<dyn Plan> {
        Box::new(LoopInVesselPlan::new(*self))
    }

    fn words(&self, technique: &TechniqueSpec, scenario: &Scenario) -> String {
        let anchor = technique.aids.anchor.as_ref();
        format!(
            "the wire comes{}; bring the port to {} mm before branch {:?}, aim it as \
             there, feed the wire {} mm into that branch (else turn it by any angle, aim {} deg \
             further; {} at most); feed catheter and wire on, {} mm more of the wire, until its \
             tip is out and {} mm past the target's branching; withdraw both until the tip \
             drops in, feed the wire on; else turn the hub by any angle, try again as often",
            words::carried(&self.carrier, scenario),
            self.before_ostium_mm,
            anchor.map_or("", |anchor| anchor.branch.as_str()),
            self.hold_mm,
            degrees(self.beyond_rad),
            words::tries(self.attempts),
            self.slack_mm,
            self.past_mm,
        )
    }

    fn turns(&self) -> bool {
        true
    }

    fn seconds_per_100_mm(&self) -> f64 {
        // 4 to 6 s were measured.
        5.0
    }
}

/// Length of wire out of the port, beyond what is to lie in the anchor, at which a wire that is not
/// in there has gone elsewhere, in mm.
const ELSEWHERE_MM: f64 = 10.0;
/// Movements in a row between which wire is paid out.
const PAYS_OUT_EVERY: u32 = 2;
/// Movements of the catheter after the tip has left the anchor before its way is looked at anew.
const ON_ITS_WAY: u32 = 20;

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

struct LoopInVesselPlan {
    settings: LoopInVessel,
    entering: AngledSupportPlan,
    opening: LoopedBackPlan,
    phase: Phase,
}

impl LoopInVesselPlan {
    fn new(settings: LoopInVessel) -> Self {
        let entering = AimedFeed {
            before_ostium_mm: settings.before_ostium_mm,
            steer_rad: None,
            attempts: settings.attempts,
            beyond_rad: settings.beyond_rad,
            follow_mm: None,
            turns_wire: true,
        };
        Self {
            settings,
            entering: AngledSupportPlan::new(entering),
            opening: LoopedBackPlan::new(settings.past_mm, settings.attempts, None, true),
            phase: Phase::Entering,
        }
    }

    /// What is seen, with the anchor for the branch to be entered.
    fn towards_anchor(&self, view: &View, anchor: &AnchorView) -> View {
        let bare_mm = view.catheter.map_or(0.0, |c| c.bare_mm);
        let elsewhere = bare_mm > self.settings.hold_mm + ELSEWHERE_MM;
        View {
            astray: elsewhere && anchor.tip_depth_mm <= 0.0,
            catheter: view.catheter.map(|catheter| CatheterView {
                before_branching_mm: anchor.catheter_before_mm,
                towards: anchor.towards,
                ..catheter
            }),
            ..*view
        }
    }
}

impl Plan for LoopInVesselPlan {
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
        let mut plan = LoopInVesselPlan::new(LoopInVessel {
            carrier: CarrierSpec {
                catheter: 0,
                first_wire: 0,
                first_wire_past_mm: 25.0,
            },
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
