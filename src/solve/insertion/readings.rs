//! What can be read off a wire at rest.

use nalgebra::Vector3;

use super::Insertion;
use crate::contact::{ContactReading, ContactSummary, Patch};
use crate::rod::Energies;
use crate::solve::{ClampReaction, CoreSet, EnergyBalance, shape};

impl Insertion<'_> {
    /// Length of wire outside the guide in mm.
    #[must_use]
    pub fn outside_mm(&self) -> f64 {
        self.intake.outside()
    }

    /// Angle of the hand since the start in rad.
    #[must_use]
    pub fn hand_rad(&self) -> f64 {
        self.hand_rad
    }

    /// Angle of the tip about the wire's axis, in rad: the hand's angle less the twist in between.
    #[must_use]
    pub fn tip_rad(&self) -> f64 {
        let twist: f64 = (1..=self.intake.exit())
            .map(|i| self.body.rod.twist(i))
            .sum();
        self.hand_rad + twist
    }

    /// Push force at the hand in mN, positive when the hand pushes.
    #[must_use]
    pub fn push_force(&self) -> f64 {
        self.push_force
    }

    /// Torque at the hand in mN mm, positive when the hand turns forward against a resistance.
    #[must_use]
    pub fn torque(&self) -> f64 {
        self.torque
    }

    /// Largest friction force over the Coulomb limit `mu N` in the present equilibrium: 1 where a
    /// contact slides, 0 without friction.
    #[must_use]
    pub fn friction_ratio(&self) -> f64 {
        self.body.friction_ratio()
    }

    /// How far the guide has backed out in mm.
    #[must_use]
    pub fn backed_out_mm(&self) -> f64 {
        self.guide_tip.backed_out_mm(&self.guide_end())
    }

    /// Where the guide's end is now, in mm.
    fn guide_end(&self) -> Vector3<f64> {
        self.body.rod.node(self.intake.exit())
    }

    /// Every active contact with the vessel's wall, from the tip on.
    pub fn contact_readings(&self) -> impl Iterator<Item = ContactReading> {
        let contact = self.body.contact.iter();
        contact.flat_map(|c| c.readings(&self.body.rod, self.intake.stations()))
    }

    /// What the guide does to the wire at its end: force, and moment about that end.
    #[must_use]
    pub fn clamp_reaction(&self) -> ClampReaction {
        let exit = self.intake.exit();
        let gradient = &self.newton.gradient;
        self.body.clamp_reaction(exit, gradient, &self.guide_end())
    }

    /// Contact forces on the vessel's wall.
    #[must_use]
    pub fn contact(&self) -> ContactSummary {
        self.body.on_wall(self.intake.stations())
    }

    /// What presses on the vessel's wall within each contact patch.
    #[must_use]
    pub fn patches(&self) -> Vec<Patch> {
        self.body.patches_on_wall(self.intake.stations())
    }

    /// Elastic energies of the wire outside the guide in mN mm.
    #[must_use]
    pub fn elastic(&self) -> Energies {
        self.body.rod.stored()
    }

    /// All energy that could be got back: wire inside and outside the guide, wall, guide; mN mm.
    #[must_use]
    pub fn stored(&self) -> f64 {
        let around = self.body.stored_around(self.intake.stations());
        let guide = self.guide_tip.stored(&self.guide_end());
        self.elastic().total() + self.intake.held_straight() + around + guide
    }

    /// Work and losses since the start.
    #[must_use]
    pub fn balance(&self) -> &EnergyBalance {
        &self.balance
    }

    /// Nodes outside the guide, from the exit to the tip, in mm.
    #[must_use]
    pub fn shape(&self) -> Vec<Vector3<f64>> {
        (0..=self.intake.exit())
            .rev()
            .map(|i| self.body.rod.node(i))
            .collect()
    }

    /// Wall force in mN and curvature in 1/mm at the nodes of [`Insertion::shape`].
    #[must_use]
    pub fn along_shape(&self) -> (Vec<f64>, Vec<f64>) {
        shape::along(&self.body, self.intake.exit())
    }

    /// Distance of every node from the tip along the wire, in mm, tip first.
    #[must_use]
    pub fn stations(&self) -> &[f64] {
        self.intake.stations()
    }

    /// Position of the tip in mm.
    #[must_use]
    pub fn tip(&self) -> Vector3<f64> {
        self.body.rod.node(0)
    }

    /// Position in mm of the point of the wire at a distance behind the tip, in mm; the exit where
    /// no more wire is outside.
    #[must_use]
    pub fn behind_tip(&self, distance_mm: f64) -> Vector3<f64> {
        let (stations, exit) = (self.intake.stations(), self.intake.exit());
        shape::behind_front(&self.body.rod, stations, exit, distance_mm)
    }

    /// The set that the wire keeps without load, the part in the guide included.
    #[must_use]
    pub fn set(&self) -> CoreSet {
        self.intake.set()
    }

    /// Largest bending strain beyond the natural shape over the core's limit, and largest axial
    /// strain.
    #[must_use]
    pub fn strains(&self) -> (f64, f64) {
        self.intake.strains(&self.body.rod)
    }
}
