//! The rod of a wire and a support catheter over it: constructor, the beginning of a step.
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
//! spinning. The wire rubs in the catheter's bore ([`super::bore`]). Left out: what the play of the bore
//! does to the shape; it counts in the forces that press the wire against the bore.

mod around;
mod flow;
mod guess;
mod layout;
mod port;
mod pressed;
mod reactions;
mod readings;

use nalgebra::Vector3;

use self::guess::LastStep;
pub(super) use self::layout::PairLayout;
pub use self::port::SidePort;
pub(super) use self::port::{PortPose, Seat};
use super::balance::{EnergyBalance, Unresolved};
use super::body::Body;
use super::bore::{Bore, Fit, ROTATIONS};
use super::core_flow::{CoreFlow, CoreSpan};
use super::guided::{GuidedRod, Layout, Readings, Repeat, RodState};
use super::hands::{Hands, Reactions};
use super::search::NewtonFailure;
use super::settings::{GuideTip, StepSettings};
use crate::contact::{Contact, Surface, WalledLumen};
use crate::device::{Catheter, Wire};
use crate::rod::{Hinge, Rod};

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

/// The rod of a wire and a catheter over it.
pub(super) type PairRod<'a> = GuidedRod<'a, PairLayout, 5, 13>;
/// What a step changes of it.
pub(super) type PairState<'a> = RodState<'a, PairLayout, 5, 13>;

impl<'a> PairRod<'a> {
    /// Both devices as `start` says, let go to their equilibrium there.
    ///
    /// # Errors
    /// [`Unresolved`] if no equilibrium is found from there.
    pub(super) fn straight(
        (wire, catheter): (&Wire, &Catheter),
        WalledLumen { lumen, wall }: WalledLumen<'a>,
        guide_tip: GuideTip,
        settings: StepSettings,
        start: PairStart,
        balance: &mut EnergyBalance,
    ) -> Result<Self, Unresolved> {
        let outside = [start.wire_mm, start.catheter_mm];
        let layout = PairLayout::new(wire, catheter, settings.edge_mm, outside, start.longest_mm);
        let rolls = [start.wire_roll_rad, start.catheter_roll_rad];
        let rod = straight_rod(&layout, &guide_tip, rolls);
        let of_wire = settings.surface(wire, wall);
        let mut contact = Contact::new(lumen, of_wire.clone(), &rod, 0, false);
        contact.cover = Surface {
            radius: catheter.radius_mm(),
            friction: catheter.friction(),
            ..of_wire
        };
        contact.lay(&layout.lengths(), layout.ahead, &vec![None; layout.exit]);
        let mut body = Body::new(rod).with_contact(contact);
        body.bore = fit(wire, catheter).map(Bore::new);
        let mut pair = Self::new(body, layout, guide_tip, settings);
        pair.take_shape(balance)?;
        *balance = EnergyBalance {
            hand: pair.stored(),
            ..EnergyBalance::default()
        };
        Ok(pair)
    }

    /// Lets the catheter's tip, straight at first, take its bend in small parts.
    fn take_shape(&mut self, balance: &mut EnergyBalance) -> Result<(), Unresolved> {
        let angle = self.layout.catheter.angle_rad();
        for part in 0..=16 {
            let share = f64::from(part) / 16.0;
            self.layout.bend_catheter(share * angle);
            self.layout.renew(&mut self.body.rod);
            self.advance(Hands::default(), 0, balance)?;
            if angle.abs() <= 0.0 {
                break;
            }
        }
        Ok(())
    }
}

/// A step of both devices that has set out.
pub(super) struct PairStep {
    hands: Hands,
    /// Direction in which the wire leaves the catheter.
    out: Vector3<f64>,
}

impl Layout<5, 13> for PairLayout {
    type Way = PairStep;
    type LastStep = LastStep;

