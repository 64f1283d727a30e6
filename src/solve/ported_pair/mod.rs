//! A catheter with two lumens: it rides over a first wire that lies in the vessel, and a second
//! wire leaves it through a side port.
//!
//! Catheter and first wire are a [`PairRod`]; the second wire is a [`WireRod`] whose guide is the
//! port. Both are brought to one equilibrium at once (see [`coupled_solve`]). Behind the port the
//! second wire runs in the catheter and adds its bending stiffness. Outside it touches the catheter
//! and the first wire, which it presses aside, with friction.
//!
//! The second wire turns freely in the catheter: its hand's rotation is carried along the catheter
//! without twist, and its torque goes on to its own hand; the catheter carries only the moment
//! that is lost at the bend into the port. That and the rotation are found by repeated searches, of which the
//! second is seldom needed. Left out: friction of the second wire inside its lumen; the first one rubs in
//! the catheter as that of a pair does.

mod coupled_solve;
mod fold;
mod readings;
mod sliding;
#[cfg(test)]
mod tests;

use nalgebra::Vector3;

use self::coupled_solve::{CoupledSolve, Memory};
use super::balance::{EnergyBalance, Unresolved};
use super::core_flow::CoreFlow;
use super::guided::{GUIDE_EDGE_MM, LEAST_STEP_S, Layout, Repeat};
use super::hands::Hands;
use super::pair_rod::{PairLayout, PairRod, PortPose, Seat, SidePort};
use super::release::Relaxation;
use super::settings::{GuideTip, Start, StepSettings, TURN_RAD_PER_S};
use super::wire_rod::{Turn, WireRod};
use crate::contact::{AdjacentContact, WalledLumen};
use crate::device::Wire;

/// Length outside the port in mm below which the second wire counts as inside the catheter.
const INSIDE_BELOW_MM: f64 = 1.0;
/// Play in mm between the second wire and the catheter where it leaves the port.
const PLAY_MM: f64 = 0.02;
/// Length of catheter inside the guide beside which a wire may lie, in mm.
const IN_GUIDE_MM: f64 = 60.0;
/// Searches for the equilibrium of one step at most, and the turn of the wire in rad and the moment
/// of the corner in mN mm that need no further one.
const SEARCHES: u32 = 4;
const TURNED_RAD: f64 = 1e-3;
const CORNER_MN_MM: f64 = 1e-2;

/// The second wire and where it runs.
#[derive(Clone)]
pub struct Second<'a> {
    /// The wire.
    pub wire: Wire,
    /// Roll in rad, positive right-handed about the forward direction.
    pub roll_rad: f64,
    /// Where it leaves the catheter.
    pub port: SidePort,
    /// Where it runs; the devices press on each other by the law of the wall there.
    pub lumen: WalledLumen<'a>,
    /// Greatest length that will ever be outside the port, in mm.
    pub longest_mm: f64,
    /// Settings of the steps.
    pub settings: StepSettings,
}

/// A dual-lumen catheter on its first wire, with a second wire in it.
#[derive(Clone)]
pub(super) struct PortedPair<'a> {
    pub carrier: PairRod<'a>,
    pub second: Second<'a>,
    /// The part of the second wire outside the port.
    pub out: Option<WireRod<'a>>,
    /// What the core of the second wire has flowed, where all of it is inside.
    kept: CoreFlow,
    adjacent: AdjacentContact,
    obstacles: Vec<WalledLumen<'a>>,
    /// Length of the second wire outside the port in mm; negative where its tip is inside.
    bare_mm: f64,
    hand_rad: f64,
    memory: Memory,
    /// Whether the first wire moves with the catheter; otherwise it is held.
    pub first_moves: bool,
    /// How far the last step of both ended from where it was expected, in mm. The guess follows neither the
    /// carrier nor the port, and is off by a steady way where they move.
    usual_off_mm: f64,
}

/// What a step changes of the devices, with what their solvers have learnt about shifts: a step that
/// was taken back leaves nothing behind.
pub(super) struct PortedState<'a> {
    carrier: PairRod<'a>,
    out: Option<WireRod<'a>>,
    kept: CoreFlow,
    bare_mm: f64,
    hand_rad: f64,
    usual_off_mm: f64,
}

impl<'a> PortedPair<'a> {
    /// The second wire inside the catheter of `carrier`, its tip `inside_mm` (0 or more) behind the
    /// port.
    pub(super) fn new(mut carrier: PairRod<'a>, second: Second<'a>, inside_mm: f64) -> Self {
        carrier.carry(&second.wire, second.port, -inside_mm);
        carrier.judge_by_catheter();
        let wall = second.lumen.wall.clone();
        let surface = second.settings.surface(&second.wire, wall);
        Self {
            carrier,
            adjacent: AdjacentContact::new(surface),
            kept: CoreFlow::of(&second.wire),
            second,
            out: None,
            obstacles: Vec::new(),
            bare_mm: -inside_mm,
            hand_rad: 0.0,
            memory: Memory::default(),
            first_moves: false,
            usual_off_mm: 0.0,
        }
    }

