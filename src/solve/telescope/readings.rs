//! What can be read off a wire and a catheter at rest.

use nalgebra::Vector3;

use super::layout::Layout;
use super::{Reactions, Telescope};
use crate::contact::{ContactReading, ContactSummary, Patch};
use crate::rod::Energies;
use crate::solve::{ClampReaction, CoreSet, EnergyBalance, GuideTip, shape};

impl Layout {
    /// Energy of both devices that the guide holds straight, in mN mm.
    pub(super) fn held_straight(&self) -> f64 {
        self.wire.stored_shape_energy_beyond(self.wire_outside)
            + self.flow.held_beyond(&self.wire, self.wire_outside)
            + self
                .catheter
                .stored_shape_energy_beyond(self.catheter_outside)
    }
}

impl Telescope<'_> {
    /// Length of wire outside the guide in mm.
    #[must_use]
    pub fn wire_outside_mm(&self) -> f64 {
        self.layout.wire_outside
    }

    /// Length of catheter outside the guide in mm.
    #[must_use]
    pub fn catheter_outside_mm(&self) -> f64 {
        self.layout.catheter_outside
    }

    /// Angles of the hands on wire and catheter since the start in rad.
    #[must_use]
    pub fn hands_rad(&self) -> [f64; 2] {
        self.turned
    }

    /// Angles of the wire's and the catheter's tip about their axes in rad: the hand's angle less
    /// the twist in between.
    #[must_use]
    pub fn tips_rad(&self) -> [f64; 2] {
        let rod = &self.body.rod;
        [0, 1].map(|layer| {
            let twist: f64 = (1..=self.layout.exit)
                .filter(|&i| rod.layer(layer, i).is_present())
                .map(|i| rod.twist_of(layer, i))
                .sum();
            self.turned[layer] + twist
        })
    }

    /// Angle in rad by which the catheter's tip is bent when it is free.
    #[must_use]
    pub fn catheter_angle_rad(&self) -> f64 {
        self.layout.catheter.angle_rad()
    }

    /// What the hands feel.
    #[must_use]
    pub fn reactions(&self) -> Reactions {
        self.reactions
    }

    /// How far the guide has backed out in mm.
    #[must_use]
    pub fn backed_out_mm(&self) -> f64 {
        self.guide_tip.backed_out_mm(&self.guide_end())
    }

    /// Where the guide's end is now, in mm.
    fn guide_end(&self) -> Vector3<f64> {
        self.body.rod.node(self.layout.exit)
    }

    /// Every active contact of both devices with the vessel's wall, from the front on.
    pub fn contact_readings(&self) -> impl Iterator<Item = ContactReading> {
        let contact = self.body.contact.iter();
        contact.flat_map(|c| c.readings(&self.body.rod, self.layout.stations()))
    }

    /// What the guide does to both devices at its end: force, and moment about that end.
    #[must_use]
    pub fn clamp_reaction(&self) -> ClampReaction {
        let gradient = &self.newton.gradient;
        let exit = self.layout.exit;
        self.body.clamp_reaction(exit, gradient, &self.guide_end())
    }

    /// Contact forces of both devices on the vessel's wall.
    #[must_use]
    pub fn contact(&self) -> ContactSummary {
        self.body.on_wall(self.layout.stations())
    }

    /// What presses on the vessel's wall within each contact patch, of both devices together.
    #[must_use]
    pub fn patches(&self) -> Vec<Patch> {
        self.body.patches_on_wall(self.layout.stations())
    }

    /// Largest wall force on the catheter alone within one contact patch, in mN.
    #[must_use]
    pub fn catheter_wall_force(&self) -> f64 {
        self.body.contact.as_ref().map_or(0.0, |c| {
            c.largest_force_on(1, &self.body.rod, self.layout.stations())
        })
    }

    /// Elastic energies of both devices outside the guide in mN mm.
    #[must_use]
    pub fn elastic(&self) -> Energies {
        self.body.rod.stored()
    }

    /// All energy that could be got back: both devices inside and outside the guide, wall, guide;
    /// mN mm.
    #[must_use]
    pub fn stored(&self) -> f64 {
        let around = self.body.stored_around(self.layout.stations());
        let guide = self.guide_tip.stored(&self.guide_end());
        self.elastic().total() + self.layout.held_straight() + around + guide
    }

    /// Work and losses since the start.
    #[must_use]
    pub fn balance(&self) -> &EnergyBalance {
        &self.balance
    }

    /// Nodes outside the guide, from the exit to the front, in mm.
    #[must_use]
    pub fn shape(&self) -> Vec<Vector3<f64>> {
        (0..=self.layout.exit)
            .rev()
            .map(|i| self.body.rod.node(i))
            .collect()
    }

    /// Position of the foremost point in mm: the wire's tip, or the catheter's where that covers
    /// it.
    #[must_use]
    pub fn tip(&self) -> Vector3<f64> {
        self.body.rod.node(0)
    }

    /// Position of the catheter's tip in mm and the direction in which it points.
    #[must_use]
    pub fn catheter_tip(&self) -> (Vector3<f64>, Vector3<f64>) {
        let k = self.layout.ahead;
        (self.body.rod.node(k), -self.body.rod.tangent(k))
    }

    /// Position in mm of the point of the rod at a distance behind its front, in mm; the exit where
    /// no more is outside.
    #[must_use]
    pub fn behind_tip(&self, distance_mm: f64) -> Vector3<f64> {
        let (stations, exit) = (self.layout.stations(), self.layout.exit);
        shape::behind_front(&self.body.rod, stations, exit, distance_mm)
    }

    /// Position in mm of the point of the catheter's axis at a distance behind its tip, in mm; the
    /// exit where no more is outside.
    pub(in crate::solve) fn behind_catheter_tip(&self, distance_mm: f64) -> Vector3<f64> {
        self.behind_tip(self.layout.along_rod(distance_mm))
    }

    /// Number of nodes of [`Telescope::shape`] up to that point of the catheter.
    pub(in crate::solve) fn nodes_to(&self, distance_mm: f64) -> usize {
        self.layout.exit - self.layout.at_catheter(distance_mm).0
    }

    /// Outer radius of the catheter in mm.
    pub(in crate::solve) fn catheter_radius_mm(&self) -> f64 {
        self.layout.catheter.radius_mm()
    }

    /// The guide's end.
    pub(in crate::solve) fn guide_tip(&self) -> &GuideTip {
        &self.guide_tip
    }

    /// Wall force in mN and curvature in 1/mm at the nodes of [`Telescope::shape`].
    #[must_use]
    pub fn along_shape(&self) -> (Vec<f64>, Vec<f64>) {
        shape::along(&self.body, self.layout.exit)
    }

    /// Outer diameter in mm at the nodes of [`Telescope::shape`].
    #[must_use]
    pub fn diameters(&self) -> Vec<f64> {
        let (bare, covered) = (self.layout.ahead, self.layout.exit + 1 - self.layout.ahead);
        let mut out = vec![2.0 * self.layout.catheter.radius_mm(); covered];
        out.resize(covered + bare, 2.0 * self.layout.wire.radius_mm());
        out
    }

    /// Distance of every node from the front along the rod, in mm, front first.
    #[must_use]
    pub fn stations(&self) -> &[f64] {
        self.layout.stations()
    }

    /// The set that the wire keeps without load.
    #[must_use]
    pub fn set(&self) -> CoreSet {
        self.layout.set()
    }

    /// Largest bending strain of the wire beyond its natural shape over the core's limit, and
    /// largest axial strain.
    #[must_use]
    pub fn strains(&self) -> (f64, f64) {
        let rod = &self.body.rod;
        let mut bending: f64 = 0.0;
        for i in (1..=self.layout.exit).filter(|&i| rod.hinges[i].is_present()) {
            let [k1, k2] = rod.curvature_beyond_natural(i);
            let extra = k1.hypot(k2) / rod.hinges[i].length;
            let s = self.layout.along_wire(self.layout.stations()[i]);
            let wire = &self.layout.wire;
            bending = bending.max(extra * wire.core_radius(s) / wire.strain_limit());
        }
        let axial = (0..self.layout.exit)
            .map(|i| (rod.kinematics().length[i] / rod.edges[i].rest_length - 1.0).abs())
            .fold(0.0, f64::max);
        (bending, axial)
    }
}
