//! The hands: movements, and plans that choose them by what an operator can see.
//!
//! A plan decides nothing about success. It looks ([`View`]) and names the next movement; the
//! mechanics answer.

pub(crate) mod aim;
mod controls;
mod recording;

pub use aim::BEYOND_AIM_RAD;
pub use controls::Controls;
pub use recording::{Entry, MOST_LINES, Made, Recording, RecordingFault};

use serde::{Deserialize, Serialize};

/// Length in mm by which one movement feeds or withdraws, and so fed length between two looks,
/// whatever the solver's step.
pub const FEED_MM: f64 = 0.4;

/// Change of a balloon's diameter in mm by one movement, and the time that it takes in s: common practice, no
/// source.
pub const INFLATED_MM: f64 = 0.2;
/// See [`INFLATED_MM`].
pub const INFLATED_S: f64 = 0.2;

/// One movement at the proximal end of the wire.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Movement {
    /// Feed by [`FEED_MM`].
    Feed,
    /// Withdraw by [`FEED_MM`].
    Withdraw,
    /// Turn by an angle in rad, positive right-handed about the forward direction.
    Turn(f64),
    /// Move the support catheter.
    Catheter(CatheterMove),
    /// Wait for a time in s.
    Wait(f64),
    /// Take the wire out and go on with the other one, from the guide's end.
    ChangeWire,
    /// Inflate the balloon by [`INFLATED_MM`], or as far as it goes.
    Inflate,
    /// Deflate the balloon by [`INFLATED_MM`], or as far as it goes.
    Deflate,
    /// Point the guide in the way with this number.
    AimGuide(usize),
    /// The plan is at its end.
    Stop,
}

/// One movement at the hub of a support catheter, with the wire's hand at rest unless said.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum CatheterMove {
    /// Feed by [`FEED_MM`].
    Feed,
    /// Withdraw by [`FEED_MM`].
    Withdraw,
    /// Feed by [`FEED_MM`] together with the wire.
    FeedBoth,
    /// Withdraw by [`FEED_MM`] together with the wire.
    WithdrawBoth,
    /// Turn by an angle in rad, positive right-handed about the forward direction.
    Turn(f64),
    /// Change the steered angle of the tip by an angle in rad.
    Steer(f64),
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
    /// The support catheter, if there is one.
    pub catheter: Option<CatheterView>,
    /// The balloon, if there is one.
    pub balloon: Option<BalloonView>,
    /// The branch that is to hold the tip for a while, if there is one.
    pub anchor: Option<AnchorView>,
    /// Time in s until the vessel rests between two beats of the heart: 0 while it does, and `None` where no
    /// heart beats.
    pub rest_in_s: Option<f64>,
}

/// What an operator can see of the branch that is to hold the tip for a while. Places along the
/// vessel are taken as known whatever the sight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AnchorView {
    /// How far the catheter (its side port) lies before that branch's branching, in mm.
    pub catheter_before_mm: f64,
    /// How much the port is seen to point to the side on which that branch leaves, -1 to 1;
    /// `None` where nothing shows it.
    pub towards: Option<f64>,
    /// How deep the wire's tip lies in that branch, in mm; 0 where it does not.
    pub tip_depth_mm: f64,
}

/// What an operator can see of a support catheter. Its place along the vessel is taken as known
/// whatever the sight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CatheterView {
    /// How far its tip lies before the branching that it would have to take next, in mm.
    pub before_branching_mm: f64,
    /// Length of wire in front of its tip in mm; negative where the wire's tip is inside.
    pub bare_mm: f64,
    /// How much its tip is seen to point to the side on which that branch leaves, -1 to 1;
    /// `None` where nothing shows it.
    pub towards: Option<f64>,
    /// Angle in rad to which its tip is steered or preformed.
    pub angle_rad: f64,
    /// No more of it can be drawn back into the guide.
    pub all_drawn_back: bool,
    /// It is fed but its tip does not move.
    pub stopped: bool,
}

/// What an operator can see of a balloon.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BalloonView {
    /// Diameter in mm; 0 where it is deflated.
    pub diameter_mm: f64,
    /// It is inflated as far as it goes.
    pub is_full: bool,
    /// Nothing lies where it is when it is inflated.
    pub is_free: bool,
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

/// A sequence of movements that may depend on what is seen: what the hands do in a technique.
pub trait Plan {
    /// The next movement.
    fn next(&mut self, view: &View, turns: &mut dyn Turns) -> Movement;

    /// Attempts begun so far, at least 1.
    fn attempts(&self) -> u32;

    /// The next movement once the target is reached; `None` ends the trial.
    fn after_reaching(&mut self, view: &View) -> Option<Movement> {
        let _ = view;
        None
    }
}

/// Feeds the catheter after the wire until its tip lies `depth_mm` beyond the branching, or stays.
pub(crate) fn follow(depth_mm: Option<f64>, view: &View) -> Option<Movement> {
    let (depth_mm, catheter) = (depth_mm?, view.catheter?);
    let done = -catheter.before_branching_mm >= depth_mm || catheter.stopped;
    let room = catheter.bare_mm > 0.0;
    (!done && room).then_some(Movement::Catheter(CatheterMove::Feed))
}

#[cfg(test)]
pub(crate) mod tests {
    use super::{CatheterView, Turns, View};

    /// A hand that turns by what it is asked to.
    pub(crate) struct Asked;
    impl Turns for Asked {
        fn turn(&mut self, wanted: Option<f64>) -> f64 {
            wanted.unwrap_or(1.5)
        }
    }

    /// A wire alone whose tip lies `before_mm` before the branching, with nothing in its way.
    pub(crate) fn alone(before_mm: f64) -> View {
        View {
            before_branching_mm: before_mm,
            next_branch: 1,
            towards: None,
            astray: false,
            stopped: false,
            looped: false,
            all_fed: false,
            all_drawn_back: false,
            catheter: None,
            anchor: None,
            balloon: None,
            rest_in_s: None,
        }
    }

    /// A wire `bare_mm` in front of a catheter whose tip lies `before_mm` before the branching.
    pub(crate) fn seen(bare_mm: f64, before_mm: f64, failing: bool) -> View {
        View {
            astray: failing,
            catheter: Some(CatheterView {
                before_branching_mm: before_mm,
                bare_mm,
                towards: None,
                angle_rad: 0.0,
                all_drawn_back: false,
                stopped: false,
            }),
            ..alone(before_mm - bare_mm)
        }
    }
}
