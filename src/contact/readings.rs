//! What every single contact does: place, forces, and how far its friction is from sliding.

use nalgebra::Vector3;

use super::wall::Contact;
use crate::rod::Rod;

/// One active contact of a device in equilibrium.
///
/// ```
/// use bendwise::prelude::*;
///
/// let vessel = VesselBuilder::tube_mm(3.0)
///     .straight_mm(10.0)
///     .arc_mm_deg(15.0, 90.0)
///     .straight_mm(30.0)
///     .build()?;
/// let wire = WireBuilder::from_tip_load_gf(1.0, &[(20.0, 0.07), (100.0, 0.13)])
///     .friction(0.05)
///     .build()?;
/// let mut pushed = vessel.insert(&wire)?;
/// pushed.feed(40.0)?;
/// let mut wall_force = 0.0;
/// for at in pushed.contact_readings() {
///     println!("{:5.1} mm from the tip: {:.3} mN", at.from_front_mm, at.normal_force.norm());
///     wall_force += at.normal_force.norm();
///     // Coulomb's law.
///     assert!(at.friction_force.norm() <= 1.001 * 0.05 * at.normal_force.norm());
/// }
/// assert!(wall_force > 0.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ContactReading {
    /// Device whose surface it lies on: 0 the wire, 1 the catheter that covers it.
    pub layer: usize,
    /// Distance from the front along the rod in mm.
    pub from_front_mm: f64,
    /// Place on the axis in mm.
    pub place: Vector3<f64>,
    /// Length of device for which it stands in mm: the spacing of the contact points there.
    pub length_mm: f64,
    /// Depth of the surface in the wall in mm.
    pub depth_mm: f64,
    /// Force of the wall on the device along the wall's normal in mN, out of the wall.
    pub normal_force: Vector3<f64>,
    /// Friction force of the wall on the device in mN.
    pub friction_force: Vector3<f64>,
    /// Friction force over the Coulomb limit `mu N`: 1 where the contact slides, 0 without friction.
    pub coulomb_share: f64,
}

impl ContactReading {
    /// Force of the wall on the device per mm of device, in mN/mm: the distributed load there.
    #[must_use]
    pub fn load_per_mm(&self) -> Vector3<f64> {
        (self.normal_force + self.friction_force) / self.length_mm
    }
}

impl<const S: usize> Contact<'_, S> {
    /// The active contacts at the rod's state, whose derivatives were added last, from the front on;
    /// `stations` gives the distance of each node from the front along the rod in mm.
    pub fn readings<'r>(
        &'r self,
        rod: &'r Rod<S>,
        stations: &'r [f64],
    ) -> impl Iterator<Item = ContactReading> + 'r {
        self.active_contacts.iter().map(|active| {
            let point = &self.points[active.point];
            let gathered = self.gathered(active, &rod.q);
            let friction = self.surface_of(point.layer).friction;
            ContactReading {
                layer: point.layer,
                from_front_mm: self.station(rod, stations, active.point),
                place: self.point_position(rod, active.point),
                length_mm: point.weight,
                depth_mm: active.depth,
                normal_force: active.normal * -active.normal_force,
                friction_force: -active.force(&gathered).0,
                coulomb_share: active.share_of_coulomb(friction, &gathered),
            }
        })
    }
}
