//! A support catheter over a wire in a guide and a lumen: hand movements, steps, reactions.
//!
//! Where the catheter covers the wire both lie on one centreline: their bending stiffnesses add,
//! each keeps its own natural curvature and its own rotation. The rod is numbered from its front.
//! Nodes in front of the catheter's tip belong to the wire. The catheter's tip is a node through
//! which the wire flows, as both flow through the exit at the guide's end; the nodes between the
//! two belong to the catheter. Where the wire's tip is drawn back into the catheter the rod begins
//! at the catheter's tip, and the cells in front of the wire's tip are the catheter's alone.
//!
//! Source of the idea of stiffnesses that add on a shared centreline, each device with a rotation
//! of its own: Dupont et al., *Design and control of concentric-tube robots*, IEEE Trans. Robotics
//! 26:209, 2010 (from memory).
//!
//! Friction with the wall acts on the outermost surface, with that device's own sliding and
//! spinning. Left out: friction between wire and catheter, and the clearance between them.

mod around;
mod flow;
mod guess;
mod layout;
mod port;
mod reactions;
mod readings;

use nalgebra::Vector3;

use self::guess::LastStep;
use self::layout::{Layout, Pair};
pub use self::port::SidePort;
pub(in crate::solve) use self::port::{PortPose, Seat};
use super::body::{Body, Spring, Update};
use super::insertion::{EnergyBalance, LEAST_STEP_S, Unresolved};
use super::newton::{Newton, OneRod};
use super::release::Relaxation;
use super::search::{NewtonFailure, NewtonOptions};
use super::settings::{GuideTip, StepSettings, equal_parts};
use crate::contact::{Contact, Surface, Wall};
use crate::device::{Catheter, Wire};
use crate::rod::Rod;
use crate::vessel::Lumen;

/// Largest change of a steered angle in one step in rad.
const STEER_RAD: f64 = 0.1;

/// Where the rotations of wire and catheter stand among the unknowns of an edge.
const ROTATIONS: [usize; 2] = [3, 4];

/// A movement of the hands in one step.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Hands {
    /// Wire fed, in mm.
    pub feed_wire: f64,
    /// Wire turned, in rad.
    pub turn_wire: f64,
    /// Catheter fed, in mm.
    pub feed_catheter: f64,
    /// Catheter turned, in rad.
    pub turn_catheter: f64,
    /// Change of the catheter's steered angle, in rad.
    pub steer: f64,
}

impl Hands {
    fn all(self) -> [f64; 5] {
        [
            self.feed_wire,
            self.turn_wire,
            self.feed_catheter,
            self.turn_catheter,
            self.steer,
        ]
    }

    /// Wire and catheter fed by the same length in mm.
    #[must_use]
    pub fn together(feed_mm: f64) -> Self {
        Self {
            feed_wire: feed_mm,
            feed_catheter: feed_mm,
            ..Self::default()
        }
    }

    /// The same movement, larger or smaller by a factor.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        let [feed_wire, turn_wire, feed_catheter, turn_catheter, steer] =
            self.all().map(|v| v * factor);
        Self {
            feed_wire,
            turn_wire,
            feed_catheter,
            turn_catheter,
            steer,
        }
    }

    /// Whether nothing is moved.
    #[must_use]
    pub fn is_still(self) -> bool {
        self.all().iter().all(|v| v.abs() <= 0.0)
    }

    fn feeds(self) -> [f64; 2] {
        [self.feed_wire, self.feed_catheter]
    }

    fn turns(self) -> [f64; 2] {
        [self.turn_wire, self.turn_catheter]
    }

    /// Share of `last` that this step is where it goes on with the same movement.
    pub(in crate::solve) fn share_of(self, last: Self) -> Option<f64> {
        let dot = |a: [f64; 5], b: [f64; 5]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
        let (a, b) = (self.all(), last.all());
        let share = dot(a, b) / dot(b, b);
        let off: f64 = (0..5).map(|k| (a[k] - share * b[k]).abs()).sum();
        let size: f64 = a.iter().map(|v| v.abs()).sum();
        (share > 0.0 && off < 1e-9 * size).then_some(share)
    }
}

/// How both devices stand in the guide at the beginning.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PairStart {
    /// Length of wire outside the guide in mm.
    pub wire_mm: f64,
    /// Length of catheter outside the guide in mm; at least two edges are taken.
    pub catheter_mm: f64,
    /// Greatest length of either that will ever be outside, in mm.
    pub longest_mm: f64,
    /// Roll of the wire in rad, positive right-handed about the forward direction.
    pub wire_roll_rad: f64,
    /// Roll of the catheter in rad.
    pub catheter_roll_rad: f64,
}