    fn exit(&self) -> usize {
        self.exit
    }
    fn stations(&self) -> &[f64] {
        &self.stations
    }
    fn wire(&self) -> &Wire {
        &self.wire
    }
    fn wire_outside_mm(&self) -> f64 {
        self.wire_outside
    }
    fn along_wire(&self, x_mm: f64) -> f64 {
        x_mm + self.bare() - self.lead()
    }
    fn diameters(&self) -> Vec<f64> {
        let (bare, covered) = (self.ahead, self.exit + 1 - self.ahead);
        let mut out = vec![2.0 * self.catheter.radius_mm(); covered];
        out.resize(covered + bare, 2.0 * self.wire.radius_mm());
        out
    }
    fn held_straight(&self) -> f64 {
        self.wire.stored_shape_energy_beyond(self.wire_outside)
            + self.flow.held_beyond(&self.wire, self.wire_outside)
            + self
                .catheter
                .stored_shape_energy_beyond(self.catheter_outside)
    }
    fn flow(&self) -> &CoreFlow {
        &self.flow
    }
    fn flow_mut(&mut self) -> &mut CoreFlow {
        &mut self.flow
    }
    fn core_span(&self, i: usize, hinge: &Hinge) -> Option<CoreSpan> {
        self.wire_span(i, hinge)
    }
    fn absent(&self, rod: &Rod<5>) -> Vec<usize> {
        let exit = self.exit;
        let first_of = |layer: usize| {
            (1..=exit)
                .find(|&i| rod.layer(layer, i).is_present())
                .map_or(exit, |i| i - 1)
        };
        ROTATIONS
            .into_iter()
            .enumerate()
            .flat_map(|(layer, k)| (0..first_of(layer)).map(move |i| 5 * i + k))
            .collect()
    }

    fn set_out(pair: &mut PairRod<'_>, hands: Hands) -> PairStep {
        let feeds = hands.feeds();
        pair.layout.remesh(&mut pair.body, feeds);
        pair.layout.lay_bore(&mut pair.body);
        pair.body.begin();
        pair.pass(hands);
        if hands.steer.abs() > 0.0 {
            let angle = pair.layout.catheter.angle_rad() + hands.steer;
            pair.layout.bend_catheter(angle);
        }
        pair.layout.lengthen(&mut pair.body, feeds);
        pair.support();
        for (turned, turn) in pair.turned.iter_mut().zip(hands.turns()) {
            *turned += turn;
        }
        let ahead = pair.layout.ahead;
        let out = -pair.body.rod.tangent(ahead.max(1) - 1);
        let axis = pair.guide_tip.axis;
        pair.last
            .guess(&mut pair.body.rod, &pair.layout, hands, &axis);
        let inflow = Some((pair.layout.exit, axis * feeds[1]));
        let slip = (ahead > 0).then(|| (ahead, out * (feeds[0] - feeds[1])));
        for contact in pair.body.contacts_mut() {
            (contact.inflow, contact.slip) = (inflow, slip);
        }
        if let Some(bore) = &mut pair.body.bore {
            bore.slide(feeds[0] - feeds[1]);
        }
        PairStep { hands, out }
    }
    fn rub(pair: &mut PairRod<'_>, repeat: &mut Repeat) -> Result<bool, NewtonFailure> {
        pair.rub(repeat)
    }
    fn hands(way: &PairStep) -> Hands {
        way.hands
    }
    fn measured(pair: &PairRod<'_>, way: &PairStep) -> Reactions {
        let [wire, catheter] = way.hands.feeds();
        pair.measured_reactions(wire - catheter, &way.out)
    }
    fn note(pair: &mut PairRod<'_>, way: &PairStep) {
        let start = pair.body.start();
        pair.last
            .note(way.hands, &pair.layout, &pair.body.rod, start);
    }
}

/// How the wire fits into the catheter's bore; none where it does not rub there.
fn fit(wire: &Wire, catheter: &Catheter) -> Option<Fit> {
    let friction = catheter.friction_inside();
    (friction > 0.0).then(|| Fit {
        friction,
        play_mm: (catheter.bore_radius_mm() - wire.radius_mm()).max(0.0),
        radius_mm: wire.radius_mm(),
    })
}

/// The rod at rest, straight along the guide's axis.
fn straight_rod(layout: &PairLayout, guide_tip: &GuideTip, rolls: [f64; 2]) -> Rod<5> {
    let stations = &layout.stations;
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
