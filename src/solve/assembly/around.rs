//! What changes around the devices: something put into the lumen, a guide pointed anew, another wire.

use nalgebra::Vector3;

use super::force_history::ForceHistory;
use super::{Assembly, Devices};
use crate::contact::WalledLumen;
use crate::device::Wire;
use crate::solve::balance::Unresolved;
use crate::solve::hands::Hands;
use crate::solve::settings::GuideTip;

/// How far inside the catheter, or its side port, the tips of two wires lie when they are exchanged,
/// in mm.
const EXCHANGED_INSIDE_MM: f64 = 1.0;

impl<'a> Assembly<'a> {
    /// Puts something into the lumen; `around` is the space around it, whose wall is its surface. The
    /// devices feel it from the next movement on.
    pub fn obstruct(&mut self, around: WalledLumen<'a>) {
        self.forces = ForceHistory::default();
        match &mut self.devices {
            Devices::Wire(wire) => wire.obstruct(around),
            Devices::Pair(pair) => pair.obstruct(&around),
            Devices::Ported(ported) => ported.obstruct(around),
        }
    }

    /// Points the guide anew, part by part: its end moves to `exit` (mm) and its direction to `axis`
    /// (a unit vector), and `deeper_mm` of all devices go back into it, so that the hands' ends stay
    /// where they are.
    ///
    /// # Errors
    /// [`Unresolved`]; the guide is left where it came to.
    pub fn aim_guide(
        &mut self,
        exit: Vector3<f64>,
        axis: Vector3<f64>,
        deeper_mm: f64,
    ) -> Result<(), Unresolved> {
        let part_mm = deeper_mm / f64::from(GuideTip::PARTS);
        let mut parts = self.guide().on_the_way_to(exit, axis);
        parts.try_for_each(|guide| self.carry_guide(guide, part_mm))
    }

    /// Moves the guide with what lies in it, to where `guide` is, and draws `back_mm` of all devices
    /// into it.
    fn carry_guide(&mut self, guide: GuideTip, back_mm: f64) -> Result<(), Unresolved> {
        self.forces = ForceHistory::default();
        match &mut self.devices {
            Devices::Wire(wire) => {
                let before = wire.state();
                wire.move_guide(guide);
                let moved = wire.advance(Hands::default(), 0, &mut self.balance);
                if moved.is_err() {
                    wire.restore(before);
                }
                moved?;
                self.feed(-back_mm)
            }
            Devices::Pair(pair) => {
                pair.move_guide(guide);
                self.move_hands(Hands::together(-back_mm))
            }
            Devices::Ported(ported) => {
                ported.carrier.move_guide(guide);
                self.let_first_wire_move(true);
                let moved = self.move_hands(Hands::together(-back_mm));
                self.let_first_wire_move(false);
                moved
            }
        }
    }

    /// Lets the first of two wires move with the catheter, or holds it.
    fn let_first_wire_move(&mut self, moves: bool) {
        if let Devices::Ported(ported) = &mut self.devices {
            ported.first_moves = moves;
        }
    }

    /// Takes the wire out and brings another, with a roll in rad, through the catheter that holds the
    /// place, to just inside its tip or side port; false, with nothing done, where there is no catheter.
    ///
    /// # Errors
    /// [`Unresolved`] if an equilibrium is missed on the way.
    pub fn exchange_wire(&mut self, wire: &Wire, roll_rad: f64) -> Result<bool, Unresolved> {
        let bare_mm = match &self.devices {
            Devices::Wire(_) => return Ok(false),
            Devices::Pair(pair) => pair.bare_mm(),
            Devices::Ported(ported) => ported.bare_mm(),
        };
        self.move_hands(Hands::feed(-(bare_mm + EXCHANGED_INSIDE_MM)))?;
        self.forces = ForceHistory::default();
        match &mut self.devices {
            Devices::Wire(_) => {}
            Devices::Pair(pair) => pair.take_wire(wire, roll_rad),
            Devices::Ported(ported) => ported.take_wire(wire, roll_rad),
        }
        let before = self.balance.hand - self.stored();
        self.move_hands(Hands::default())?;
        // The work of the other wire's way through the guide is not the hands' in the vessel.
        self.balance.hand = before + self.stored();
        Ok(true)
    }
}
