//! A folded second wire: its main leg comes out of the side port, the fold stands ahead of it, and
//! the free leg lies beside the catheter, back in the guide.

use super::{DualLumen, Insertion, PLAY_MM, SidePort, Unresolved};
use crate::solve::folded::Fold;

/// Distance of the legs' axes at the beginning beyond the wire's diameter, in mm.
const LEGS_APART_MM: f64 = 0.15;
/// How far the fold stands ahead of the port at the beginning, in mm.
const AHEAD_MM: f64 = 3.0;
/// Parts in which the main leg is turned from along the catheter to the port's direction.
const PARTS: u32 = 10;

impl DualLumen<'_> {
    /// Lays the second wire out of the port with the middle of its fold, `from_tip_mm` behind its
    /// tip, ahead, and lets it go. The wire's roll is the one with which the fold lies flat on the
    /// catheter.
    ///
    /// # Errors
    /// [`Unresolved`] if no equilibrium is found on the way there.
    pub fn fold_out(&mut self, from_tip_mm: f64) -> Result<(), Unresolved> {
        let along = SidePort {
            angle_rad: 0.0,
            ..self.second.port
        };
        let pose = self.carrier.pose(&along);
        let channel = self.channel(&pose);
        let radius = self.second.wire.radius_mm();
        let legs_apart_mm = 2.0 * radius + LEGS_APART_MM;
        // Both legs lie on the catheter's flank, so the one is seen from the other a little inwards.
        let off = self.carrier.catheter_radius_mm() + radius + PLAY_MM;
        let inwards = (0.5 * legs_apart_mm / off).clamp(-1.0, 1.0).asin();
        let flank = pose.axis.cross(&pose.outwards);
        let side = flank * inwards.cos() - pose.outwards * inwards.sin();
        let fold = Fold {
            from_tip_mm,
            legs_apart_mm,
            ahead_mm: AHEAD_MM,
            longest_mm: self.second.longest_mm,
            roll_rad: 0.0,
        };
        let (lumen, stiffness) = self.second.wall;
        let mut wire = Insertion::folded_to(
            side,
            &self.second.wire,
            (lumen, stiffness),
            channel,
            self.second.settings,
            fold,
        )?;
        self.surround(&mut wire);
        let first = wire.director();
        self.second.roll_rad = pose
            .axis
            .cross(&pose.unturned)
            .dot(&first)
            .atan2(pose.unturned.dot(&first));
        self.bare_mm = wire.outside_mm();
        self.out = Some(wire);
        let port = self.second.port;
        for part in 0..=PARTS {
            let share = f64::from(part) / f64::from(PARTS);
            self.second.port.angle_rad = share * port.angle_rad;
            self.step(super::Hands::default(), 0.0)?;
        }
        self.sum_up();
        Ok(())
    }
}
