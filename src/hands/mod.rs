//! The hands: movements, and plans that choose them by what an operator can see.
//!
//! A plan decides nothing about success. It looks ([`View`]) and names the next movement; the
//! mechanics answer.

mod aided;
mod aim;
mod looped_back;
mod push;
mod redirect;

pub use aim::BEYOND_AIM_RAD;

use crate::scenario::model::{PlanSpec, TechniqueSpec};
use crate::scenario::view::SightSpec;

/// One movement at the proximal end of the wire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Movement {
    /// Feed a little.
    Feed,
    /// Withdraw a little.
    Withdraw,
    /// Turn by an angle in rad, positive right-handed about the forward direction.
    Turn(f64),
    /// Take the wire out and go on with the other one, from the guide's end.
    ChangeWire,
    /// Point the guide in the way with this number.
    AimGuide(usize),
    /// The plan is at its end.
    Stop,
}

/// What an operator can see of the wire in the vessel, in full or in one projection (the
/// technique's sight).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    /// How far the tip lies before the branching that it has to take next, in mm; negative when
    /// it is past it or in a branch off the route.
    pub before_branching_mm: f64,
    /// Index of the branch that has to be entered next.
    pub next_branch: usize,
    /// How much the bend at the tip is seen to point to the side on which that branch is seen to
    /// leave, -1 (away from it) to 1. `None` where nothing shows it: the branch is hidden, the
    /// tip has no bend, or the sight is full, in which case no plan aims.
    pub towards: Option<f64>,
    /// The tip has gone astray: past the branching in a vessel that does not lead to the target.
    pub astray: bool,
    /// Wire is fed but the tip does not move.
    pub stopped: bool,
    /// A loop of wire leads the tip.
    pub looped: bool,
    /// All the wire that may be fed is fed.
    pub all_fed: bool,
    /// No more wire can be drawn back into the guide.
    pub all_drawn_back: bool,
}

impl View {
    /// Whether feeding on makes no sense.
    #[must_use]
    pub fn failing(&self) -> bool {
        self.astray || self.stopped || self.looped || self.all_fed
    }
}

/// A source of the angles by which the hand turns.
pub trait Turns {
    /// The next turn in rad: `wanted` with the hand's noise, or drawn from the whole circle.
    fn turn(&mut self, wanted: Option<f64>) -> f64;
}

/// A technique: a sequence of movements that may depend on what is seen.
pub trait Plan {
    /// The next movement.
    fn next(&mut self, view: &View, turns: &mut dyn Turns) -> Movement;

    /// Attempts begun so far, at least 1.
    fn attempts(&self) -> u32;
}

/// The plan that a scenario asks for.
#[must_use]
pub fn plan(technique: &TechniqueSpec) -> Box<dyn Plan> {
    Box::new(aided::Aided::new(bare(technique), &technique.aids))
}

/// The plan without its aids.
fn bare(technique: &TechniqueSpec) -> Box<dyn Plan> {
    match (technique.plan, technique.sight) {
        (PlanSpec::Push, _) => Box::new(push::Push),
        (
            PlanSpec::Redirect {
                attempts,
                withdraw_to_mm,
                turn_rad,
                rock_rad,
            },
            SightSpec::Full,
        ) => Box::new(redirect::Redirect::new(
            attempts,
            withdraw_to_mm,
            turn_rad,
            rock_rad,
        )),
        (
            PlanSpec::Redirect {
                attempts,
                withdraw_to_mm,
                turn_rad,
                ..
            },
            SightSpec::Projected(_),
        ) => Box::new(aim::Aimed::new(
            attempts,
            withdraw_to_mm,
            turn_rad.unwrap_or(BEYOND_AIM_RAD),
        )),
        (
            PlanSpec::LoopedBack {
                past_mm,
                attempts,
                turn_rad,
                ..
            },
            _,
        ) => Box::new(looped_back::LoopedBack::new(past_mm, attempts, turn_rad)),
    }
}
