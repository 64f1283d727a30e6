//! The devices in a guide and a lumen, as one: a wire, a wire in a catheter, or a wire in a catheter
//! with a second wire out of its side port.
//!
//! Whatever they are, hands move them by [`Assembly::move_hands`], every step ends in equilibrium or is
//! taken back, and the readings are the same.

mod around;
mod force_history;
mod readings;
mod step;

use self::force_history::ForceHistory;
pub use self::readings::CatheterReading;
use super::balance::{EnergyBalance, Unresolved};
use super::core_flow::CoreFlow;
use super::guided::Readings;
use super::pair_rod::{PairRod, PairStart};
use super::ported_pair::{PortedPair, Second};
use super::settings::{GuideTip, Start, StepSettings};
use super::wire_rod::{FoldedStart, WireRod};
use crate::contact::WalledLumen;
use crate::device::{Catheter, Wire};

/// Devices in a guide and a lumen.
///
/// ```
/// use bendwise::prelude::*;
/// use bendwise::solve::Hands;
///
/// let vessel = VesselBuilder::tube_mm(3.0).straight_mm(40.0).build()?;
/// let wire = WireBuilder::from_tip_load_gf(1.0, &[(20.0, 0.07), (100.0, 0.13)])
///     .bend_mm_deg(5.0, 60.0)
///     .build()?;
/// let mut devices: Assembly = vessel.insert(&wire)?; // 3 mm stand out of the guide
/// devices.move_hands(Hands::feed(10.0))?;
/// assert!((devices.outside_mm() - 13.0).abs() < 1e-9);
/// assert!(devices.catheter().is_none());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone)]
pub struct Assembly<'a> {
    devices: Devices<'a>,
    balance: EnergyBalance,
    /// The forces of the last steps, by which the next ones are cut.
    forces: ForceHistory,
}

/// What the assembly consists of.
#[derive(Clone)]
enum Devices<'a> {
    /// A wire alone.
    Wire(Box<WireRod<'a>>),
    /// A wire in a catheter.
    Pair(Box<PairRod<'a>>),
    /// A wire in a catheter, and a second wire that leaves it by a side port.
    Ported(Box<PortedPair<'a>>),
}

impl<'a> Assembly<'a> {
    /// A wire that stands out of the guide as `start` says, let go to its equilibrium there.
    ///
    /// # Errors
    /// [`Unresolved`] if no equilibrium is found from there.
    pub fn straight(
        wire: &Wire,
        lumen: WalledLumen<'a>,
        guide_tip: GuideTip,
        settings: StepSettings,
        start: Start,
    ) -> Result<Self, Unresolved> {
        let start = (start, CoreFlow::of(wire));
        Self::begun(|balance| {
            let rod = WireRod::straight(wire, lumen, guide_tip, settings, start, balance)?;
            Ok(Devices::Wire(Box::new(rod)))
        })
    }

    /// A folded wire, let go to its equilibrium in a lumen to which the guide belongs. The legs of
    /// the wire touch from then on.
    ///
    /// # Errors
    /// [`Unresolved`] if no equilibrium is found on the way there.
    pub fn folded(
        wire: &Wire,
        lumen: WalledLumen<'a>,
        guide_tip: GuideTip,
        settings: StepSettings,
        fold: FoldedStart,
    ) -> Result<Self, Unresolved> {
        Self::begun(|balance| {
            let rod = WireRod::folded(wire, lumen, guide_tip, settings, fold, balance)?;
            Ok(Devices::Wire(Box::new(rod)))
        })
    }

    /// A wire and a catheter over it as `start` says, let go to their equilibrium there.
    ///
    /// # Errors
    /// [`Unresolved`] if no equilibrium is found from there.
    pub fn pair(
        devices: (&Wire, &Catheter),
        lumen: WalledLumen<'a>,
        guide_tip: GuideTip,
        settings: StepSettings,
        start: PairStart,
    ) -> Result<Self, Unresolved> {
        Self::begun(|balance| {
            let rod = PairRod::straight(devices, lumen, guide_tip, settings, start, balance)?;
            Ok(Devices::Pair(Box::new(rod)))
        })
    }

    fn begun(
        begin: impl FnOnce(&mut EnergyBalance) -> Result<Devices<'a>, Unresolved>,
    ) -> Result<Self, Unresolved> {
        let mut balance = EnergyBalance::default();
        let devices = begin(&mut balance)?;
        Ok(Self {
            devices,
            balance,
            forces: ForceHistory::default(),
        })
    }

    /// A wire in a catheter with a second wire in the catheter too, its tip `inside_mm` (0 or more)
    /// behind the side port by which it will leave. From then on the second wire is the one that the
    /// hands move, and the first is held.
    ///
    /// `None` where there is no catheter, or one with a second wire in it already.
    #[must_use]
    pub fn with_second_wire(self, second: Second<'a>, inside_mm: f64) -> Option<Self> {
        let Devices::Pair(carrier) = self.devices else {
            return None;
        };
        let ported = PortedPair::new(*carrier, second, inside_mm);
        Some(Self {
            devices: Devices::Ported(Box::new(ported)),
            balance: self.balance,
            forces: ForceHistory::default(),
        })
    }

    /// Lays the second wire out of the port with the middle of its fold, `from_tip_mm` behind its
    /// tip, ahead, and lets it go. The wire's roll is the one with which the fold lies flat on the
    /// catheter. False, with nothing done, where there is no second wire.
    ///
    /// # Errors
    /// [`Unresolved`] if no equilibrium is found on the way there.
    pub fn fold_out(&mut self, from_tip_mm: f64) -> Result<bool, Unresolved> {
        let Devices::Ported(ported) = &mut self.devices else {
            return Ok(false);
        };
        self.forces = ForceHistory::default();
        ported.fold_out(from_tip_mm, &mut self.balance)?;
        Ok(true)
    }
}

impl<'a> Devices<'a> {
    /// The rod that comes out of the guide.
    fn guided(&self) -> &dyn Readings {
        match self {
            Self::Wire(wire) => wire.as_ref(),
            Self::Pair(pair) => pair.as_ref(),
            Self::Ported(ported) => &ported.carrier,
        }
    }

    /// The rod of a second wire outside its port.
    fn second(&self) -> Option<&dyn Readings> {
        match self {
            Self::Wire(_) | Self::Pair(_) => None,
            Self::Ported(ported) => ported.out.as_ref().map(|wire| wire as &dyn Readings),
        }
    }

    /// The rod with the tip of the wire that the hands move; none where that is a second wire inside
    /// its catheter.
    fn foremost(&self) -> Option<&dyn Readings> {
        match self {
            Self::Wire(_) | Self::Pair(_) => Some(self.guided()),
            Self::Ported(_) => self.second(),
        }
    }

    /// All rods.
    fn rods(&self) -> impl Iterator<Item = &dyn Readings> {
        std::iter::once(self.guided()).chain(self.second())
    }
}
