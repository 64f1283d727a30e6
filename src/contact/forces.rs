//! What the contacts add up to.

use nalgebra::Vector3;

use super::friction::ActiveContact;
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

/// A contact's force, spread over the stretch of wire for which its point stands.
struct Stretch {
    /// Beginning and end in mm from the front of the rod; the same for the point of the tip.
    from: f64,
    to: f64,
    /// Normal force in mN.
    force: f64,
    /// Where its point lies, in mm.
    at: Vector3<f64>,
}

impl Stretch {
    /// Share of it that lies between two stations in mm.
    fn share_within(&self, from: f64, to: f64) -> f64 {
        let length = self.to - self.from;
        if length > 0.0 {
            ((self.to.min(to) - self.from.max(from)) / length).max(0.0)
        } else if (from..=to).contains(&self.from) {
            1.0
        } else {
            0.0
        }
    }
}

/// The forces within every length of [`Contact::PATCH_MM`] that begins or ends with one of the stretches,
/// which follow each other along the rod. Forces count by the part of their stretch that lies within,
/// so that it does not matter into how many contacts a force is divided.
fn windows(stretches: &[Stretch]) -> impl Iterator<Item = Patch> {
    let length = Contact::<4>::PATCH_MM;
    let begins = stretches.iter().map(|s| s.from);
    let ends = stretches.iter().map(move |s| s.to - length);
    begins.chain(ends).filter_map(move |from| {
        let to = from + length;
        let first = stretches.partition_point(|s| s.to < from);
        let (mut force, mut moment) = (0.0, Vector3::zeros());
        for stretch in stretches[first..].iter().take_while(|s| s.from <= to) {
            let share = stretch.share_within(from, to) * stretch.force;
            force += share;
            moment += stretch.at * share;
        }
        let centre = moment / force;
        (force > 0.0).then_some(Patch { centre, force })
    })
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
        let own = |g: &&ActiveContact| self.points[g.point].layer == layer;
        let own = self.active_contacts.iter().filter(own);
        let stretches: Vec<Stretch> = own.map(|g| self.stretch(rod, stations, g)).collect();
        windows(&stretches).map(|w| w.force).fold(0.0, f64::max)
    }

    /// What presses within [`Contact::PATCH_MM`], for every such length of the rod that begins or ends
    /// with a contact, from the front of the rod. `stations` gives the distance of each node from the
    /// front along the rod in mm.
    #[must_use]
    pub fn patches(&self, rod: &Rod<S>, stations: &[f64]) -> Vec<Patch> {
        windows(&self.stretches(rod, stations)).collect()
    }

    /// The stretches of all contacts, in their order.
    fn stretches(&self, rod: &Rod<S>, stations: &[f64]) -> Vec<Stretch> {
        let active = self.active_contacts.iter();
        active.map(|g| self.stretch(rod, stations, g)).collect()
    }

    /// The stretch of wire for which a contact stands.
    fn stretch(&self, rod: &Rod<S>, stations: &[f64], active: &ActiveContact) -> Stretch {
        let at = self.station(rod, stations, active.point);
        let reach = self.points[active.point].reach_mm();
        Stretch {
            from: at - reach,
            to: at + reach,
            force: active.normal_force,
            at: self.point_position(rod, active.point),
        }
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
        let stretches = self.stretches(rod, stations);
        let forces = windows(&stretches).map(|patch| patch.force);
        let mut out = ContactSummary {
            largest_force: forces.fold(0.0, f64::max),
            ..ContactSummary::default()
        };
        let forward = tip_direction(rod);
        out.deepest = self.between_mm.max(0.0);
        for (active, stretch) in self.active_contacts.iter().zip(&stretches) {
            out.total_force += active.normal_force;
            out.deepest = out.deepest.max(active.depth);
            let s = self.gathered(active, &rod.q);
            let (friction, _) = active.force(&s);
            out.friction_force += friction.norm();
            let (kept, _) = active.settle(&s);
            let pressed = active.depth * active.depth * active.stored_share;
            out.stored += 0.5 * active.stiffness * (pressed + kept.norm_squared());
            let share = stretch.share_within(0.0, Self::PATCH_MM);
            out.tip_force += share * (active.normal * active.normal_force + friction).dot(&forward);
        }
        out
    }
}
