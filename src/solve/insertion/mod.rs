//! A wire fed through a guiding catheter into a lumen: hand movements, steps, reactions.
//!
//! The rod is numbered from the tip. Behind its material nodes stand two more: the *exit*, which
//! lies at the guide's end, and a node behind it inside the guide; the edge between the two has
//! the direction of the guide and carries the rotation of the hand. Wire flows through the exit:
//! the edge in front of it grows as wire is fed until it is long enough to be split, and shrinks
//! on withdrawal. The hinge at the exit has half a cell, from the exit to the middle of that edge
//! (the other half would lie in the guide, where the wire is straight).
//!
//! The push force is the derivative of the incremental potential with respect to the length
//! outside the guide at fixed positions. It contains the force at the exit that has no
//! counterpart in the rod's tension: releasing wire of curvature `k` costs `B k²/2`.
//! Source: Bigoni et al., *Eshelby-like forces acting on elastic structures*, Mech. Mater.
//! 80:368, 2015 (from memory).

mod carried;
mod readings;

pub(super) use self::carried::Turn;
use super::body::{Body, Losses, Spring, Update};
use super::core_flow::CoreFlow;
use super::guess::{HandStep, LastStep};
use super::intake::Intake;
use super::newton::{Newton, OneRod};
use super::release::{Relaxation, Released};
use super::search::{NewtonFailure, NewtonOptions};
use super::settings::{GuideTip, Start, StepSettings, equal_parts};
use crate::contact::{Contact, Wall};
use crate::device::Wire;
use crate::rod::Rod;
use crate::vessel::Lumen;

/// Least time in s that a step counts for drag, where no hand moves.
pub(super) const LEAST_STEP_S: f64 = 1e-3;

/// What has been put in and where it went since the start, in mN mm.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct EnergyBalance {
    /// Work of the hand, feeding and turning.
    pub hand: f64,
    /// Lost to sliding friction.
    pub friction: f64,
    /// Lost to damping.
    pub damping: f64,
    /// Lost to flow of the core.
    pub yielding: f64,
    /// Accepted steps.
    pub steps: u32,
    /// Newton iterations, those of rejected steps included.
    pub iterations: u32,
    /// Active contacts at the end of every accepted step, added up.
    pub contacts: u64,
    /// Steps that were rejected and halved.
    pub halved: u32,
    /// Steps in which the wire was followed in time until it came to rest.
    pub released: u32,
}

impl EnergyBalance {
    /// Takes note of a step that was followed in time after it had failed otherwise.
    pub(super) fn release(&mut self, failure: NewtonFailure, released: &Released) {
        self.iterations += failure.iterations() + released.equilibrium.iterations;
        self.lose(&released.lost);
        self.released += 1;
    }

    /// Adds what was lost in a step.
    pub(super) fn lose(&mut self, losses: &Losses) {
        self.friction += losses.sliding;
        self.damping += losses.damping;
        self.yielding += losses.yielding;
    }

    /// Adds what another device put in and lost.
    pub(super) fn add(&mut self, other: &Self) {
        self.hand += other.hand;
        self.friction += other.friction;
        self.damping += other.damping;
        self.yielding += other.yielding;
        self.steps += other.steps;
        self.iterations += other.iterations;
        self.contacts += other.contacts;
        self.halved += other.halved;
        self.released += other.released;
    }
}

/// A step that found no equilibrium however small it was made.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("step at {outside_mm:.2} mm of wire outside the guide: {failure}")]
pub struct Unresolved {
    /// Length of wire outside the guide in mm.
    pub outside_mm: f64,
    /// What the solver said last.
    pub failure: NewtonFailure,
}

/// A wire in a guide and a lumen.
#[derive(Clone)]
pub struct Insertion<'a> {
    /// Rod, wall and supports.
    pub body: Body<'a>,
    pub(super) intake: Intake,
    pub(super) guide_tip: GuideTip,
    pub(super) settings: StepSettings,
    pub(super) newton: Newton,
    pub(super) options: NewtonOptions,
    pub(super) hand_rad: f64,
    push_force: f64,
    torque: f64,
    last: LastStep,
    pub(super) balance: EnergyBalance,
    /// Least time that a step takes, in s.
    pub(super) pace_s: f64,
}