    /// Puts something into the lumen; `around` is the space around it.
    pub(super) fn obstruct(&mut self, around: WalledLumen<'a>) {
        self.obstacles.push(around.clone());
        self.carrier.obstruct(&around);
        if let Some(wire) = &mut self.out {
            wire.obstruct(around);
        }
    }

    /// Has another wire, with a roll in rad, in the place of the second one, whose tip is inside.
    pub(super) fn take_wire(&mut self, wire: &Wire, roll_rad: f64) {
        self.second.wire = wire.clone();
        self.kept = CoreFlow::of(wire);
        self.second.roll_rad = roll_rad - self.hand_rad;
        self.adjacent.surface.friction = wire.friction();
    }

    /// The present state.
    pub(super) fn state(&self) -> PortedState<'a> {
        PortedState {
            carrier: self.carrier.clone(),
            out: self.out.clone(),
            kept: self.kept.clone(),
            bare_mm: self.bare_mm,
            hand_rad: self.hand_rad,
            usual_off_mm: self.usual_off_mm,
        }
    }

    /// Takes a state back.
    pub(super) fn restore(&mut self, state: PortedState<'a>) {
        (self.carrier, self.out) = (state.carrier, state.out);
        self.kept = state.kept;
        (self.bare_mm, self.hand_rad) = (state.bare_mm, state.hand_rad);
        self.usual_off_mm = state.usual_off_mm;
    }

    /// One step as it is, which may be halved so many times more.
    ///
    /// # Errors
    /// [`Unresolved`]; the devices are left anywhere.
    pub(super) fn advance(
        &mut self,
        hands: Hands,
        halvings: u32,
        balance: &mut EnergyBalance,
    ) -> Result<(), Unresolved> {
        let feed_wire = if self.first_moves {
            hands.feed_catheter
        } else {
            0.0
        };
        let of_catheter = Hands {
            feed_wire,
            turn_wire: 0.0,
            ..hands
        };
        let settings = &self.second.settings;
        let (fed, turned) = extent(&hands);
        let pace_s = (fed / settings.speed_mm_per_s)
            .max(turned / TURN_RAD_PER_S)
            .max(hands.wait_s);
        self.carrier.pace_s = pace_s.max(LEAST_STEP_S);
        self.hand_rad += hands.turn_wire;
        let feed = come_out_by(&hands);
        self.bare_mm += feed;
        self.carrier.carry_on(self.second.port, self.bare_mm);
        if self.bare_mm < INSIDE_BELOW_MM {
            return self.advance_inside(of_catheter, halvings, balance);
        }
        if self.out.is_some() {
            return self.advance_both(of_catheter, feed, halvings, balance);
        }
        self.carrier.advance(of_catheter, halvings, balance)?;
        let pose = self.pose();
        let director = self.director(&pose);
        self.out = Some(self.come_out(self.guide_tip(&pose), &director, balance)?);
        self.advance_both(Hands::default(), 0.0, halvings, balance)
    }

    /// A step at whose end the second wire lies inside the catheter.
    fn advance_inside(
        &mut self,
        of_catheter: Hands,
        halvings: u32,
        balance: &mut EnergyBalance,
    ) -> Result<(), Unresolved> {
        if let Some(wire) = self.out.take() {
            self.kept = wire.layout.flow;
            self.carrier.body.loads.clear();
        }
        self.carrier.advance(of_catheter, halvings, balance)
    }

    /// A step of catheter and wire in which `feed` mm of wire come out of the port.
    fn advance_both(
        &mut self,
        of_catheter: Hands,
        feed: f64,
        halvings: u32,
        balance: &mut EnergyBalance,
    ) -> Result<(), Unresolved> {
        let Some(mut wire) = self.out.take() else {
            return Ok(());
        };
        let way = PairLayout::set_out(&mut self.carrier, of_catheter);
        let devices = self.carrier.devices(of_catheter.feed_catheter, IN_GUIDE_MM);
        self.adjacent.begin(devices, self.carrier.body.start());
        let seat = self.seat();
        let mut pose = self.pose();
        wire.pace_s = self.carrier.pace_s;
        let (guide_tip, to) = (self.guide_tip(&pose), Turn::To(self.director(&pose)));
        let mut hand = wire.set_out_to((feed, 0.0), guide_tip, to);
        let options = self.carrier.options.last_resort(halvings == 0);
        let demands = self
            .second
            .settings
            .demands(halvings)
            .beside(self.usual_off_mm);
        let released = balance.released;
        let mut first_off_mm = 0.0;
        let (mut corner, mut torque) = (Vector3::zeros(), wire.reactions.torque[0]);
        let mut repeat = Repeat::default();
        let mut rubs = false;
        let mut search = 0;
        loop {
            let now = (pose.forward - pose.axis) * torque;
            let turn = wire.turn_to(&self.director(&pose));
            let is_last = (now - corner).norm() < CORNER_MN_MM && turn.abs() < TURNED_RAD;
            if search > 0 && (is_last || search >= SEARCHES) && !rubs {
                break;
            }
            if search > 0 {
                hand.turn += turn;
                wire.turn_all(turn);
            }
            corner = now;
            let load = seat.couple(&self.carrier.body.rod, &corner);
            self.carrier.body.loads = seat.loads(&load);
            let found = CoupledSolve {
                carrier: &mut self.carrier,
                wire: &mut wire,
                adjacent: &mut self.adjacent,
                seat,
                memory: &mut self.memory,
                options,
            }
            .come_to_rest(&options, demands, balance);
            let found = found.and_then(|off_mm| {
                rubs = PairLayout::rub(&mut self.carrier, &mut repeat)?;
                Ok(off_mm)
            });
            match found {
                Ok(off_mm) if search == 0 => first_off_mm = off_mm,
                Ok(_) => {}
                Err(failure) => {
                    let unresolved = wire.unresolved(failure, balance);
                    self.out = Some(wire);
                    return Err(unresolved);
                }
            }
            torque = wire.at_hand().1;
            pose = self.pose();
            search += 1;
        }
        if let Some(wall) = &mut wire.body.contact {
            let (q, devices) = (&wire.body.rod.q, &self.carrier.body.rod.q);
            balance.friction += self.adjacent.settle(wall, q, devices);
        }
        wire.stand_at(self.guide_tip(&pose));
        balance.contacts += self.adjacent.pairs().len() as u64;
        self.usual_off_mm = first_off_mm;
        wire.arrive(&hand, first_off_mm, balance);
        self.carrier.arrive(&way, first_off_mm, balance);
        if balance.released > released {
            wire.forget_last_step();
            self.carrier.forget_last_step();
        }
        self.out = Some(wire);
        Ok(())
    }

    fn seat(&self) -> Seat {
        self.carrier
            .seat(self.second.port, self.off_axis_mm(), GUIDE_EDGE_MM)
    }

    fn pose(&self) -> PortPose {
        self.carrier.pose(&self.seat())
    }

    /// The wire's tip as it comes out of the port.
    fn come_out(
        &self,
        guide_tip: GuideTip,
        director: &Vector3<f64>,
        balance: &mut EnergyBalance,
    ) -> Result<WireRod<'a>, Unresolved> {
        let second = &self.second;
        let start = Start {
            outside_mm: self.bare_mm,
            longest_mm: second.longest_mm,
            roll_rad: roll_of(&guide_tip, director),
        };
        let mut own = EnergyBalance::default();
        let mut wire = WireRod::straight(
            &second.wire,
            second.lumen.clone(),
            guide_tip,
            second.settings,
            (start, self.kept.clone()),
            &mut own,
        )?;
        balance.add(&own);
        self.surround(&mut wire);
        Ok(wire)
    }

    /// Lets the wire touch what lies in the lumen.
    fn surround(&self, wire: &mut WireRod<'a>) {
        for around in &self.obstacles {
            wire.obstruct(around.clone());
        }
    }

    /// The port as the second wire's guide.
    fn guide_tip(&self, pose: &PortPose) -> GuideTip {
        GuideTip {
            exit: pose.opening,
            axis: pose.axis,
            backup: None,
        }
    }

    /// Distance in mm of the second wire's axis from the catheter's where it lies on it.
    fn off_axis_mm(&self) -> f64 {
        self.carrier.catheter_radius_mm() + self.second.wire.radius_mm() + PLAY_MM
    }

    /// First director of the second wire at the port.
    fn director(&self, pose: &PortPose) -> Vector3<f64> {
        let angle = self.second.roll_rad + self.hand_rad;
        pose.unturned * angle.cos() + pose.axis.cross(&pose.unturned) * angle.sin()
    }
}

/// Length of wire in mm that these movements bring out of the port.
fn come_out_by(hands: &Hands) -> f64 {
    hands.feed_wire - hands.feed_catheter
}

/// Largest length in mm and largest angle in rad of these movements.
pub(super) fn extent(hands: &Hands) -> (f64, f64) {
    (
        come_out_by(hands).abs().max(hands.feed_catheter.abs()),
        hands.turn_wire.abs().max(hands.turn_catheter.abs()),
    )
}

/// Roll in rad that brings a wire's first director there in a channel that it enters straight.
fn roll_of(guide_tip: &GuideTip, director: &Vector3<f64>) -> f64 {
    let start = guide_tip.reference();
    let square = start - guide_tip.axis * start.dot(&guide_tip.axis);
    let square = square.normalize();
    director
        .dot(&guide_tip.axis.cross(&square))
        .atan2(director.dot(&square))
}
