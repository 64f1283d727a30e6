//! The movement of hands, in steps: each one ends in equilibrium and shows what the forces do, or is taken
//! back and halved.

use super::force_history::StepForces;
use super::{Assembly, Devices};
use crate::solve::balance::{EnergyBalance, Unresolved};
use crate::solve::hands::Hands;
use crate::solve::pair_rod::PairState;
use crate::solve::ported_pair::{self, PortedState};
use crate::solve::settings::{StepSettings, equal_parts};
use crate::solve::wire_rod::WireState;

/// How far a vessel that moves by itself goes near the device from the beginning of a step to its end, in mm
/// at most.
const WALL_MM: f64 = 2.0;
/// Largest change of a steered angle in one step in rad.
const STEER_RAD: f64 = 0.1;

/// All that a step changes.
enum Snapshot<'a> {
    Wire(Box<WireState<'a>>),
    Pair(Box<PairState<'a>>),
    Ported(Box<PortedState<'a>>),
}

impl<'a> Assembly<'a> {
    /// Moves the hands, in steps. A wire alone has no catheter to move; it is fed first and turned then,
    /// and takes no step where it does neither. Several devices make all movements at once, and one step
    /// at least. The first of two wires is held.
    ///
    /// # Errors
    /// [`Unresolved`]; the devices are left at the last equilibrium.
    pub fn move_hands(&mut self, hands: Hands) -> Result<(), Unresolved> {
        self.move_hands_and(hands, &mut |_, _| ())
    }

    /// The same; `after` each step, halved ones too, it is given the devices and what the hands did.
    ///
    /// # Errors
    /// [`Unresolved`]; the devices are left at the last equilibrium.
    pub fn move_hands_and(
        &mut self,
        hands: Hands,
        after: &mut dyn FnMut(&Self, Hands),
    ) -> Result<(), Unresolved> {
        if self.devices.guided().is_carried() {
            return self.move_in_time(hands, after);
        }
        let settings = self.devices.settings();
        if let Devices::Wire(_) = self.devices {
            let (feed, turn) = (hands.feed_wire, hands.turn_wire);
            if feed.abs() > 0.0 {
                self.in_parts(Hands::feed(feed), feed.abs() / settings.feed_mm, after)?;
            }
            if turn.abs() > 0.0 {
                self.in_parts(Hands::turn(turn), turn.abs() / settings.turn_rad, after)?;
            }
            if hands.wait_s > 0.0 {
                self.step(Hands::wait(hands.wait_s), settings.halvings, after)?;
            }
            return Ok(());
        }
        let parts = self.parts(hands);
        self.in_parts(hands, parts, after)
    }

    /// Into how many steps the settings divide a movement of several devices; less than 1 for a short one.
    fn parts(&self, hands: Hands) -> f64 {
        let settings = self.devices.settings();
        let (fed, turned) = self.devices.extent(hands);
        (fed / settings.feed_mm)
            .max(turned / settings.turn_rad)
            .max(hands.steer.abs() / STEER_RAD)
    }

    /// Moves the hands in no fewer steps than `parts`, and one at least.
    fn in_parts(
        &mut self,
        hands: Hands,
        parts: f64,
        after: &mut dyn FnMut(&Self, Hands),
    ) -> Result<(), Unresolved> {
        let halvings = self.devices.settings().halvings;
        let parts = parts.max(1.0);
        let fed_mm = self.devices.extent(hands).0;
        let cut = self.forces.parts(hands, fed_mm / parts);
        equal_parts(1.0, 1.0 / (cut * parts))
            .try_for_each(|share| self.step(hands.times(share), halvings, after))
    }

    /// Feeds (positive) or withdraws (negative) the wire, in steps.
    ///
    /// # Errors
    /// [`Unresolved`]; the devices are left at the last equilibrium.
    pub fn feed(&mut self, length_mm: f64) -> Result<(), Unresolved> {
        let parts = length_mm.abs() / self.devices.settings().feed_mm;
        self.make(Hands::feed(length_mm), parts)
    }

    /// Turns the wire's hand by an angle in rad, positive right-handed about the forward direction.
    ///
    /// # Errors
    /// [`Unresolved`]; the devices are left at the last equilibrium.
    pub fn turn(&mut self, angle_rad: f64) -> Result<(), Unresolved> {
        let parts = angle_rad.abs() / self.devices.settings().turn_rad;
        self.make(Hands::turn(angle_rad), parts)
    }

    fn make(&mut self, hands: Hands, parts: f64) -> Result<(), Unresolved> {
        if self.devices.guided().is_carried() {
            return self.move_in_time(hands, &mut |_, _| ());
        }
        self.in_parts(hands, parts, &mut |_, _| ())
    }

    /// Makes a movement in a vessel that moves by itself, in steps in which it goes [`WALL_MM`] at most; one
    /// step at least.
    fn move_in_time(
        &mut self,
        hands: Hands,
        after: &mut dyn FnMut(&Self, Hands),
    ) -> Result<(), Unresolved> {
        const ALL: f64 = 1.0 - 1e-9;
        let settings = self.devices.settings();
        let parts = self.parts(hands).max(1.0);
        let seconds = hands.seconds(settings.speed_mm_per_s);
        let mut done = 0.0;
        while done < ALL {
            let most_s = seconds / parts;
            let within_s = self.devices.guided().time_within(most_s, WALL_MM);
            let largest = if seconds > 0.0 {
                within_s / seconds
            } else {
                1.0 / parts
            };
            let share = equal_parts(1.0 - done, largest).next().unwrap_or(1.0);
            self.step(hands.times(share), settings.halvings, after)?;
            done += share;
        }
        Ok(())
    }

    /// One step, halved as often as allowed.
    pub(super) fn step(
        &mut self,
        hands: Hands,
        halvings: u32,
        after: &mut dyn FnMut(&Self, Hands),
    ) -> Result<(), Unresolved> {
        let before = (self.devices.snapshot(), self.balance);
        let made = self.devices.advance(hands, halvings, &mut self.balance);
        if made.is_ok() {
            let (read, noise_mn) = (self.step_forces(), self.devices.noise_mn());
            let fed_mm = self.devices.extent(hands).0;
            if halvings == 0 || !self.forces.hides(hands, fed_mm, &read, noise_mn) {
                self.forces.note(hands, fed_mm, read, noise_mn);
                after(self, hands);
                return Ok(());
            }
        }
        self.devices.restore(before.0);
        // The effort stays.
        self.balance = EnergyBalance {
            iterations: self.balance.iterations,
            ..before.1
        };
        if halvings == 0 {
            return made;
        }
        self.balance.halved += 1;
        self.step(hands.times(0.5), halvings - 1, after)?;
        self.step(hands.times(0.5), halvings - 1, after)
    }
}

impl Assembly<'_> {
    /// The forces that are read after a step.
    fn step_forces(&self) -> StepForces {
        let wall = self.contact();
        [self.push_force(), wall.largest_force, wall.tip_force]
    }
}

impl<'a> Devices<'a> {
    /// Settings of the steps.
    fn settings(&self) -> StepSettings {
        match self {
            Self::Wire(wire) => wire.settings,
            Self::Pair(pair) => pair.settings,
            Self::Ported(ported) => ported.second.settings,
        }
    }

    /// Force in mN below which a change says nothing: a hundred times what is left of an equilibrium.
    fn noise_mn(&self) -> f64 {
        const TOLERANCES: f64 = 100.0;
        let options = match self {
            Self::Wire(wire) => &wire.options,
            Self::Pair(pair) => &pair.options,
            Self::Ported(ported) => &ported.carrier.options,
        };
        TOLERANCES * options.tolerance
    }

    /// Largest length in mm and largest angle in rad of a movement.
    fn extent(&self, hands: Hands) -> (f64, f64) {
        match self {
            Self::Wire(_) | Self::Pair(_) => hands.extent(),
            Self::Ported(_) => ported_pair::extent(&hands),
        }
    }

    /// One step as it is, which may be halved so many times more.
    pub(super) fn advance(
        &mut self,
        hands: Hands,
        halvings: u32,
        balance: &mut EnergyBalance,
    ) -> Result<(), Unresolved> {
        match self {
            Self::Wire(wire) => wire.advance(hands, halvings, balance),
            Self::Pair(pair) => pair.advance(hands, halvings, balance),
            Self::Ported(ported) => ported.advance(hands, halvings, balance),
        }
    }

    fn snapshot(&self) -> Snapshot<'a> {
        match self {
            Self::Wire(wire) => Snapshot::Wire(Box::new(wire.state())),
            Self::Pair(pair) => Snapshot::Pair(Box::new(pair.state())),
            Self::Ported(ported) => Snapshot::Ported(Box::new(ported.state())),
        }
    }

    /// Takes a snapshot of the same devices back.
    fn restore(&mut self, snapshot: Snapshot<'a>) {
        match (self, snapshot) {
            (Self::Wire(wire), Snapshot::Wire(state)) => wire.restore(*state),
            (Self::Pair(pair), Snapshot::Pair(state)) => pair.restore(*state),
            (Self::Ported(ported), Snapshot::Ported(state)) => ported.restore(*state),
            _ => unreachable!("a snapshot is of the devices from which it was taken"),
        }
    }
}
