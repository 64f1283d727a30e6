//! A rod with everything that acts on it in one step.

mod loads;
mod potential;
mod readings;

pub use self::loads::ClampReaction;
use nalgebra::{Matrix3, Vector3};

use super::bore::Bore;
use super::consistent::HARD;
use super::giving::Giving;
use super::settings::GuideTip;
use crate::contact::{Between, Contact, ContactPair, SelfContact};
use crate::rod::{Hinge, Rod, node_of};

/// A linear spring that ties a node to a point: energy `(x - a)ᵀ K (x - a) / 2`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spring {
    /// Node.
    pub node: usize,
    /// Point to which it is tied, in mm.
    pub anchor: Vector3<f64>,
    /// Stiffness, symmetric, in mN/mm.
    pub stiffness: Matrix3<f64>,
}

/// A dead load on one unknown: energy `-f q`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Load {
    /// Index of the unknown.
    pub unknown: usize,
    /// Force in mN, or moment in mN mm for a rotation.
    pub force: f64,
}

/// Energy lost in a step, in mN mm.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Losses {
    /// To sliding friction.
    pub sliding: f64,
    /// To damping.
    pub damping: f64,
    /// To flow of the core.
    pub yielding: f64,
}

impl std::ops::AddAssign for Losses {
    fn add_assign(&mut self, more: Self) {
        self.sliding += more.sliding;
        self.damping += more.damping;
        self.yielding += more.yielding;
    }
}

/// How a step of the solver changes the positions; the equilibria are the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Update {
    /// Every node moves along its step: for any supports.
    Straight,
    /// Edges turn and keep their lengths to second order, and the chain is put together from the
    /// last node: for a rod held at its last node alone.
    FromLastNode,
    /// The same, put together from the first node: for a rod held at its first edge alone.
    FromFirstNode,
}

/// A rod, what holds it and what presses on it.
///
/// The incremental potential of a step is the elastic energy of rod, springs and wall, minus the
/// work of dead loads, plus the potential of friction, plus `c/2 Σ w |x - x0|²` of damping, with
/// `x0` the position at the beginning of the step and `w` the length of wire that belongs to a
/// node.
#[derive(Clone)]
pub struct Body<'a, const S: usize = 4> {
    /// The rod.
    pub rod: Rod<S>,
    /// Unknowns that do not move, ascending.
    pub fixed: Vec<usize>,
    /// Dead loads.
    pub loads: Vec<Load>,
    /// Springs.
    pub springs: Vec<Spring>,
    /// Contact with a lumen.
    pub contact: Option<Contact<'a, S>>,
    /// Contact between the legs of a folded wire.
    pub self_contact: Option<SelfContact>,
    /// Contact with further bodies, such as a balloon in the lumen, or the second of two jaws that
    /// hold the wire between them.
    pub others: Vec<Contact<'a, S>>,
    /// A vessel that gives way, whose lumen is that of the contact.
    pub giving: Option<Giving<'a>>,
    /// A bore in which the wire rubs, of the catheter over it.
    pub(in crate::solve) bore: Option<Bore>,
    /// Damping per mm of wire in this step, in mN/mm² (viscosity over time step); 0 or more.
    pub damping: f64,
    /// How a step of the solver changes the positions.
    pub update: Update,
    /// Whether the last node moves with the one before it, so that the last edge keeps its
    /// direction.
    pub rigid_end: bool,
    start: Vec<f64>,
    expected: Vec<f64>,
    weights: Vec<f64>,
    /// Time since the beginning in s.
    time_s: f64,
}

impl<'a, const S: usize> Body<'a, S> {
    /// A free rod without loads.
    #[must_use]
    pub fn new(rod: Rod<S>) -> Self {
        let mut body = Self {
            rod,
            fixed: Vec::new(),
            loads: Vec::new(),
            springs: Vec::new(),
            contact: None,
            others: Vec::new(),
            self_contact: None,
            giving: None,
            bore: None,
            damping: 0.0,
            update: Update::Straight,
            rigid_end: false,
            start: Vec::new(),
            expected: Vec::new(),
            weights: Vec::new(),
            time_s: 0.0,
        };
        body.begin();
        body
    }

    /// The same rod in contact with a lumen.
    #[must_use]
    pub fn with_contact(mut self, contact: Contact<'a, S>) -> Self {
        self.giving = contact.lumen.giving().map(Giving::new);
        self.contact = Some(contact);
        self.begin();
        self
    }

