//! How a trial has ended, and why, in words: the one place where an outcome is decided.
//!
//! Decided from geometry and stated limits alone, the same way for every technique. Where the hands
//! have stopped without having reached the target, in this order: no wire is left to be fed; the
//! point of the wire that leads is not its tip; the tip lies in a vessel that does not lead to the
//! target; else it has stayed, or has not held.

use super::first_wire::GivenUp;
use super::reaching::{Holding, Reaching, Stretch};
use super::result::Outcome;
use super::route::{Route, TreePosition};
use super::watch::Look;
use crate::contact::ContactSummary;
use crate::vessel::Tree;

/// Force in mN at the tip below which something behind it holds the wire.
const FELT_MN: f64 = 0.05;

/// Share of the push that friction takes up, and the push over the force at the tip, from which on a
/// wire whose tip stays counts as locked. By the capstan law the push is the force at the tip times
/// `exp(mu phi)`: 20 is reached with a coefficient of 0.3 after 570 degrees, with 1 after 170.
const LOCKED_TAKEN: f64 = 0.8;
const LOCKED_OVER_TIP: f64 = 20.0;

/// What ended a trial.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Ended {
    /// The tip has reached the target and held.
    Held,
    /// The plan is at its end.
    Stopped,
    /// The wall was pressed harder than allowed.
    OverForce {
        /// Force in mN.
        force_mn: f64,
        /// Limit in mN.
        limit_mn: f64,
    },
    /// The guide was pushed back further than allowed.
    BackedOut {
        /// How far, in mm.
        by_mm: f64,
        /// Limit in mm.
        limit_mm: f64,
    },
}

/// Outcome and reason of a trial.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Ending {
    /// How it ended.
    pub outcome: Outcome,
    /// Why the target was not reached, in few words that can be counted; empty where it was.
    pub reason: String,
    /// The same with places, lengths and forces.
    pub why: String,
}

impl Ending {
    fn new(outcome: Outcome, reason: impl Into<String>, why: String) -> Self {
        Self {
            outcome,
            reason: reason.into(),
            why,
        }
    }

    /// The end of a trial that the solver could not follow further, or whose devices did not come to where it
    /// begins.
    pub(super) fn given_up(missed: &GivenUp, tree: &Tree) -> Self {
        match missed {
            GivenUp::Unresolved(unresolved) => {
                let why = format!("no equilibrium found: {unresolved}");
                Self::new(Outcome::Unresolved, "no equilibrium", why)
            }
            GivenUp::FirstWire(stayed) => {
                let name = &tree.branches()[stayed.branch].name;
                let last = match stayed.stopped_from_mm {
                    Some(from_mm) => format!(
                        "from {from_mm:.1} to {:.1} mm of it the tip stayed where it was, in {name}",
                        stayed.outside_mm
                    ),
                    None => format!(
                        "with {:.1} mm of it the tip lay in {name}",
                        stayed.outside_mm
                    ),
                };
                let why = format!(
                    "the first wire did not come past the branching, however it was turned; {last}"
                );
                Self::new(Outcome::Stalled, "first wire did not pass", why)
            }
        }
    }
}

/// What is known of a trial at its end.
pub(super) struct Facts<'a> {
    pub tree: &'a Tree,
    pub route: &'a Route,
    pub look: &'a Look,
    pub reaching: &'a Reaching,
    /// Index of the target.
    pub target: usize,
    /// Most wire outside the guide in mm.
    pub max_fed_mm: f64,
    /// Wire outside the guide in mm.
    pub fed_mm: f64,
    pub attempts: u32,
    pub contact: ContactSummary,
    /// Push force of the hand on the wire in mN.
    pub push_mn: f64,
    /// Body in the lumen at which the tip lies, if it does.
    pub body: Option<&'static str>,
}

