//! What the contacts add up to.

use nalgebra::Vector3;

use super::wall::Contact;
use crate::rod::Rod;

/// Contact forces in one state.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct ContactSummary {
    /// Sum of all normal forces in mN.
    pub total_force: f64,
    /// Largest normal force gathered within [`Contact::PATCH_MM`] of wire, in mN.
    pub largest_force: f64,
    /// Deepest deflection of the wall in mm, between contact points too.
    pub deepest: f64,
    /// Wall force in mN on the last millimetre of the tip, along the tip's direction (positive:
    /// pushing the tip back).
    pub tip_force: f64,
    /// Sum of the magnitudes of all friction forces in mN.
    pub friction_force: f64,
    /// Elastic energy in the wall, normal and tangential, in mN mm.
    pub stored: f64,
}

/// The normal forces of one device within [`Contact::PATCH_MM`] of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Patch {
    /// Mean of the places on the axis where they act, weighted by the forces, in mm.
    pub centre: Vector3<f64>,
    /// Their sum in mN, above 0.
    pub force: f64,
}

/// Direction of the wire at its tip, forwards. Edges have the direction of their middles; from two of
/// them that of the end follows to second order in their length.
fn tip_direction<const S: usize>(rod: &Rod<S>) -> Vector3<f64> {
    let first = rod.tangent(0);
    if rod.edges.len() < 2 {
        return -first;
    }
    let [a, b] = [0, 1].map(|i| rod.edges[i].rest_length);
    let turning = (rod.tangent(1) - first) * (a / (a + b));
    -(first - turning).normalize()
}

impl ContactSummary {
    /// Together with the contacts of another device, whose tip does not count.
    #[must_use]
    pub fn with(&self, other: &Self) -> Self {
        Self {
            total_force: self.total_force + other.total_force,
            largest_force: self.largest_force.max(other.largest_force),
            deepest: self.deepest.max(other.deepest),
            tip_force: self.tip_force,
            friction_force: self.friction_force + other.friction_force,
            stored: self.stored + other.stored,
        }
    }
}

impl<const S: usize> Contact<'_, S> {
    /// Length of wire in mm over which forces count as one contact when the largest force on the
    /// wall is reported; about the length of a wire tip's flank.
    pub const PATCH_MM: f64 = 1.0;

    /// Part of the push force that friction takes up on the edge where wire flows in: the force
    /// on the inflowing material along `axis`, in mN.
    #[must_use]
    pub fn inflow_force(&self, rod: &Rod<S>, axis: &Vector3<f64>) -> f64 {
        self.inflow
            .map_or(0.0, |(node, _)| self.flow_force(rod, node, axis))
    }

    /// The same on the edge in front of the node at which wire comes out of a catheter.
    #[must_use]
    pub fn slip_force(&self, rod: &Rod<S>, axis: &Vector3<f64>) -> f64 {
        self.slip
            .map_or(0.0, |(node, _)| self.flow_force(rod, node, axis))
    }

    fn flow_force(&self, rod: &Rod<S>, node: usize, axis: &Vector3<f64>) -> f64 {
        let mut sum = 0.0;
        for active in self.active_contacts.iter().rev() {
            let point = &self.points[active.point];
            if point.edge + 1 > node {
                continue;
            }
            if point.edge + 1 < node {
                break;
            }
            let friction = active.force(&self.gathered(active, &rod.q)).0;
            sum += friction.dot(axis) * point.fraction;
        }
        sum
    }

    /// Largest normal force gathered within [`Contact::PATCH_MM`] on the surface of one device
    /// (0 the wire, 1 the catheter), in mN.
    #[must_use]
    pub fn largest_force_on(&self, layer: usize, rod: &Rod<S>, stations: &[f64]) -> f64 {
        let own: Vec<(f64, f64)> = self
            .active_contacts
            .iter()
            .filter(|g| self.points[g.point].layer == layer)
            .map(|g| (self.station(rod, stations, g.point), g.normal_force))
            .collect();
        let patch = |&(end, _): &(f64, f64)| -> f64 {
            let within = |s: f64| s <= end && s >= end - Self::PATCH_MM;
            own.iter().filter(|(s, _)| within(*s)).map(|(_, f)| f).sum()
        };
        own.iter().map(patch).fold(0.0, f64::max)
    }

    /// A patch for every contact in touch, from the front of the rod: the contacts up to
    /// [`Contact::PATCH_MM`] in front of it, with itself. `stations` gives the distance of each
    /// node from the front along the rod in mm.
    pub fn patches(&self, rod: &Rod<S>, stations: &[f64]) -> impl Iterator<Item = Patch> {
        let at: Vec<f64> = (self.active_contacts.iter())
            .map(|active| self.station(rod, stations, active.point))
            .collect();
        let mut first = 0;
        self.active_contacts
            .iter()
            .enumerate()
            .filter_map(move |(last, _)| {
                while at[first] < at[last] - Self::PATCH_MM {
                    first += 1;
                }
                let (mut force, mut moment) = (0.0, Vector3::zeros());
                for active in &self.active_contacts[first..=last] {
                    force += active.normal_force;
                    moment += self.point_position(rod, active.point) * active.normal_force;
                }
                let centre = moment / force;
                (force > 0.0).then_some(Patch { centre, force })
            })
    }

    /// Distance of a contact point from the tip along the wire, in mm.
    pub(super) fn station(&self, rod: &Rod<S>, stations: &[f64], point: usize) -> f64 {
        let p = &self.points[point];
        stations[p.edge] + p.fraction * rod.edges[p.edge].rest_length
    }

    /// Sums the contact forces at the rod's state; `stations` gives the distance of each node
    /// from the tip along the wire in mm.
    #[must_use]
    pub fn summary(&self, rod: &Rod<S>, stations: &[f64]) -> ContactSummary {
        let forces = self.patches(rod, stations).map(|patch| patch.force);
        let mut out = ContactSummary {
            largest_force: forces.fold(0.0, f64::max),
            ..ContactSummary::default()
        };
        let forward = tip_direction(rod);
        out.deepest = self.between_mm.max(0.0);
        for active in &self.active_contacts {
            let at = self.station(rod, stations, active.point);
            out.total_force += active.normal_force;
            out.deepest = out.deepest.max(active.depth);
            let s = self.gathered(active, &rod.q);
            let (friction, _) = active.force(&s);
            out.friction_force += friction.norm();
            let (kept, _) = active.settle(&s);
            let pressed = active.depth * active.depth * active.stored_share;
            out.stored += 0.5 * active.stiffness * (pressed + kept.norm_squared());
            if at <= Self::PATCH_MM {
                out.tip_force += (active.normal * active.normal_force + friction).dot(&forward);
            }
        }
        out
    }
}
