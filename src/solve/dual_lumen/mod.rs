//! A catheter with two lumens: it rides over a first wire that lies in the vessel, and a second
//! wire leaves it through a side port.
//!
//! Catheter and first wire are a [`Telescope`]; the second wire is an [`Insertion`] whose guide is
//! the port. Both are brought to one equilibrium by turns: the catheter under the force and moment
//! of the second wire, then the second wire out of the port where that has gone, until the force
//! no longer changes. The catheter's search knows by how much the wire's force answers a movement
//! of the port, without which the turns would diverge where the wire is the stiffer of the two
//! (Robin-type coupling; Badia, Nobile and Vergara, *J. Comput. Phys.* 227:7027, 2008, from
//! memory). Behind the port the second wire runs in the catheter and adds its bending stiffness.
//!
//! The second wire touches the outside of the catheter and of the first wire. Left out: what that
//! touch does to them, its friction, and friction inside the lumens.

mod carried;
mod course;
mod fold;
mod readings;

use self::course::Course;
use super::insertion::{Insertion, LEAST_STEP_S, Ledger, Unresolved};
use super::newton::NewtonFailure;
use super::settings::{Channel, Start, StepSettings, equal_parts};
use super::telescope::{Hands, PortLoad, PortPose, SidePort, Telescope};
use crate::device::Wire;
use crate::vessel::{Lumen, Strand};
use nalgebra::Vector3;

/// Length outside the port in mm below which the second wire counts as inside the catheter.
const INSIDE_BELOW_MM: f64 = 1.0;
/// Play in mm between the second wire and the catheter where it leaves the port.
const PLAY_MM: f64 = 0.02;
/// How much stiffer than the vessel's wall two devices are where they touch.
const STIFFER: f64 = 1.0;
/// Length of catheter inside the guide beside which a wire may lie, in mm.
const IN_GUIDE_MM: f64 = 60.0;
/// Turns between catheter and wire in one step at most.
const TURNS: u32 = 16;
/// Steps in a row at the end of which the two may disagree.
const RELEASED_STEPS: u32 = 20;
/// How often a step is halved in which catheter and wire find no common equilibrium.
const HALVINGS: u32 = 3;
/// Share of the difference of the turn before above which wire and catheter do not come together.
const APART: f64 = 0.8;
/// Stiffness by which the port is held back then, as a share of the wire's own: least, greatest.
const HOLD: (f64, f64) = (0.25, 2.0);
/// Change of the port's force in mN, and as a share of it, that ends the turns.
const SETTLED_MN: f64 = 0.01;
const SETTLED_SHARE: f64 = 0.02;

/// The second wire and where it runs.
pub struct Second<'a> {
    /// The wire.
    pub wire: Wire,
    /// Roll in rad, positive right-handed about the forward direction.
    pub roll_rad: f64,
    /// Where it leaves the catheter.
    pub port: SidePort,
    /// The lumen and the stiffness of its wall's foundation in mN/mm².
    pub wall: (&'a dyn Lumen, f64),
    /// Where the catheter and the first wire are laid, for the second to touch.
    pub beside: &'a Strand,
    /// Greatest length that will ever be outside the port, in mm.
    pub longest_mm: f64,
    /// Settings of the steps.
    pub settings: StepSettings,
}

/// A dual-lumen catheter on its first wire, with a second wire in it.
pub struct DualLumen<'a> {
    carrier: Telescope<'a>,
    second: Second<'a>,
    /// The part of the second wire outside the port.
    out: Option<Insertion<'a>>,
    obstacles: Vec<(&'a dyn Lumen, f64)>,
    /// Length of the second wire outside the port in mm; negative where its tip is inside.
    bare_mm: f64,
    hand_rad: f64,
    load: Option<PortLoad>,
    course: Course,
    /// Steps in a row at whose end wire and catheter disagreed.
    released: u32,
    /// Time that the present step takes, in s.
    pace_s: f64,
    ledger: Ledger,
    /// Work and losses of the lengths of second wire that have gone back inside.
    gone: Ledger,
}

