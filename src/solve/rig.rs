//! What a trial moves and reads, whether a wire alone or a wire in a catheter.

use nalgebra::Vector3;

use super::core_flow::CoreSet;
use super::insertion::{EnergyBalance, Insertion, Unresolved};
use super::settings::GuideTip;
use super::shape::WireShape;
use super::telescope::{Hands, Telescope};
use crate::contact::{ContactSummary, Patch, Wall};
use crate::device::Wire;
use crate::rod::Energies;
use crate::vessel::Lumen;

/// A support catheter as a trial reads it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CatheterReading {
    /// Position of its tip in mm.
    pub tip: Vector3<f64>,
    /// Direction in which its tip points, a unit vector.
    pub direction: Vector3<f64>,
    /// Length outside the guide in mm.
    pub outside_mm: f64,
    /// Steered or preformed angle of its tip in rad.
    pub angle_rad: f64,
    /// Largest wall force on it within one contact patch, in mN.
    pub wall_force: f64,
    /// Push force at its hub in mN, positive when the hand pushes.
    pub push_force: f64,
    /// Torque at its hub in mN mm, positive when the hand turns forward against a resistance.
    pub torque: f64,
}

/// Devices in a guide and a lumen.
pub trait Rig<'a> {
    /// Moves the hands, in steps; a wire alone has no catheter to move.
    ///
    /// # Errors
    /// [`Unresolved`]; the devices are left at the last equilibrium.
    fn move_hands(&mut self, hands: Hands) -> Result<(), Unresolved>;
    /// Puts something into the lumen that yields as `surface` says; `around` is the space around it.
    fn obstruct(&mut self, around: &'a dyn Lumen, surface: Wall);
    /// The guide.
    fn guide(&self) -> GuideTip;
    /// Moves the guide with what lies in it, to where `guide` is, and draws `back_mm` of all devices
    /// into it.
    ///
    /// # Errors
    /// [`Unresolved`]; the devices are left at the last equilibrium.
    fn carry_guide(&mut self, guide: GuideTip, back_mm: f64) -> Result<(), Unresolved>;
    /// Points the guide anew, part by part: its end moves to `exit` (mm) and its direction to `axis`
    /// (a unit vector), and `deeper_mm` of all devices go back into it, so that the hands' ends stay
    /// where they are.
    ///
    /// # Errors
    /// [`Unresolved`]; the guide is left where it came to.
    fn aim_guide(
        &mut self,
        exit: Vector3<f64>,
        axis: Vector3<f64>,
        deeper_mm: f64,
    ) -> Result<(), Unresolved> {
        let part_mm = deeper_mm / f64::from(GuideTip::PARTS);
        let mut parts = self.guide().on_the_way_to(exit, axis);
        parts.try_for_each(|guide| self.carry_guide(guide, part_mm))
    }
    /// Takes the wire out and brings another, with a roll in rad, to the tip of the catheter that
    /// holds the place; false, with nothing done, where there is no catheter.
    ///
    /// # Errors
    /// [`Unresolved`] if an equilibrium is missed on the way.
    fn exchange_wire(&mut self, wire: &Wire, roll_rad: f64) -> Result<bool, Unresolved>;
    /// Length of wire outside the guide in mm.
    fn outside_mm(&self) -> f64;
    /// Position of the wire's tip in mm; inside a catheter, of the catheter's.
    fn tip(&self) -> Vector3<f64>;
    /// Position in mm of the point at a distance behind the tip in mm.
    fn behind_tip(&self, distance_mm: f64) -> Vector3<f64>;
    /// Nodes outside the guide, from the exit to the tip, in mm.
    fn shape(&self) -> Vec<Vector3<f64>>;
    /// The whole wire with what acts along it, and with what lies beside it.
    fn lies(&self) -> WireShape;
    /// Contact forces.
    fn contact(&self) -> ContactSummary;
    /// What presses on the vessel's wall within each contact patch, device by device; the largest
    /// force among them is that of [`Rig::contact`].
    fn patches(&self) -> Vec<Patch>;
    /// Elastic energies outside the guide in mN mm.
    fn elastic(&self) -> Energies;
    /// Largest bending strain of the wire over its core's limit, and largest axial strain.
    fn strains(&self) -> (f64, f64);
    /// Largest friction force over the Coulomb limit `mu N`: 1 where a contact slides, 0 without
    /// friction.
    fn friction_ratio(&self) -> f64;
    /// The set that the wire keeps without load.
    fn set(&self) -> CoreSet;
    /// Push force on the wire in mN, positive when the hand pushes.
    fn push_force(&self) -> f64;
    /// Torque on the wire in mN mm, positive when the hand turns forward against a resistance.
    fn torque(&self) -> f64;
    /// Angle of the wire's hand since the start in rad.
    fn hand_rad(&self) -> f64;
    /// Angle of the wire's tip about its axis in rad.
    fn tip_rad(&self) -> f64;
    /// How far the guide has backed out in mm.
    fn backed_out_mm(&self) -> f64;
    /// Work and losses since the start.
    fn balance(&self) -> &EnergyBalance;
    /// The catheter, if there is one.
    fn catheter(&self) -> Option<CatheterReading>;
}

