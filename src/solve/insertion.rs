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

use nalgebra::Vector3;

use super::body::{Body, Spring, Update};
use super::guess::{HandStep, LastStep};
use super::intake::Intake;
use super::newton::Newton;
use super::search::{NewtonFailure, NewtonOptions};
use super::settings::{Channel, Start, StepSettings, equal_parts};
use super::shape;
use crate::contact::{Contact, ContactSummary};
use crate::device::Wire;
use crate::rod::{Energies, Rod};
use crate::vessel::Lumen;

/// Least time in s that a step counts for drag, where no hand moves.
pub(super) const LEAST_STEP_S: f64 = 1e-3;

/// What has been put in and where it went since the start, in mN mm.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Ledger {
    /// Work of the hand, feeding and turning.
    pub hand: f64,
    /// Lost to sliding friction.
    pub friction: f64,
    /// Lost to damping.
    pub damping: f64,
    /// Accepted steps.
    pub steps: u32,
    /// Newton iterations, those of rejected steps included.
    pub iterations: u32,
    /// Steps that were rejected and halved.
    pub halved: u32,
}

impl Ledger {
    /// Adds what another device put in and lost.
    pub(super) fn add(&mut self, other: &Self) {
        self.hand += other.hand;
        self.friction += other.friction;
        self.damping += other.damping;
        self.steps += other.steps;
        self.iterations += other.iterations;
        self.halved += other.halved;
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

/// A turn of the hand.
#[derive(Debug, Clone, Copy)]
pub(super) enum Turn {
    /// By an angle in rad, positive right-handed about the forward direction.
    Hand(f64),
    /// Such that the wire's first director at the guide comes nearest to this direction.
    To(Vector3<f64>),
}

/// A wire in a guide and a lumen.
#[derive(Clone)]
pub struct Insertion<'a> {
    /// Rod, wall and supports.
    pub body: Body<'a>,
    pub(super) intake: Intake,
    pub(super) channel: Channel,
    pub(super) settings: StepSettings,
    pub(super) newton: Newton,
    pub(super) options: NewtonOptions,
    pub(super) hand_rad: f64,
    push_force: f64,
    torque: f64,
    last: LastStep,
    pub(super) ledger: Ledger,
    /// Least time that a step takes, in s.
    pub(super) pace_s: f64,
}

impl<'a> Insertion<'a> {
    /// A wire that stands out of the guide as `start` says, let go to its equilibrium there, in a
    /// lumen whose wall has a foundation of `wall_stiffness` mN/mm².
    ///
    /// # Errors
    /// [`Unresolved`] if no equilibrium is found from there.
    pub fn new(
        wire: &Wire,
        lumen: &'a dyn Lumen,
        wall_stiffness: f64,
        channel: Channel,
        settings: StepSettings,
        start: Start,
    ) -> Result<Self, Unresolved> {
        let intake = Intake::new(wire, settings.edge_mm, start.outside_mm, start.longest_mm);
        let rod = intake.straight_rod(&channel, start.roll_rad);
        let mut insertion = Self::of(wire, lumen, wall_stiffness, channel, settings, intake, rod);
        insertion.advance(0.0, 0.0, 0)?;
        insertion.ledger.hand = insertion.stored();
        Ok(insertion)
    }