impl<'a> DualLumen<'a> {
    /// The second wire inside the catheter of `carrier`, its tip `inside_mm` (0 or more) behind the
    /// port.
    #[must_use]
    pub fn new(mut carrier: Telescope<'a>, second: Second<'a>, inside_mm: f64) -> Self {
        carrier.carry(&second.wire, second.port, -inside_mm);
        carrier.judge_by_catheter();
        let mut both = Self {
            carrier,
            second,
            out: None,
            obstacles: Vec::new(),
            bare_mm: -inside_mm,
            hand_rad: 0.0,
            load: None,
            course: Course::default(),
            released: 0,
            pace_s: 0.0,
            ledger: Ledger::default(),
            gone: Ledger::default(),
        };
        both.lay();
        both.sum_up();
        both
    }

    /// Puts something into the lumen that yields with a foundation of `stiffness` mN/mm².
    pub fn obstruct(&mut self, around: &'a dyn Lumen, stiffness: f64) {
        self.obstacles.push((around, stiffness));
        self.carrier.obstruct(around, stiffness);
        if let Some(wire) = &mut self.out {
            wire.obstruct(around, stiffness);
        }
    }

    /// Moves the hands, in steps. The first wire is held.
    ///
    /// # Errors
    /// [`Unresolved`]; the devices are left at the last equilibrium.
    pub fn move_hands(&mut self, hands: Hands) -> Result<(), Unresolved> {
        let settings = &self.second.settings;
        let (fed, turned) = extent(&hands);
        let parts = (fed / settings.feed_mm).max(turned / settings.turn_rad);
        equal_parts(1.0, 1.0 / parts.max(1.0)).try_for_each(|share| {
            let moved = self.step(hands.times(share), HALVINGS);
            self.sum_up();
            moved
        })
    }

    /// One step, halved as often as allowed.
    fn step(&mut self, hands: Hands, halvings: u32) -> Result<(), Unresolved> {
        let before = (self.carrier.clone(), self.out.clone(), self.load);
        let (bare_mm, hand_rad, gone) = (self.bare_mm, self.hand_rad, self.gone);
        let moved = self.advance(hands, halvings == 0);
        if moved.is_ok() {
            return moved;
        }
        (self.carrier, self.out, self.load) = before;
        (self.bare_mm, self.hand_rad, self.gone) = (bare_mm, hand_rad, gone);
        self.course = Course::default();
        if halvings == 0 {
            return moved;
        }
        self.step(hands.times(0.5), halvings - 1)?;
        self.step(hands.times(0.5), halvings - 1)
    }

    /// One step as it is. Where wire and catheter do not agree, as while a loop of wire snaps open,
    /// the last try goes on from where they have come to, for a number of steps in a row.
    fn advance(&mut self, hands: Hands, last_try: bool) -> Result<(), Unresolved> {
        let of_catheter = Hands {
            feed_wire: 0.0,
            turn_wire: 0.0,
            ..hands
        };
        self.hand_rad += hands.turn_wire;
        let settings = &self.second.settings;
        let (fed, turned) = extent(&hands);
        self.pace_s = (fed / settings.speed_mm_per_s).max(turned / std::f64::consts::PI);
        self.carrier.pace_s = self.pace_s.max(LEAST_STEP_S);
        let start = (
            self.carrier.clone(),
            self.out.clone(),
            self.bare_mm,
            self.gone,
        );
        let guessed = |load: &PortLoad| PortLoad {
            anchor: None,
            ..*load
        };
        let expected = self.course.expected(hands, self.load.as_ref());
        let mut load = expected.or_else(|| self.load.as_ref().map(guessed));
        let (mut last_apart, mut hold) = (f64::INFINITY, 0.0_f64);
        for left in (0..=TURNS).rev() {
            self.carrier.press(load);
            self.carrier.move_hands(of_catheter)?;
            self.follow(come_out_by(&hands))?;
            let apart = self.answer();
            if apart <= self.enough() {
                break;
            }
            if left == 0 {
                self.released += 1;
                if !last_try || self.released > RELEASED_STEPS {
                    return Err(self.unsettled(apart));
                }
                self.course.note(hands, None);
                return Ok(());
            }
            // Where the two do not come together, the port is let go less far.
            if apart > APART * last_apart {
                hold = (2.0 * hold).clamp(HOLD.0, HOLD.1);
            }
            last_apart = apart;
            load = self.load.map(|new| new.after(load.as_ref(), hold));
            (self.carrier, self.out, self.bare_mm, self.gone) = start.clone();
        }
        self.released = 0;
        self.course.note(hands, self.load.as_ref());
        Ok(())
    }