    /// Holds node `i` where it is.
    pub fn fix_node(&mut self, i: usize) {
        self.fixed.extend(S * i..S * i + 3);
        self.fixed.sort_unstable();
        self.fixed.dedup();
    }

    /// Holds the rotations of edge `i`.
    pub fn fix_rotation(&mut self, i: usize) {
        self.fixed.extend(S * i + 3..S * i + S);
        self.fixed.sort_unstable();
        self.fixed.dedup();
    }

    /// Begins a step at the rod's state: damping and friction count from here.
    pub fn begin(&mut self) {
        self.start.clone_from(&self.rod.q);
        self.show_vessel();
        for contact in self.contact.iter_mut().chain(&mut self.others) {
            contact.begin(&self.rod.q);
        }
        if let Some(self_contact) = &mut self.self_contact {
            self_contact.begin(&self.rod.q);
        }
        if let Some(bore) = &mut self.bore {
            bore.begin(&self.rod);
        }
        let edges = &self.rod.edges;
        self.weights.clear();
        for i in 0..self.rod.nodes() {
            let behind = if i > 0 { edges[i - 1].rest_length } else { 0.0 };
            let ahead = edges.get(i).map_or(0.0, |e| e.rest_length);
            self.weights.push(0.5 * (behind + ahead));
        }
    }

    /// Lets `seconds`, above 0, pass in the step that has begun: walls that move do so, and the step is
    /// damped by a drag per mm of wire in mN s/mm².
    pub fn pass(&mut self, seconds: f64, drag: f64) {
        self.time_s += seconds;
        self.damping = drag / seconds;
        let time_s = self.time_s;
        self.carry_vessel(time_s);
        for contact in self.contacts_mut() {
            contact.pass(time_s, seconds);
        }
    }

    /// Time since the beginning in s.
    #[must_use]
    pub fn time_s(&self) -> f64 {
        self.time_s
    }

    /// Lets the blood at node `i`, against which the rod is damped, go with the vessel from the beginning of
    /// the step to where the node is now; further movement of the node counts from here.
    pub(in crate::solve) fn carry_start(&mut self, i: usize) {
        let at = S * i..S * i + 3;
        self.start[at.clone()].copy_from_slice(&self.rod.q[at]);
    }

    /// Ends a step: settles friction and the flow of the core. Returns the energy lost in this step.
    pub fn settle(&mut self) -> Losses {
        let damping = 2.0 * self.damping_energy(&self.rod.q);
        let touching = self.contact.iter_mut().chain(&mut self.others);
        let slid: f64 = touching.map(|c| c.settle(&self.rod)).sum();
        let between = self
            .self_contact
            .as_mut()
            .map_or(0.0, |l| l.settle(&self.rod));
        let bore = self.bore.as_mut();
        let inside = bore.map_or(0.0, |bore| bore.settle::<S>(&self.rod.q));
        Losses {
            sliding: slid + between + inside,
            damping,
            yielding: self.rod.settle_core(),
        }
    }

    /// Chooses the contact points for a search that begins at the rod's state.
    pub(in crate::solve) fn choose_points(&mut self) {
        self.keep_far_vessel();
        for contact in self.contact.iter_mut().chain(&mut self.others) {
            contact.choose_points(&self.rod.q);
        }
    }

    /// Looks between the contact points of the equilibrium at the rod's state.
    pub(in crate::solve) fn uncover(&mut self) -> Between {
        let contacts = self.contact.iter_mut().chain(&mut self.others);
        let between = contacts.map(|contact| contact.uncover(&self.rod.q));
        between.max().unwrap_or(Between::Seen)
    }

    /// Lets all friction follow the normal force by that share of its change; 1 is at once.
    pub(in crate::solve) fn follow(&mut self, share: f64) {
        for contact in self.contacts_mut() {
            contact.friction_relaxation = share;
        }
        if let Some(self_contact) = &mut self.self_contact {
            self_contact.friction_relaxation = share;
        }
    }

    /// Expects the contacts of the last accepted state where they lie now.
    pub(in crate::solve) fn anticipate_held(&mut self) {
        let q = &self.rod.q;
        for contact in self.contact.iter_mut().chain(&mut self.others) {
            contact.anticipate_held(q);
        }
    }

    /// Gives the contacts the Coulomb limits of their places; false where that changes whether one
    /// slides.
    pub(in crate::solve) fn take_present_limits(&mut self) -> bool {
        let q = &self.rod.q;
        let contacts = self.contact.iter_mut().chain(&mut self.others);
        let mut same = true;
        for contact in contacts {
            same &= contact.take_present_limits(q);
        }
        same
    }