/// What the hands feel: forces in mN and moments in mN mm, positive against a resistance.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Reactions {
    /// Push force on the wire and on the catheter.
    pub push: [f64; 2],
    /// Torque on the wire and on the catheter.
    pub torque: [f64; 2],
    /// Moment that holds the catheter's steered angle.
    pub steer: f64,
}

/// A wire and a catheter over it in a guide and a lumen.
#[derive(Clone)]
pub struct Telescope<'a> {
    /// Rod, wall and supports.
    pub body: Pair<'a>,
    layout: Layout,
    guide_tip: GuideTip,
    settings: StepSettings,
    pub(in crate::solve) newton: Newton<13>,
    pub(in crate::solve) options: NewtonOptions,
    /// Angles of the two hands since the start.
    turned: [f64; 2],
    reactions: Reactions,
    last: LastStep,
    pub(in crate::solve) balance: EnergyBalance,
    /// Least time that a step takes, in s.
    pub(in crate::solve) pace_s: f64,
}

impl<'a> Telescope<'a> {
    /// Both devices as `start` says, let go to their equilibrium there, in a lumen with that wall; a
    /// number is the stiffness of its foundation in mN/mm².
    ///
    /// # Errors
    /// [`Unresolved`] if no equilibrium is found from there.
    pub fn new(
        (wire, catheter): (&Wire, &Catheter),
        lumen: &'a dyn Lumen,
        wall: impl Into<Wall>,
        guide_tip: GuideTip,
        settings: StepSettings,
        start: PairStart,
    ) -> Result<Self, Unresolved> {
        let outside = [start.wire_mm, start.catheter_mm];
        let layout = Layout::new(wire, catheter, settings.edge_mm, outside, start.longest_mm);
        let rod = straight_rod(
            &layout,
            &guide_tip,
            [start.wire_roll_rad, start.catheter_roll_rad],
        );
        let of_wire = settings.surface(wire, wall.into());
        let mut contact = Contact::new(lumen, of_wire.clone(), &rod, 0, false);
        contact.cover = Surface {
            radius: catheter.radius_mm(),
            friction: catheter.friction(),
            ..of_wire
        };
        contact.lay(&layout.lengths(), layout.ahead, &vec![None; layout.exit]);
        let mut body = Body::new(rod).with_contact(contact);
        body.update = Update::FromLastNode;
        let mut telescope = Self {
            body,
            layout,
            guide_tip,
            settings,
            newton: Newton::empty(),
            options: settings.newton(wire),
            turned: [0.0; 2],
            reactions: Reactions::default(),
            last: LastStep::default(),
            balance: EnergyBalance::default(),
            pace_s: LEAST_STEP_S,
        };
        telescope.take_shape()?;
        telescope.balance.hand = telescope.stored();
        Ok(telescope)
    }

    /// Lets the catheter's tip, straight at first, take its bend in small parts.
    fn take_shape(&mut self) -> Result<(), Unresolved> {
        let angle = self.layout.catheter.angle_rad();
        for part in 0..=16 {
            let share = f64::from(part) / 16.0;
            self.layout.catheter = self.layout.catheter.clone().bent(share * angle);
            self.layout.renew(&mut self.body.rod);
            self.step(Hands::default(), 0)?;
            if angle.abs() <= 0.0 {
                break;
            }
        }
        self.balance = EnergyBalance::default();
        Ok(())
    }

    /// Ties exit and guide node down, and the rotations of a device where it is not there.
    fn support(&mut self) {
        let exit = self.layout.exit;
        let rod = &self.body.rod;
        let first_of = |layer: usize| {
            (1..=exit)
                .find(|&i| rod.layer(layer, i).is_present())
                .map_or(exit, |i| i - 1)
        };
        let absent: Vec<usize> = ROTATIONS
            .into_iter()
            .enumerate()
            .flat_map(|(layer, k)| (0..first_of(layer)).map(move |i| 5 * i + k))
            .collect();
        self.body.fixed = absent;
        self.body.springs.clear();
        self.body.rigid_end = self.guide_tip.backup.is_some();
        if let Some(backup) = self.guide_tip.backup {
            self.body.springs.push(Spring {
                node: exit,
                anchor: self.guide_tip.exit,
                stiffness: self.guide_tip.backup_matrix(backup),
            });
        } else {
            self.body.fix_node(exit);
        }
        self.body.fix_rotation(exit);
        self.body.fix_node(exit + 1);
    }

    /// Moves the hands, in steps.
    ///
    /// # Errors
    /// [`Unresolved`]; the devices are left at the last equilibrium.
    pub fn move_hands(&mut self, hands: Hands) -> Result<(), Unresolved> {
        let largest = |values: [f64; 2]| values[0].abs().max(values[1].abs());
        let parts = (largest(hands.feeds()) / self.settings.feed_mm)
            .max(largest(hands.turns()) / self.settings.turn_rad)
            .max(hands.steer.abs() / STEER_RAD);
        equal_parts(1.0, 1.0 / parts.max(1.0))
            .try_for_each(|share| self.step(hands.times(share), self.settings.halvings))
    }