impl<'a> Insertion<'a> {
    /// A wire that stands out of the guide as `start` says, let go to its equilibrium there, in a
    /// lumen with that wall; a number is the stiffness of its foundation in mN/mm².
    ///
    /// # Errors
    /// [`Unresolved`] if no equilibrium is found from there.
    pub fn new(
        wire: &Wire,
        lumen: &'a dyn Lumen,
        wall: impl Into<Wall>,
        guide_tip: GuideTip,
        settings: StepSettings,
        start: Start,
    ) -> Result<Self, Unresolved> {
        let (kept, wall) = (CoreFlow::of(wire), wall.into());
        Self::with_flow(wire, (lumen, wall), guide_tip, settings, start, kept)
    }

    /// The same for a wire whose core has flowed before.
    pub(super) fn with_flow(
        wire: &Wire,
        wall: (&'a dyn Lumen, Wall),
        guide_tip: GuideTip,
        settings: StepSettings,
        start: Start,
        flow: CoreFlow,
    ) -> Result<Self, Unresolved> {
        let mut intake = Intake::new(wire, settings.edge_mm, start.outside_mm, start.longest_mm);
        intake.flow = flow;
        let rod = intake.straight_rod(&guide_tip, start.roll_rad);
        let mut insertion = Self::of(wire, wall, guide_tip, settings, intake, rod);
        insertion.advance(0.0, 0.0, 0)?;
        insertion.balance.hand = insertion.stored();
        Ok(insertion)
    }

    /// A wire whose rod lies anywhere; not yet in equilibrium.
    pub(super) fn of(
        wire: &Wire,
        (lumen, wall): (&'a dyn Lumen, Wall),
        guide_tip: GuideTip,
        settings: StepSettings,
        intake: Intake,
        rod: Rod,
    ) -> Self {
        let surface = settings.surface(wire, wall);
        let contact = Contact::new(lumen, surface, &rod, rod.edges.len() - 1, true);
        let mut body = Body::new(rod).with_contact(contact);
        body.update = Update::FromLastNode;
        let mut insertion = Self {
            body,
            intake,
            guide_tip,
            settings,
            newton: Newton::default(),
            options: settings.newton(wire),
            hand_rad: 0.0,
            push_force: 0.0,
            torque: 0.0,
            last: LastStep::default(),
            balance: EnergyBalance::default(),
            pace_s: LEAST_STEP_S,
        };
        insertion.support();
        insertion
    }

    /// Ties exit and guide node down, whichever nodes they are now.
    pub(super) fn support(&mut self) {
        let n = self.body.rod.nodes();
        self.body.fixed.clear();
        self.body.springs.clear();
        self.body.rigid_end = self.guide_tip.backup.is_some();
        if let Some(backup) = self.guide_tip.backup {
            self.body.springs.push(Spring {
                node: n - 2,
                anchor: self.guide_tip.exit,
                stiffness: self.guide_tip.backup_matrix(backup),
            });
        } else {
            self.body.fix_node(n - 2);
        }
        self.body.fix_rotation(n - 2);
        self.body.fix_node(n - 1);
    }

    /// Feeds (positive) or withdraws (negative) wire, in steps.
    ///
    /// # Errors
    /// [`Unresolved`]; the wire is left at the last equilibrium.
    pub fn feed(&mut self, length_mm: f64) -> Result<(), Unresolved> {
        equal_parts(length_mm, self.settings.feed_mm)
            .try_for_each(|part| self.step(part, 0.0, self.settings.halvings))
    }

    /// Turns the hand by an angle in rad, positive right-handed about the forward direction.
    ///
    /// # Errors
    /// [`Unresolved`]; the wire is left at the last equilibrium.
    pub fn turn(&mut self, angle_rad: f64) -> Result<(), Unresolved> {
        equal_parts(angle_rad, self.settings.turn_rad)
            .try_for_each(|part| self.step(0.0, part, self.settings.halvings))
    }

    /// One step, halved as often as allowed.
    fn step(&mut self, feed: f64, turn: f64, halvings: u32) -> Result<(), Unresolved> {
        let before = (self.body.clone(), self.intake.clone(), self.hand_rad);
        match self.advance(feed, turn, halvings) {
            Ok(()) => Ok(()),
            Err(unresolved) => {
                (self.body, self.intake, self.hand_rad) = before;
                if halvings == 0 {
                    return Err(unresolved);
                }
                self.balance.halved += 1;
                self.step(0.5 * feed, 0.5 * turn, halvings - 1)?;
                self.step(0.5 * feed, 0.5 * turn, halvings - 1)
            }
        }
    }

    /// One step as it is, which may be halved so many times more: the boundary moves, the rod follows,
    /// an equilibrium is looked for.
    pub(super) fn advance(
        &mut self,
        feed: f64,
        turn: f64,
        halvings: u32,
    ) -> Result<(), Unresolved> {
        let guide_tip = self.guide_tip;
        let hand = self.set_out(feed, guide_tip, Turn::Hand(turn));
        let released = self.balance.released;
        let until = self.settings.until(feed, turn, halvings);
        let options = self.options.last_resort(halvings == 0);
        let rest = OneRod {
            newton: &mut self.newton,
            body: &mut self.body,
            options: &options,
        }
        .come_to_rest(&options, until, &mut self.balance);
        if let Err(failure) = rest {
            return Err(self.unresolved(failure));
        }
        self.arrive(hand);
        if self.balance.released > released {
            self.last.forget();
        }
        Ok(())
    }

    /// Takes note of a search that failed.
    pub(super) fn unresolved(&mut self, failure: NewtonFailure) -> Unresolved {
        self.balance.iterations += failure.iterations();
        Unresolved {
            outside_mm: self.intake.outside(),
            failure,
        }
    }

    /// Beginning of a step: the boundary moves, the guide's end to `channel`, and the rod follows.
    pub(super) fn set_out(&mut self, feed: f64, guide_tip: GuideTip, turn: Turn) -> HandStep {
        if self.intake.remesh(&mut self.body, feed) {
            self.support();
        }
        self.body.begin();
        let exit = self.intake.exit();
        let carried = guide_tip.exit - self.guide_tip.exit;
        if guide_tip != self.guide_tip {
            self.body.move_guide(exit, &self.guide_tip, &guide_tip);
            self.guide_tip = guide_tip;
        }
        let turn = match turn {
            Turn::Hand(turn) => turn,
            Turn::To(director) => self.turn_to(&director),
        };
        let seconds = (feed.abs() / self.settings.speed_mm_per_s)
            .max(turn.abs() / std::f64::consts::PI)
            .max(self.pace_s);
        self.body.pass(seconds, self.settings.drag);
        self.intake.set_outside(&mut self.body, feed);
        self.hand_rad += turn;
        let hand = HandStep {
            feed,
            turn,
            carried,
        };
        self.last
            .guess(&mut self.body.rod, exit, hand, &self.guide_tip.axis);
        let through = Some((exit, self.guide_tip.axis * feed));
        for contact in self.body.contacts_mut() {
            contact.inflow = through;
        }
        if let Some(self_contact) = &mut self.body.self_contact {
            self_contact.inflow = through;
        }
        hand
    }

    /// End of a step in equilibrium: reads what the hand feels and settles friction.
    pub(super) fn arrive(&mut self, hand: HandStep) {
        let (push, torque) = self.reactions();
        self.balance.hand +=
            0.5 * (push + self.push_force) * hand.feed + 0.5 * (torque + self.torque) * hand.turn;
        self.push_force = push;
        self.torque = torque;
        let exit = self.intake.exit();
        self.last
            .note(hand, &self.body.rod, self.body.start(), 4 * exit);
        let losses = self.body.settle();
        self.balance.lose(&losses);
        self.intake.keep_flow(&self.body.rod);
        self.balance.steps += 1;
        self.balance.contacts += self.body.active_contacts();
    }

    /// Push force (mN) and torque (mN mm) at the hand in the present equilibrium.
    pub(super) fn reactions(&self) -> (f64, f64) {
        let exit = self.intake.exit();
        let touching = self.body.contact.iter().chain(&self.body.others);
        let friction: f64 = touching
            .map(|c| c.inflow_force(&self.body.rod, &self.guide_tip.axis))
            .sum();
        let push = self.intake.configurational_force(&self.body.rod) + friction;
        (push, -self.newton.gradient[4 * exit + 3])
    }
}
