//! What can be read off a rod at rest.

use nalgebra::Vector3;

use super::{GuidedRod, Layout};
use crate::contact::{ContactReading, ContactSummary, Patch};
use crate::rod::Energies;
use crate::solve::{ClampReaction, CoreSet, Giving, GuideTip, Reactions, WireShape, shape};
use crate::vessel::VesselReading;

/// The readings of a rod, whatever lies along it.
pub(in crate::solve) trait Readings {
    /// The guide out of which it comes.
    fn guide(&self) -> GuideTip;
    /// Where the guide's end is now, in mm.
    fn guide_end(&self) -> Vector3<f64>;
    /// Length of wire outside the guide in mm.
    fn outside_mm(&self) -> f64;
    /// Angles of the hands on wire and catheter since the start, in rad.
    fn hands_rad(&self) -> [f64; 2];
    /// Angles of the wire's and the catheter's tip about their axes in rad: the hand's angle less the
    /// twist in between.
    fn tips_rad(&self) -> [f64; 2];
    /// What the hands feel.
    fn reactions(&self) -> Reactions;
    /// Largest friction force over the Coulomb limit `mu N`: 1 where a contact slides.
    fn friction_ratio(&self) -> f64;
    /// Every active contact with the vessel's wall, from the front on.
    fn contact_readings(&self) -> Vec<ContactReading>;
    /// What the guide does at its end: force, and moment about that end.
    fn clamp_reaction(&self) -> ClampReaction;
    /// Contact forces on the vessel's wall.
    fn contact(&self) -> ContactSummary;
    /// What presses on the vessel's wall within each contact patch.
    fn patches(&self) -> Vec<Patch>;
    /// Elastic energies outside the guide in mN mm.
    fn elastic(&self) -> Energies;
    /// All energy that could be got back: devices inside and outside the guide, wall, guide; mN mm.
    fn stored(&self) -> f64;
    /// Nodes outside the guide, from the exit to the front, in mm.
    fn shape(&self) -> Vec<Vector3<f64>>;
    /// The nodes with what acts along them.
    fn wire_shape(&self) -> WireShape;
    /// Distance of every node from the front along the rod, in mm, front first.
    fn stations(&self) -> &[f64];
    /// Position in mm of the point at a distance behind the front, in mm; the exit where no more is
    /// outside.
    fn behind_front(&self, distance_mm: f64) -> Vector3<f64>;
    /// The set that the wire keeps without load, the part in the guide included.
    fn set(&self) -> CoreSet;
    /// Largest bending strain of the wire beyond its natural shape over the core's limit, and largest
    /// axial strain.
    fn strains(&self) -> (f64, f64);
    /// What has become of the vessel, if it gives way.
    fn vessel(&self) -> Option<VesselReading>;
    /// Whether the vessel moves by itself.
    fn is_carried(&self) -> bool;
    /// Time in s, `most_s` at most, within which the vessel near the device goes no farther than `way_mm` by
    /// itself.
    fn time_within(&self, most_s: f64, way_mm: f64) -> f64;
    /// Time in s since the devices were brought in.
    fn time_s(&self) -> f64;
}

impl<L: Layout<S, W>, const S: usize, const W: usize> Readings for GuidedRod<'_, L, S, W> {
    fn guide(&self) -> GuideTip {
        self.guide_tip
    }

    fn is_carried(&self) -> bool {
        let giving = self.body.giving.as_ref();
        giving.is_some_and(|giving| giving.vessel.motion().is_some())
    }

    fn time_within(&self, most_s: f64, way_mm: f64) -> f64 {
        let giving = self.body.giving.as_ref();
        giving.map_or(most_s, |giving| {
            giving.time_within(self.body.time_s(), most_s, way_mm)
        })
    }

    fn time_s(&self) -> f64 {
        self.body.time_s()
    }

    fn vessel(&self) -> Option<VesselReading> {
        self.body.giving.as_ref().map(Giving::reading)
    }

    fn guide_end(&self) -> Vector3<f64> {
        self.body.rod.node(self.layout.exit())
    }

    fn outside_mm(&self) -> f64 {
        self.layout.wire_outside_mm()
    }

    fn hands_rad(&self) -> [f64; 2] {
        self.turned
    }

    fn tips_rad(&self) -> [f64; 2] {
        let rod = &self.body.rod;
        let devices = S - 3;
        [0, 1].map(|layer| {
            let present = |i: &usize| layer < devices && rod.layer(layer, *i).is_present();
            let hinges = (1..=self.layout.exit()).filter(present);
            let twist: f64 = hinges.map(|i| rod.twist_of(layer, i)).sum();
            self.turned[layer] + twist
        })
    }

    fn reactions(&self) -> Reactions {
        self.reactions
    }

    fn friction_ratio(&self) -> f64 {
        self.body.friction_ratio()
    }

    fn contact_readings(&self) -> Vec<ContactReading> {
        let contact = self.body.contact.iter();
        contact
            .flat_map(|c| c.readings(&self.body.rod, self.layout.stations()))
            .collect()
    }

    fn clamp_reaction(&self) -> ClampReaction {
        let gradient = &self.newton.gradient;
        self.body
            .clamp_reaction(self.layout.exit(), gradient, &self.guide_end())
    }

    fn contact(&self) -> ContactSummary {
        self.body.on_wall(self.layout.stations())
    }

    fn patches(&self) -> Vec<Patch> {
        self.body.patches_on_wall(self.layout.stations())
    }

    fn elastic(&self) -> Energies {
        self.body.rod.stored()
    }

    fn stored(&self) -> f64 {
        let around = self.body.stored_around(self.layout.stations());
        let guide = self.guide_tip.stored(&self.guide_end());
        let vessel = self.body.giving.as_ref().map_or(0.0, Giving::energy);
        self.elastic().total() + self.layout.held_straight() + around + guide + vessel
    }

    fn shape(&self) -> Vec<Vector3<f64>> {
        let nodes = (0..=self.layout.exit()).rev();
        nodes.map(|i| self.body.rod.node(i)).collect()
    }

    fn wire_shape(&self) -> WireShape {
        let (wall_force_mn, curvature_per_mm) = shape::along(&self.body, self.layout.exit());
        WireShape {
            fed_mm: self.outside_mm(),
            nodes_mm: self.shape(),
            wall_force_mn,
            curvature_per_mm,
            diameter_mm: self.layout.diameters(),
            beside: None,
        }
    }

    fn stations(&self) -> &[f64] {
        self.layout.stations()
    }

    fn behind_front(&self, distance_mm: f64) -> Vector3<f64> {
        let (stations, exit) = (self.layout.stations(), self.layout.exit());
        shape::behind_front(&self.body.rod, stations, exit, distance_mm)
    }

    fn set(&self) -> CoreSet {
        self.layout.set()
    }

    fn strains(&self) -> (f64, f64) {
        let (rod, exit) = (&self.body.rod, self.layout.exit());
        let wire = self.layout.wire();
        let mut bending: f64 = 0.0;
        for i in (1..=exit).filter(|&i| rod.hinges[i].is_present()) {
            let [k1, k2] = rod.curvature_beyond_natural(i);
            let extra = k1.hypot(k2) / rod.hinges[i].length;
            let s = self.layout.along_wire(self.layout.stations()[i]);
            bending = bending.max(extra * wire.core_radius(s) / wire.strain_limit());
        }
        let axial = (0..exit)
            .map(|i| (rod.kinematics().length[i] / rod.edges[i].rest_length - 1.0).abs())
            .fold(0.0, f64::max);
        (bending, axial)
    }
}