    /// One step, halved as often as allowed.
    fn step(&mut self, hands: Hands, halvings: u32) -> Result<(), Unresolved> {
        let before = (self.body.clone(), self.layout.clone(), self.turned);
        match self.advance(hands, halvings) {
            Ok(()) => Ok(()),
            Err(unresolved) => {
                (self.body, self.layout, self.turned) = before;
                if halvings == 0 {
                    return Err(unresolved);
                }
                self.balance.halved += 1;
                self.step(hands.times(0.5), halvings - 1)?;
                self.step(hands.times(0.5), halvings - 1)
            }
        }
    }

    /// One step as it is, which may be halved so many times more.
    pub(in crate::solve) fn advance(
        &mut self,
        hands: Hands,
        halvings: u32,
    ) -> Result<(), Unresolved> {
        let out = self.set_out(hands);
        let released = self.balance.released;
        let most = |way: [f64; 2]| way[0].abs().max(way[1].abs());
        let (feed, turn) = (most(hands.feeds()), most(hands.turns()));
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
        self.arrive(hands, &out);
        if self.balance.released > released {
            self.last.forget();
        }
        Ok(())
    }

    /// Takes note of a search that failed.
    pub(in crate::solve) fn unresolved(&mut self, failure: NewtonFailure) -> Unresolved {
        self.balance.iterations += failure.iterations();
        Unresolved {
            outside_mm: self.layout.wire_outside,
            failure,
        }
    }

    /// Beginning of a step: the boundary moves and the rod follows. Returns the direction in which
    /// the wire leaves the catheter.
    pub(in crate::solve) fn set_out(&mut self, hands: Hands) -> Vector3<f64> {
        let feeds = hands.feeds();
        self.layout.remesh(&mut self.body, feeds);
        self.body.begin();
        let seconds = (feeds[0].abs().max(feeds[1].abs()) / self.settings.speed_mm_per_s)
            .max(hands.turn_wire.abs().max(hands.turn_catheter.abs()) / std::f64::consts::PI)
            .max(self.pace_s);
        self.body.pass(seconds, self.settings.drag);
        if hands.steer.abs() > 0.0 {
            let angle = self.layout.catheter.angle_rad() + hands.steer;
            self.layout.catheter = self.layout.catheter.clone().bent(angle);
        }
        self.layout.lengthen(&mut self.body, feeds);
        self.support();
        for (turned, turn) in self.turned.iter_mut().zip(hands.turns()) {
            *turned += turn;
        }
        let ahead = self.layout.ahead;
        let out = -self.body.rod.tangent(ahead.max(1) - 1);
        self.last.guess(
            &mut self.body.rod,
            &self.layout,
            hands,
            &self.guide_tip.axis,
        );
        let inflow = Some((self.layout.exit, self.guide_tip.axis * feeds[1]));
        let slip = (ahead > 0).then(|| (ahead, out * (feeds[0] - feeds[1])));
        for contact in self.body.contacts_mut() {
            (contact.inflow, contact.slip) = (inflow, slip);
        }
        out
    }

    /// End of a step in equilibrium, in which the wire left the catheter in the direction `out`:
    /// settles friction and reads what the hands feel.
    pub(in crate::solve) fn arrive(&mut self, hands: Hands, out: &Vector3<f64>) {
        let now = self.measured_reactions(out);
        self.balance.hand += self.work(&now, hands);
        self.reactions = now;
        let start = self.body.start();
        self.last.note(hands, &self.layout, &self.body.rod, start);
        let losses = self.body.settle();
        self.balance.lose(&losses);
        self.layout.keep_flow(&self.body.rod);
        self.balance.steps += 1;
        self.balance.contacts += self.body.active_contacts();
    }
}

/// The rod at rest, straight along the guide's axis.
fn straight_rod(layout: &Layout, guide_tip: &GuideTip, rolls: [f64; 2]) -> Rod<5> {
    let stations = layout.stations();
    let nodes: Vec<_> = stations
        .iter()
        .map(|x| guide_tip.exit + guide_tip.axis * (stations[layout.exit] - x))
        .collect();
    let (edges, hinges, cover) = layout.rest();
    let mut rod = Rod::covered(&nodes, edges, hinges, cover, guide_tip.reference());
    for i in 0..nodes.len() - 1 {
        for (k, roll) in ROTATIONS.into_iter().zip(rolls) {
            rod.q[5 * i + k] = -roll;
        }
    }
    rod.refresh();
    rod
}
