//! The movement of hands, in steps: each one ends in equilibrium, or is taken back and halved.

use super::{Assembly, Devices};
use crate::solve::balance::{EnergyBalance, Unresolved};
use crate::solve::hands::Hands;
use crate::solve::pair_rod::PairState;
use crate::solve::ported_pair::{self, PortedState};
use crate::solve::settings::{StepSettings, TURN_RAD_PER_S, equal_parts};
use crate::solve::wire_rod::WireState;

/// How far a vessel that moves by itself goes in one step at most, in mm.
const WALL_MM: f64 = 0.25;
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
        let (most_fed, most_turned) = self.longest();
        if let Devices::Wire(_) = self.devices {
            let (feed, turn) = (hands.feed_wire, hands.turn_wire);
            if feed.abs() > 0.0 {
                self.in_parts(Hands::feed(feed), feed.abs() / most_fed, after)?;
            }
            if turn.abs() > 0.0 {
                self.in_parts(Hands::turn(turn), turn.abs() / most_turned, after)?;
            }
            return Ok(());
        }
        let (fed, turned) = self.devices.extent(hands);
        let parts = (fed / most_fed)
            .max(turned / most_turned)
            .max(hands.steer.abs() / STEER_RAD);
        self.in_parts(hands, parts, after)
    }

    /// Moves the hands in no fewer steps than `parts`.
    fn in_parts(
        &mut self,
        hands: Hands,
        parts: f64,
        after: &mut dyn FnMut(&Self, Hands),
    ) -> Result<(), Unresolved> {
        let halvings = self.devices.settings().halvings;
        equal_parts(1.0, 1.0 / parts.max(1.0))
            .try_for_each(|share| self.step(hands.times(share), halvings, after))
    }

    /// Feeds (positive) or withdraws (negative) the wire, in steps.
    ///
    /// # Errors
    /// [`Unresolved`]; the devices are left at the last equilibrium.
    pub fn feed(&mut self, length_mm: f64) -> Result<(), Unresolved> {
        let parts = length_mm.abs() / self.longest().0;
        self.in_parts(Hands::feed(length_mm), parts, &mut |_, _| ())
    }

    /// Turns the wire's hand by an angle in rad, positive right-handed about the forward direction.
    ///
    /// # Errors
    /// [`Unresolved`]; the devices are left at the last equilibrium.
    pub fn turn(&mut self, angle_rad: f64) -> Result<(), Unresolved> {
        let parts = angle_rad.abs() / self.longest().1;
        self.in_parts(Hands::turn(angle_rad), parts, &mut |_, _| ())
    }

    /// Longest feed in mm and turn in rad of one step: those of the settings, and no longer than a vessel
    /// that moves by itself goes [`WALL_MM`] in.
    fn longest(&self) -> (f64, f64) {
        let settings = self.devices.settings();
        let speed = self.devices.guided().vessel_speed_mm_per_s();
        let seconds = WALL_MM / speed.max(f64::MIN_POSITIVE);
        (
            settings.feed_mm.min(seconds * settings.speed_mm_per_s),
            settings.turn_rad.min(seconds * TURN_RAD_PER_S),
        )
    }

    /// One step, halved as often as allowed.
    pub(super) fn step(
        &mut self,
        hands: Hands,
        halvings: u32,
        after: &mut dyn FnMut(&Self, Hands),
    ) -> Result<(), Unresolved> {
        let before = (self.devices.snapshot(), self.balance);
        let Err(unresolved) = self.devices.advance(hands, halvings, &mut self.balance) else {
            after(self, hands);
            return Ok(());
        };
        self.devices.restore(before.0);
        // The effort stays.
        self.balance = EnergyBalance {
            iterations: self.balance.iterations,
            ..before.1
        };
        if halvings == 0 {
            return Err(unresolved);
        }
        self.balance.halved += 1;
        self.step(hands.times(0.5), halvings - 1, after)?;
        self.step(hands.times(0.5), halvings - 1, after)
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