    /// How hard the hardest wall is for the spacing of its contact points; above 1 is too hard.
    ///
    /// Equation: a beam of bending stiffness `B` on a foundation of stiffness `k` bends within `1/beta`,
    /// `beta = (k / 4B)^(1/4)`.
    /// Source: Hetenyi, *Beams on Elastic Foundation*, 1946 (from memory).
    pub(in crate::solve) fn hardness(&self) -> f64 {
        let softest = |b: f64, hinge: &Hinge| b.min(hinge.length / hinge.bending_compliance);
        let bending = self.rod.hinges.iter().fold(f64::INFINITY, softest);
        let hardness = |contact: &Contact<'_, S>| {
            let surface = &contact.surface;
            let stiffness = surface.wall.respond(0.0).stiffness();
            (stiffness / (4.0 * bending)) * (surface.spacing / HARD).powi(4)
        };
        self.contacts().map(hardness).fold(0.0, f64::max)
    }

    /// The contacts with the lumen and with further bodies.
    pub fn contacts(&self) -> impl Iterator<Item = &Contact<'a, S>> + Clone {
        self.contact.iter().chain(&self.others)
    }

    /// Largest friction force over the Coulomb limit `mu N` at the state that was assembled last: 1
    /// where a contact slides, 0 without friction.
    #[must_use]
    pub fn friction_ratio(&self) -> f64 {
        let self_contact = self.self_contact.as_ref();
        let self_contact = self_contact.map_or(0.0, |self_contact| {
            self_contact.friction_ratio::<S>(&self.rod.q)
        });
        let ratios = self.contacts().map(|c| c.friction_ratio(&self.rod));
        ratios.fold(self_contact, f64::max)
    }

    /// Settles friction and the flow of the core in the middle of a step, of which the rest follows
    /// from here: no more material flows in and no wall moves on. Returns the energy lost.
    pub(in crate::solve) fn go_on(&mut self) -> Losses {
        let lost = self.settle();
        self.contacts_mut().for_each(Contact::go_on);
        if let Some((_, way)) = self.self_contact.as_mut().and_then(|l| l.inflow.as_mut()) {
            *way = Vector3::zeros();
        }
        self.begin();
        lost
    }

    /// The same contacts, to be changed.
    pub fn contacts_mut(&mut self) -> impl Iterator<Item = &mut Contact<'a, S>> {
        self.contact.iter_mut().chain(&mut self.others)
    }

    /// Touches of the legs of a folded wire at the state that was assembled last.
    #[must_use]
    pub fn pairs(&self) -> &[ContactPair] {
        self.self_contact.as_ref().map_or(&[], SelfContact::pairs)
    }

    /// Moves the guide's end, node `exit`, as the guide moves `from` one place `to` another, and the
    /// node behind it into the direction from which the guide comes then.
    pub(in crate::solve) fn move_guide(&mut self, exit: usize, from: &GuideTip, to: &GuideTip) {
        let end = self.rod.node(exit) + to.exit - from.exit;
        let behind = end - to.axis * self.rod.edges[exit].rest_length;
        self.rod.set_node(exit, &end);
        self.rod.set_node(exit + 1, &behind);
        self.rod.refresh();
    }

    /// Moves the rod to the unknowns `q` without beginning a new step.
    pub fn move_to(&mut self, q: &[f64]) {
        self.rod.q.copy_from_slice(q);
        self.rod.refresh();
    }

    /// Expects the equilibrium that is looked for at the present state.
    pub(in crate::solve) fn expect_here(&mut self) {
        self.expected.clone_from(&self.rod.q);
    }

    /// Largest distance in mm of a node from where it was expected.
    pub(in crate::solve) fn off_mm(&self) -> f64 {
        let expected = self.expected.chunks_exact(S).enumerate();
        expected
            .map(|(i, at)| (self.rod.node(i) - node_of::<S>(at, 0)).norm())
            .fold(0.0, f64::max)
    }

    /// Length of rod in mm that belongs to each node.
    pub(in crate::solve) fn weights(&self) -> &[f64] {
        &self.weights
    }

    /// How many contacts are active: on walls, and of the rod with itself.
    pub(in crate::solve) fn active_contacts(&self) -> u64 {
        let on_walls: usize = self.contacts().map(|c| c.active_contacts().len()).sum();
        (on_walls + self.pairs().len()) as u64
    }

    /// Unknowns at the beginning of the step.
    #[must_use]
    pub fn start(&self) -> &[f64] {
        &self.start
    }
}