impl<'a> Rig<'a> for Insertion<'a> {
    fn move_hands(&mut self, hands: Hands) -> Result<(), Unresolved> {
        if hands.feed_wire.abs() > 0.0 {
            self.feed(hands.feed_wire)?;
        }
        if hands.turn_wire.abs() > 0.0 {
            self.turn(hands.turn_wire)?;
        }
        Ok(())
    }
    fn obstruct(&mut self, around: &'a dyn Lumen, surface: Wall) {
        self.obstruct(around, surface);
    }
    fn guide(&self) -> GuideTip {
        self.guide_tip
    }
    fn carry_guide(&mut self, guide: GuideTip, back_mm: f64) -> Result<(), Unresolved> {
        self.move_guide(guide)?;
        self.feed(-back_mm)
    }
    fn exchange_wire(&mut self, _wire: &Wire, _roll_rad: f64) -> Result<bool, Unresolved> {
        Ok(false)
    }
    fn outside_mm(&self) -> f64 {
        self.outside_mm()
    }
    fn tip(&self) -> Vector3<f64> {
        self.tip()
    }
    fn behind_tip(&self, distance_mm: f64) -> Vector3<f64> {
        self.behind_tip(distance_mm)
    }
    fn shape(&self) -> Vec<Vector3<f64>> {
        self.shape()
    }
    fn lies(&self) -> WireShape {
        let nodes_mm = self.shape();
        let radius_mm = self.body.contact.as_ref().map_or(0.0, |c| c.surface.radius);
        let (wall_force_mn, curvature_per_mm) = self.along_shape();
        WireShape {
            fed_mm: self.outside_mm(),
            diameter_mm: vec![2.0 * radius_mm; nodes_mm.len()],
            nodes_mm,
            wall_force_mn,
            curvature_per_mm,
            beside: None,
        }
    }
    fn contact(&self) -> ContactSummary {
        self.contact()
    }
    fn patches(&self) -> Vec<Patch> {
        self.patches()
    }
    fn elastic(&self) -> Energies {
        self.elastic()
    }
    fn strains(&self) -> (f64, f64) {
        self.strains()
    }
    fn friction_ratio(&self) -> f64 {
        self.body.friction_ratio()
    }
    fn set(&self) -> CoreSet {
        self.set()
    }
    fn push_force(&self) -> f64 {
        self.push_force()
    }
    fn torque(&self) -> f64 {
        self.torque()
    }
    fn hand_rad(&self) -> f64 {
        self.hand_rad()
    }
    fn tip_rad(&self) -> f64 {
        self.tip_rad()
    }
    fn backed_out_mm(&self) -> f64 {
        self.backed_out_mm()
    }
    fn balance(&self) -> &EnergyBalance {
        self.balance()
    }
    fn catheter(&self) -> Option<CatheterReading> {
        None
    }
}

impl<'a> Rig<'a> for Telescope<'a> {
    fn move_hands(&mut self, hands: Hands) -> Result<(), Unresolved> {
        self.move_hands(hands)
    }
    fn obstruct(&mut self, around: &'a dyn Lumen, surface: Wall) {
        self.obstruct(around, surface);
    }
    fn guide(&self) -> GuideTip {
        *self.guide_tip()
    }
    fn carry_guide(&mut self, guide: GuideTip, back_mm: f64) -> Result<(), Unresolved> {
        self.move_guide(guide);
        self.move_hands(Hands::together(-back_mm))
    }
    fn exchange_wire(&mut self, wire: &Wire, roll_rad: f64) -> Result<bool, Unresolved> {
        self.exchange_wire(wire, roll_rad).map(|()| true)
    }
    fn outside_mm(&self) -> f64 {
        self.wire_outside_mm()
    }
    fn tip(&self) -> Vector3<f64> {
        self.tip()
    }
    fn behind_tip(&self, distance_mm: f64) -> Vector3<f64> {
        self.behind_tip(distance_mm)
    }
    fn shape(&self) -> Vec<Vector3<f64>> {
        self.shape()
    }
    fn lies(&self) -> WireShape {
        let (wall_force_mn, curvature_per_mm) = self.along_shape();
        WireShape {
            fed_mm: self.wire_outside_mm(),
            nodes_mm: self.shape(),
            wall_force_mn,
            curvature_per_mm,
            diameter_mm: self.diameters(),
            beside: None,
        }
    }
    fn contact(&self) -> ContactSummary {
        self.contact()
    }
    fn patches(&self) -> Vec<Patch> {
        self.patches()
    }
    fn elastic(&self) -> Energies {
        self.elastic()
    }
    fn strains(&self) -> (f64, f64) {
        self.strains()
    }
    fn friction_ratio(&self) -> f64 {
        self.body.friction_ratio()
    }
    fn set(&self) -> CoreSet {
        self.set()
    }
    fn push_force(&self) -> f64 {
        self.reactions().push[0]
    }
    fn torque(&self) -> f64 {
        self.reactions().torque[0]
    }
    fn hand_rad(&self) -> f64 {
        self.hands_rad()[0]
    }
    fn tip_rad(&self) -> f64 {
        self.tips_rad()[0]
    }
    fn backed_out_mm(&self) -> f64 {
        self.backed_out_mm()
    }
    fn balance(&self) -> &EnergyBalance {
        self.balance()
    }
    fn catheter(&self) -> Option<CatheterReading> {
        let (tip, direction) = self.catheter_tip();
        let reactions = self.reactions();
        Some(CatheterReading {
            tip,
            direction,
            outside_mm: self.catheter_outside_mm(),
            angle_rad: self.catheter_angle_rad(),
            wall_force: self.catheter_wall_force(),
            push_force: reactions.push[1],
            torque: reactions.torque[1],
        })
    }
}