    /// Looks how the wire answers at the port; by how much that differs from the load under which
    /// the catheter stands, in mN.
    fn answer(&mut self) -> f64 {
        let pose = self.carrier.pose(&self.second.port);
        let answer = self.out.as_mut().map(|wire| wire.answer(&pose));
        self.load = answer.map(|a| self.carrier.load_of(&self.second.port, &a));
        let force = self.load.map_or_else(Default::default, |load| load.force);
        (force - self.carrier.pressed()).norm()
    }

    /// Difference in mN that does not matter.
    fn enough(&self) -> f64 {
        let size = self.load.map_or(0.0, |load| load.force.norm());
        SETTLED_MN + SETTLED_SHARE * size
    }

    /// Wire and catheter found no common equilibrium.
    fn unsettled(&self, apart: f64) -> Unresolved {
        Unresolved {
            outside_mm: self.bare_mm,
            failure: NewtonFailure::Apart {
                turns: TURNS,
                apart,
            },
        }
    }

    /// The second wire follows the port, `feed` mm more of it outside.
    fn follow(&mut self, feed: f64) -> Result<(), Unresolved> {
        self.lay();
        let pose = self.carrier.pose(&self.second.port);
        let channel = self.channel(&pose);
        let director = self.director(&pose);
        self.bare_mm += feed;
        if self.bare_mm < INSIDE_BELOW_MM {
            if let Some(wire) = self.out.take() {
                self.gone.add(wire.ledger());
            }
        } else if let Some(wire) = &mut self.out {
            wire.pace_s = self.pace_s.max(LEAST_STEP_S);
            let halvings = self.second.settings.halvings;
            wire.be_carried(channel, feed, director, halvings)?;
        } else {
            self.out = Some(self.come_out(channel, &director)?);
        }
        self.carrier.carry_on(self.second.port, self.bare_mm);
        Ok(())
    }

    /// The wire's tip as it comes out of the port.
    fn come_out(
        &self,
        channel: Channel,
        director: &Vector3<f64>,
    ) -> Result<Insertion<'a>, Unresolved> {
        let second = &self.second;
        let start = Start {
            outside_mm: self.bare_mm,
            longest_mm: second.longest_mm,
            roll_rad: roll_of(&channel, director),
        };
        let (lumen, stiffness) = second.wall;
        let settings = second.settings;
        let mut wire = Insertion::new(&second.wire, lumen, stiffness, channel, settings, start)?;
        self.surround(&mut wire);
        Ok(wire)
    }

    /// Lets the wire touch what lies in the lumen.
    fn surround(&self, wire: &mut Insertion<'a>) {
        wire.touch(self.second.beside, STIFFER * self.second.wall.1, 0.0);
        for (around, stiffness) in &self.obstacles {
            wire.obstruct(*around, *stiffness);
        }
    }

    /// The port as the second wire's guide.
    fn channel(&self, pose: &PortPose) -> Channel {
        Channel {
            exit: pose.foot + pose.outwards * self.off_axis_mm(),
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

    /// Lays catheter and first wire where they are, and the catheter on into the guide.
    fn lay(&self) {
        let mut points = self.carrier.shape();
        let mut diameters = self.carrier.diameters();
        let guide = self.carrier.channel();
        points.insert(0, guide.exit - guide.axis * IN_GUIDE_MM);
        diameters.insert(0, diameters[0]);
        self.second.beside.lay(&points, &diameters);
    }

    fn sum_up(&mut self) {
        let mut sum = *self.carrier.ledger();
        sum.add(&self.gone);
        if let Some(wire) = &self.out {
            sum.add(wire.ledger());
        }
        self.ledger = sum;
    }
}

/// Length of wire in mm that these movements bring out of the port.
fn come_out_by(hands: &Hands) -> f64 {
    hands.feed_wire - hands.feed_catheter
}

/// Largest length in mm and largest angle in rad of these movements.
fn extent(hands: &Hands) -> (f64, f64) {
    (
        come_out_by(hands).abs().max(hands.feed_catheter.abs()),
        hands.turn_wire.abs().max(hands.turn_catheter.abs()),
    )
}

/// Roll in rad that brings a wire's first director there in a channel that it enters straight.
fn roll_of(channel: &Channel, director: &Vector3<f64>) -> f64 {
    let start = channel.reference();
    let square = start - channel.axis * start.dot(&channel.axis);
    let square = square.normalize();
    director
        .dot(&channel.axis.cross(&square))
        .atan2(director.dot(&square))
}
