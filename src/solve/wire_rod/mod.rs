//! The rod of a wire alone: constructors, the beginning of a step, what the hand feels.
//!
//! The rod is numbered from the wire's tip. The push force is the derivative of the incremental
//! potential with respect to the length outside the guide at fixed positions. It contains the force at
//! the exit that has no counterpart in the rod's tension: releasing wire of curvature `k` costs
//! `B k²/2`.
//! Source: Bigoni et al., *Eshelby-like forces acting on elastic structures*, Mech. Mater.
//! 80:368, 2015 (from memory).

mod carried;
mod folded;
mod layout;

pub(super) use self::carried::Turn;
pub use self::folded::FoldedStart;
pub(super) use self::folded::shape_shares;
pub(super) use self::layout::WireLayout;
pub use self::layout::wire_hinge;
use super::balance::{EnergyBalance, Unresolved};
use super::body::Body;
use super::core_flow::{CoreFlow, CoreSpan};
use super::guess::{HandStep, LastStep};
use super::guided::{GuidedRod, Layout, Readings, RodState};
use super::hands::{Hands, Reactions};
use super::settings::{GuideTip, Start, StepSettings};
use crate::contact::{Contact, Surface, WalledLumen};
use crate::device::Wire;
use crate::rod::{Hinge, Rod};

/// The rod of a wire.
pub(super) type WireRod<'a> = GuidedRod<'a, WireLayout, 4, 11>;
/// What a step changes of it.
pub(super) type WireState<'a> = RodState<'a, WireLayout, 4, 11>;

impl<'a> WireRod<'a> {
    /// A wire that stands out of the guide as `start` says and whose core has flowed so before, let go
    /// to its equilibrium there.
    ///
    /// # Errors
    /// [`Unresolved`] if no equilibrium is found from there.
    pub(super) fn straight(
        wire: &Wire,
        lumen: WalledLumen<'a>,
        guide_tip: GuideTip,
        settings: StepSettings,
        (start, flow): (Start, CoreFlow),
        balance: &mut EnergyBalance,
    ) -> Result<Self, Unresolved> {
        let mut layout =
            WireLayout::new(wire, settings.edge_mm, start.outside_mm, start.longest_mm);
        layout.flow = flow;
        let rod = layout.straight_rod(&guide_tip, start.roll_rad);
        let mut out = Self::of(lumen, guide_tip, settings, layout, rod);
        out.advance(Hands::default(), 0, balance)?;
        balance.hand = out.stored();
        Ok(out)
    }

    /// A wire whose rod lies anywhere; not yet in equilibrium.
    fn of(
        WalledLumen { lumen, wall }: WalledLumen<'a>,
        guide_tip: GuideTip,
        settings: StepSettings,
        layout: WireLayout,
        rod: Rod,
    ) -> Self {
        let surface = settings.surface(layout.wire(), wall);
        let contact = Contact::new(lumen, surface, &rod, rod.edges.len() - 1, true);
        let body = Body::new(rod).with_contact(contact);
        Self::new(body, layout, guide_tip, settings)
    }

    /// Puts something into the lumen; `around` is the space around it. The wire feels it from the next
    /// movement on.
    pub(super) fn obstruct(&mut self, around: WalledLumen<'a>) {
        if let Some(wall) = &self.body.contact {
            let surface = Surface {
                wall: around.wall,
                ..wall.surface.clone()
            };
            let rod = &self.body.rod;
            let edges = rod.edges.len() - 1;
            let other = Contact::new(around.lumen, surface, rod, edges, true);
            self.body.others.push(other);
            self.body.begin();
        }
    }

    /// Beginning of a step of `wait_s` s at least: the boundary moves, the guide's end to `guide_tip`, and the
    /// rod follows.
    pub(super) fn set_out_to(
        &mut self,
        (feed, wait_s): (f64, f64),
        guide_tip: GuideTip,
        turn: Turn,
    ) -> HandStep {
        if self.layout.remesh(&mut self.body, feed) {
            self.support();
        }
        self.body.begin();
        let exit = self.layout.exit();
        let carried = guide_tip.exit - self.guide_tip.exit;
        if guide_tip != self.guide_tip {
            self.body.move_guide(exit, &self.guide_tip, &guide_tip);
            self.guide_tip = guide_tip;
        }
        let turn = match turn {
            Turn::Hand(turn) => turn,
            Turn::To(director) => self.turn_to(&director),
        };
        self.pass(Hands {
            turn_wire: turn,
            wait_s,
            ..Hands::feed(feed)
        });
        self.layout.set_outside(&mut self.body, feed);
        self.turned[0] += turn;
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

    /// Push force (mN) and torque (mN mm) at the hand in the present equilibrium.
    pub(super) fn at_hand(&self) -> (f64, f64) {
        let exit = self.layout.exit();
        let friction: f64 = self
            .body
            .contacts()
            .map(|c| c.inflow_force(&self.body.rod, &self.guide_tip.axis))
            .sum();
        let push = self.layout.configurational_force(&self.body.rod) + friction;
        (push, -self.newton.gradient[4 * exit + 3])
    }
}

impl Layout<4, 11> for WireLayout {
    type Way = HandStep;
    type LastStep = LastStep;

    fn exit(&self) -> usize {
        self.stations.len() - 2
    }
    fn stations(&self) -> &[f64] {
        &self.stations
    }
    fn wire(&self) -> &Wire {
        &self.wire
    }
    fn wire_outside_mm(&self) -> f64 {
        self.outside
    }
    fn along_wire(&self, x_mm: f64) -> f64 {
        x_mm
    }
    fn diameters(&self) -> Vec<f64> {
        vec![2.0 * self.wire.radius_mm(); self.exit() + 1]
    }
    fn held_straight(&self) -> f64 {
        let flowed = self.flow.held_beyond(&self.wire, self.outside);
        self.wire.stored_shape_energy_beyond(self.outside) + flowed
    }
    fn flow(&self) -> &CoreFlow {
        &self.flow
    }
    fn flow_mut(&mut self) -> &mut CoreFlow {
        &mut self.flow
    }
    fn core_span(&self, i: usize, hinge: &Hinge) -> Option<CoreSpan> {
        let (a, b) = self.cell(i);
        (1..=self.exit())
            .contains(&i)
            .then(|| CoreSpan::plain(&self.wire, a, b, hinge))
    }
    fn absent(&self, _rod: &Rod) -> Vec<usize> {
        Vec::new()
    }

    fn set_out(rod: &mut WireRod<'_>, hands: Hands) -> HandStep {
        let guide_tip = rod.guide_tip;
        let fed = (hands.feed_wire, hands.wait_s);
        rod.set_out_to(fed, guide_tip, Turn::Hand(hands.turn_wire))
    }
    fn hands(way: &HandStep) -> Hands {
        Hands {
            turn_wire: way.turn,
            ..Hands::feed(way.feed)
        }
    }
    fn measured(rod: &WireRod<'_>, _way: &HandStep) -> Reactions {
        let (push, torque) = rod.at_hand();
        Reactions {
            push: [push, 0.0],
            torque: [torque, 0.0],
            steer: 0.0,
        }
    }
    fn note(rod: &mut WireRod<'_>, way: &HandStep) {
        let material = 4 * rod.layout.exit();
        let start = rod.body.start();
        rod.last.note(*way, &rod.body.rod, start, material);
    }
}