impl Facts<'_> {
    /// Outcome and reason.
    pub(super) fn ending(&self, ended: Ended) -> Ending {
        let mut ending = match ended {
            Ended::Held => return Ending::new(Outcome::Reached, "", String::new()),
            Ended::Stopped => self.stopped(),
            Ended::OverForce { force_mn, limit_mn } => Ending::new(
                Outcome::OverForceLimit,
                "force on the wall",
                format!(
                    "{force_mn:.1} mN on a millimetre of wall, over the limit of {limit_mn} mN; {}",
                    self.tip_lies()
                ),
            ),
            Ended::BackedOut { by_mm, limit_mm } => Ending::new(
                Outcome::BackedOut,
                "guide pushed back",
                format!(
                    "the guide was pushed back by {by_mm:.1} mm, over its limit of {limit_mm} mm; {}",
                    self.tip_lies()
                ),
            ),
        };
        if self.attempts > 1 {
            ending.why = format!("attempt {}: {}", self.attempts, ending.why);
        }
        ending
    }

    fn stopped(&self) -> Ending {
        let look = self.look;
        if look.view.all_fed {
            let mut why = format!(
                "all {} mm of wire are outside the guide; {}",
                self.max_fed_mm,
                self.tip_lies()
            );
            if let Holding::Begun(stretch) = look.holding {
                why += &format!(
                    "; of the {:.1} mm of the hold it had been fed {:.1}",
                    self.reaching.hold_mm, stretch.fed_mm
                );
            }
            if look.is_led {
                why += &format!("; {}", self.led());
            }
            return Ending::new(Outcome::OutOfWire, "wire used up", why);
        }
        if look.is_led {
            let reason = format!("loop leads in {}", self.name(look.lead.branch));
            let why = format!("{}; {}", self.led(), self.tip_lies());
            return Ending::new(Outcome::Prolapsed, reason, why);
        }
        if look.off_route() {
            let reason = format!("tip in {}", self.name(look.place.branch));
            return Ending::new(Outcome::WrongBranch, reason, self.tip_lies());
        }
        let (reason, why) = match (look.holding, look.stopped_from_mm) {
            (Holding::Failed(stretch), _) => ("did not hold".to_owned(), self.not_held(stretch)),
            (_, Some(from_mm)) if self.is_locked() => (
                "locked by friction".to_owned(),
                format!(
                    "from {from_mm:.1} to {:.1} mm of wire the tip stayed where it was: friction takes up \
                     the push of {:.0} mN along the wire; {}, {}",
                    self.fed_mm,
                    self.push_mn,
                    self.tip_lies(),
                    self.against()
                ),
            ),
            (_, Some(from_mm)) => (
                format!("tip stopped in {}", self.name(look.place.branch)),
                format!(
                    "from {from_mm:.1} to {:.1} mm of wire the tip stayed where it was; {}, {}",
                    self.fed_mm,
                    self.tip_lies(),
                    self.against()
                ),
            ),
            _ => (
                "given up".to_owned(),
                format!("the plan is at its end; {}", self.tip_lies()),
            ),
        };
        Ending::new(Outcome::Stalled, reason, why)
    }

    /// Whether friction takes up the push so that nearly nothing of it comes to the tip.
    fn is_locked(&self) -> bool {
        let taken = self.contact.friction_force >= LOCKED_TAKEN * self.push_mn;
        taken && self.push_mn > LOCKED_OVER_TIP * self.contact.tip_force.abs().max(FELT_MN)
    }

    fn name(&self, branch: usize) -> &str {
        &self.tree.branches()[branch].name
    }

    fn not_held(&self, stretch: Stretch) -> String {
        let Stretch { fed_mm, deeper_mm } = stretch;
        format!(
            "fed {fed_mm:.1} mm further, the tip went {deeper_mm:.1} mm deeper, less than {:.1} mm; {}",
            self.reaching.share * fed_mm,
            self.tip_lies()
        )
    }

    fn led(&self) -> String {
        let lead = &self.look.lead;
        format!(
            "a loop of the wire leads the tip by {:.1} mm, in {} at {:.1} mm",
            lead.mm,
            self.name(lead.branch),
            lead.station_mm
        )
    }

    /// Where the tip lies.
    fn tip_lies(&self) -> String {
        let TreePosition {
            branch, station_mm, ..
        } = self.look.place;
        let target = self.name(self.target);
        if let Some(depth_mm) = self.route.depth_mm(&self.look.place) {
            let beyond_mm = depth_mm - self.reaching.mouth_mm;
            return if beyond_mm >= 0.0 {
                format!("the tip lies in {target}, {beyond_mm:.1} mm beyond its whole mouth")
            } else {
                format!(
                    "the tip lies in the mouth of {target}, {:.1} mm before its end",
                    -beyond_mm
                )
            };
        }
        let name = self.name(branch);
        if self.look.place.target_station_mm.is_some() {
            return if name == target {
                format!("the tip lies in the mouth of {target}")
            } else {
                format!("the tip lies where {name} and {target} meet")
            };
        }
        let astray_mm = self.look.astray_mm;
        if branch == self.target {
            return format!(
                "the tip lies at the wall of {name}, {station_mm:.1} mm from its start"
            );
        }
        if !self.route.on_the_way(branch) {
            return format!("the tip lies in {name}, {astray_mm:.1} mm beyond its ostium");
        }
        let next = self.name(self.route.next_branch(self.tree, &self.look.place));
        if astray_mm > 0.0 {
            format!("the tip lies in {name}, {astray_mm:.1} mm past the branching of {next}")
        } else {
            format!(
                "the tip lies in {name} at {station_mm:.1} mm, {:.1} mm before the branching of {next}",
                -astray_mm
            )
        }
    }

    /// Against what the tip has stopped.
    fn against(&self) -> String {
        let force_mn = self.contact.tip_force.abs();
        if force_mn < FELT_MN {
            return "free at its end: what holds the wire lies behind".to_owned();
        }
        let TreePosition {
            branch, station_mm, ..
        } = self.look.place;
        let line = &self.tree.branches()[branch].centreline;
        let at_end = station_mm > line.length_mm() - line.radius(line.length_mm());
        let what = match self.body {
            Some(body) => body.to_owned(),
            None if at_end => format!("the end of {}", self.name(branch)),
            None => "the wall".to_owned(),
        };
        format!("with {force_mn:.1} mN against {what}")
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::Vector3;

    use super::super::watch::Lead;
    use super::*;
    use crate::hands::tests::alone;
    use crate::scenario::load;

    const REACHING: Reaching = Reaching {
        mouth_mm: 2.0,
        beyond_mm: 5.0,
        hold_mm: 4.0,
        share: 0.5,
    };

    /// A side branch of 2 mm that leaves a straight vessel at 30 mm, square to it.
    fn tree() -> Tree {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
        let scenario = load(&folder.join("side-branch.toml")).expect("shipped");
        Tree::build(&scenario.scenario.vessel).expect("shipped")
    }

    /// The end of a trial whose tip lies at `tip`, where nothing else is the matter than what
    /// `change` does to the last look.
    fn ended(tip: Vector3<f64>, change: impl Fn(&mut Look)) -> Ending {
        let tree = tree();
        let route = Route::to(&tree, 1);
        let place = route.place(&tree, &tip, &mut Vec::new());
        let mut look = Look {
            view: alone(0.0),
            astray_mm: route.astray(&tree, &place),
            place,
            holding: Holding::Outside,
            to_go: None,
            lead: Lead {
                mm: 6.25,
                branch: 0,
                station_mm: 45.0,
            },
            is_led: false,
            stopped_from_mm: None,
        };
        change(&mut look);
        let facts = Facts {
            tree: &tree,
            route: &route,
            look: &look,
            reaching: &REACHING,
            target: 1,
            max_fed_mm: 80.0,
            fed_mm: 44.0,
            attempts: 1,
            contact: ContactSummary::default(),
            push_mn: 0.0,
            body: None,
        };
        facts.ending(Ended::Stopped)
    }

    #[test]
    fn out_of_wire_is_told_before_prolapsed_and_that_before_wrong_branch() {
        let astray = Vector3::new(38.5, 0.0, 0.0);
        let all = ended(astray, |look| {
            look.is_led = true;
            look.view.all_fed = true;
        });
        assert_eq!(all.outcome, Outcome::OutOfWire);
        assert_eq!(
            all.why,
            "all 80 mm of wire are outside the guide; the tip lies in parent, 8.5 mm past the \
             branching of side; a loop of the wire leads the tip by 6.2 mm, in parent at 45.0 mm"
        );
        let led = ended(astray, |look| look.is_led = true);
        assert_eq!(led.outcome, Outcome::Prolapsed);
        assert_eq!(led.reason, "loop leads in parent");
        let tip = ended(astray, |_| {});
        assert_eq!(tip.outcome, Outcome::WrongBranch);
        assert_eq!(
            tip.why,
            "the tip lies in parent, 8.5 mm past the branching of side"
        );
    }

    #[test]
    fn a_stalled_trial_says_whether_the_tip_hung_or_stayed() {
        let tree = tree();
        let inside = tree.branches()[1].centreline.position(9.0);
        let hung = ended(inside, |look| {
            look.holding = Holding::Failed(Stretch {
                fed_mm: 4.0,
                deeper_mm: 0.5,
            });
        });
        assert_eq!(hung.outcome, Outcome::Stalled);
        assert_eq!(
            hung.why,
            "fed 4.0 mm further, the tip went 0.5 mm deeper, less than 2.0 mm; the tip lies in \
             side, 7.0 mm beyond its whole mouth"
        );
        let stayed = ended(Vector3::new(12.0, 0.0, 0.0), |look| {
            look.stopped_from_mm = Some(38.8);
        });
        assert_eq!(
            stayed.why,
            "from 38.8 to 44.0 mm of wire the tip stayed where it was; the tip lies in parent at \
             12.0 mm, 18.0 mm before the branching of side, free at its end: what holds the wire \
             lies behind"
        );
    }
}