    /// A wire whose rod lies anywhere; not yet in equilibrium.
    pub(super) fn of(
        wire: &Wire,
        lumen: &'a dyn Lumen,
        wall_stiffness: f64,
        channel: Channel,
        settings: StepSettings,
        intake: Intake,
        rod: Rod,
    ) -> Self {
        let surface = settings.surface(wire, wall_stiffness);
        let contact = Contact::new(lumen, surface, &rod, rod.edges.len() - 1, true);
        let mut body = Body::new(rod).with_contact(contact);
        body.update = Update::FromLastNode;
        let mut insertion = Self {
            body,
            intake,
            channel,
            settings,
            newton: Newton::default(),
            options: settings.newton(wire),
            hand_rad: 0.0,
            push_force: 0.0,
            torque: 0.0,
            last: LastStep::default(),
            ledger: Ledger::default(),
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
        self.body.rigid_end = self.channel.backup.is_some();
        if let Some(backup) = self.channel.backup {
            self.body.springs.push(Spring {
                node: n - 2,
                anchor: self.channel.exit,
                stiffness: self.channel.backup_matrix(backup),
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
                self.ledger.halved += 1;
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
        let channel = self.channel;
        let hand = self.set_out(feed, channel, Turn::Hand(turn));
        let options = self.options.with_halvings_left(halvings);
        match self.newton.equilibrate(&mut self.body, &options) {
            Ok(found) => self.ledger.iterations += found.iterations,
            Err(failure) => return Err(self.unresolved(failure)),
        }
        self.arrive(hand);
        Ok(())
    }

    /// Takes note of a search that failed.
    pub(super) fn unresolved(&mut self, failure: NewtonFailure) -> Unresolved {
        self.ledger.iterations += failure.iterations();
        Unresolved {
            outside_mm: self.intake.outside(),
            failure,
        }
    }

    /// Beginning of a step: the boundary moves, the guide's end to `channel`, and the rod follows.
    pub(super) fn set_out(&mut self, feed: f64, channel: Channel, turn: Turn) -> HandStep {
        if self.intake.remesh(&mut self.body, feed) {
            self.support();
        }
        self.body.begin();
        let exit = self.intake.exit();
        let carried = channel.exit - self.channel.exit;
        if channel != self.channel {
            self.body.move_guide(exit, &self.channel, &channel);
            self.channel = channel;
        }
        let turn = match turn {
            Turn::Hand(turn) => turn,
            Turn::To(director) => self.turn_to(&director),
        };
        let seconds = (feed.abs() / self.settings.speed_mm_per_s)
            .max(turn.abs() / std::f64::consts::PI)
            .max(self.pace_s);
        self.body.damping = self.settings.drag / seconds;
        self.intake.set_outside(&mut self.body, feed);
        self.hand_rad += turn;
        let hand = HandStep {
            feed,
            turn,
            carried,
        };
        self.last
            .guess(&mut self.body.rod, exit, hand, &self.channel.axis);
        let through = Some((exit, self.channel.axis * feed));
        for contact in self.body.contacts_mut() {
            contact.inflow = through;
        }
        if let Some(legs) = &mut self.body.legs {
            legs.inflow = through;
        }
        hand
    }

    /// End of a step in equilibrium: reads what the hand feels and settles friction.
    pub(super) fn arrive(&mut self, hand: HandStep) {
        let (push, torque) = self.reactions();
        self.ledger.hand +=
            0.5 * (push + self.push_force) * hand.feed + 0.5 * (torque + self.torque) * hand.turn;
        self.push_force = push;
        self.torque = torque;
        let exit = self.intake.exit();
        self.last
            .note(hand, &self.body.rod, self.body.start(), 4 * exit);
        let (slid, damped) = self.body.settle();
        self.ledger.friction += slid;
        self.ledger.damping += damped;
        self.ledger.steps += 1;
    }

    /// The guide, along which the rod's end has been carried, is at `channel` now.
    pub(super) fn stand_at(&mut self, channel: Channel) {
        self.channel = channel;
    }

    /// The wire's first director at the guide.
    pub(super) fn director(&self) -> Vector3<f64> {
        self.body.rod.material_frame(self.intake.exit())[0]
    }

    /// Turn of the hand in rad, forward, that brings the director at the guide to `director`.
    pub(super) fn turn_to(&self, director: &Vector3<f64>) -> f64 {
        let [first, second] = self.body.rod.material_frame(self.intake.exit());
        // The rod runs backwards: a turn forward is one back about its tangent.
        -director.dot(&second).atan2(director.dot(&first))
    }

    /// Turns the whole wire and its hand by `turn` rad.
    pub(super) fn turn_all(&mut self, turn: f64) {
        self.hand_rad += turn;
        for i in 0..=self.intake.exit() {
            self.body.rod.q[4 * i + 3] -= turn;
        }
    }

    /// Push force (mN) and torque (mN mm) at the hand in the present equilibrium.
    pub(super) fn reactions(&self) -> (f64, f64) {
        let exit = self.intake.exit();
        let touching = self.body.contact.iter().chain(&self.body.others);
        let friction: f64 = touching
            .map(|c| c.inflow_force(&self.body.rod, &self.channel.axis))
            .sum();
        let push = self.intake.configurational_force(&self.body.rod) + friction;
        (push, -self.newton.gradient[4 * exit + 3])
    }

    /// Length of wire outside the guide in mm.
    #[must_use]
    pub fn outside_mm(&self) -> f64 {
        self.intake.outside()
    }

    /// Angle of the hand since the start in rad.
    #[must_use]
    pub fn hand_rad(&self) -> f64 {
        self.hand_rad
    }

    /// Angle of the tip about the wire's axis, in rad: the hand's angle less the twist in between.
    #[must_use]
    pub fn tip_rad(&self) -> f64 {
        let twist: f64 = (1..=self.intake.exit())
            .map(|i| self.body.rod.twist(i))
            .sum();
        self.hand_rad + twist
    }

    /// Push force at the hand in mN, positive when the hand pushes.
    #[must_use]
    pub fn push_force(&self) -> f64 {
        self.push_force
    }

    /// Torque at the hand in mN mm, positive when the hand turns forward against a resistance.
    #[must_use]
    pub fn torque(&self) -> f64 {
        self.torque
    }

    /// How far the guide has backed out in mm.
    #[must_use]
    pub fn backed_out_mm(&self) -> f64 {
        let exit = self.body.rod.node(self.intake.exit());
        -(exit - self.channel.exit).dot(&self.channel.axis)
    }

    /// Contact forces on the vessel's wall.
    #[must_use]
    pub fn contact(&self) -> ContactSummary {
        self.summary(self.body.contact.as_ref())
    }

    /// Contact forces on what lies in the lumen.
    #[must_use]
    pub fn against_obstacle(&self) -> ContactSummary {
        self.summary(self.body.others.first())
    }

    fn summary(&self, contact: Option<&Contact<'_>>) -> ContactSummary {
        contact.map_or_else(ContactSummary::default, |c| {
            c.summary(&self.body.rod, self.intake.stations())
        })
    }

    /// Elastic energies of the wire outside the guide in mN mm.
    #[must_use]
    pub fn elastic(&self) -> Energies {
        self.body.rod.stored()
    }

    /// All energy that could be got back: wire inside and outside the guide, wall, guide; mN mm.
    #[must_use]
    pub fn stored(&self) -> f64 {
        let guide = self
            .channel
            .backup
            .map_or(0.0, |k| 0.5 * k * self.backed_out_mm().powi(2));
        let obstacle = self.against_obstacle().stored;
        let wall = self.contact().stored + obstacle;
        self.elastic().total() + self.intake.held_straight() + wall + guide
    }

    /// Work and losses since the start.
    #[must_use]
    pub fn ledger(&self) -> &Ledger {
        &self.ledger
    }

    /// Nodes outside the guide, from the exit to the tip, in mm.
    #[must_use]
    pub fn shape(&self) -> Vec<Vector3<f64>> {
        (0..=self.intake.exit())
            .rev()
            .map(|i| self.body.rod.node(i))
            .collect()
    }

    /// Wall force in mN and curvature in 1/mm at the nodes of [`Insertion::shape`].
    #[must_use]
    pub fn along_shape(&self) -> (Vec<f64>, Vec<f64>) {
        shape::along(&self.body, self.intake.exit())
    }

    /// Distance of every node from the tip along the wire, in mm, tip first.
    #[must_use]
    pub fn stations(&self) -> &[f64] {
        self.intake.stations()
    }

    /// Position of the tip in mm.
    #[must_use]
    pub fn tip(&self) -> Vector3<f64> {
        self.body.rod.node(0)
    }

    /// Position in mm of the point of the wire at a distance behind the tip, in mm; the exit where
    /// no more wire is outside.
    #[must_use]
    pub fn behind_tip(&self, distance_mm: f64) -> Vector3<f64> {
        let (stations, exit) = (self.intake.stations(), self.intake.exit());
        shape::behind_front(&self.body.rod, stations, exit, distance_mm)
    }

    /// Largest bending strain beyond the natural shape over the core's limit, and largest axial
    /// strain.
    #[must_use]
    pub fn strains(&self) -> (f64, f64) {
        self.intake.strains(&self.body.rod)
    }
}
