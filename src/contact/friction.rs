//! Coulomb friction with elastic sticking.
//!
//! The wall gives a little before the wire slides on it: up to the Coulomb limit the tangential
//! force grows with the tangential displacement `s` that the contact has gathered, at the wall's
//! own stiffness; beyond it the contact slides and keeps the force of the limit. There is no
//! creep: a contact that sticks stays, however many steps are taken.
//!
//! Equation: with the normal force `N` fixed, the incremental potential is
//! `k w |s|²/2` for `k w |s| <= mu N` and `mu N |s| - (mu N)²/(2 k w)` beyond;
//! its gradient is the friction force.
//! Symbols: `k` tangential wall stiffness in mN/mm², `w` weight in mm, `mu` Coulomb coefficient,
//! `s` displacement in mm of the wire's surface against the wall, gathered while in contact.
//! Source: return mapping of elastic-perfectly plastic friction, Wriggers, *Computational Contact
//! Mechanics*, 2nd ed. 2006, section 5.2 (the slip rule) with its potential for fixed `N`.

use nalgebra::{Matrix3, Vector3};

use super::wall::Surface;
use crate::faults;
use crate::products::outer;

/// Memory of one contact point between steps.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct FrictionState {
    /// Elastic tangential displacement of the wall, in mm.
    pub displacement: Vector3<f64>,
}

impl FrictionState {
    /// The displacement turned into the plane across `normal`, a unit vector.
    pub(super) fn in_plane(&self, normal: &Vector3<f64>) -> Vector3<f64> {
        let before = self.displacement;
        let flat = before - normal * before.dot(normal);
        let flat_size = flat.norm();
        if flat_size > 0.0 {
            flat * (before.norm() / flat_size)
        } else {
            Vector3::zeros()
        }
    }
}

/// The Coulomb limits used last, by contact point; friction that follows the normal force slowly
/// takes a mean of the limit now and the one used last, which come together as a search converges.
pub(super) struct LastLimits<'l, I: Iterator<Item = &'l ActiveContact>> {
    last: std::iter::Peekable<I>,
}

impl<'l, I: Iterator<Item = &'l ActiveContact>> LastLimits<'l, I> {
    /// Of these active contacts, in the order of their points.
    pub(super) fn new(active_contacts: I) -> Self {
        Self {
            last: active_contacts.peekable(),
        }
    }

    /// The limit used last at `point`, changed by that `share` of the way to `limit`; points are asked
    /// in their order.
    pub(super) fn eased(&mut self, point: usize, limit: f64, share: f64) -> f64 {
        if share >= 1.0 {
            return limit;
        }
        while self.last.next_if(|last| last.point < point).is_some() {}
        let last = self.last.next_if(|last| last.point == point);
        let before = last.map_or(0.0, |last| last.limit);
        share * limit + (1.0 - share) * before
    }
}

/// A contact point in touch, with everything about it that is held fixed in one iteration.
#[derive(Debug, Clone, Copy)]
pub struct ActiveContact {
    /// Index of the contact point.
    pub point: usize,
    /// Unit normal, out of the lumen.
    pub normal: Vector3<f64>,
    /// Way of the surface per rolled length when the wire spins forward about its tangent:
    /// `t × n`, of length 1 where the wire lies along the wall, 0 where its end stands on it.
    pub spin: Vector3<f64>,
    /// Deflection of the wall in mm.
    pub depth: f64,
    /// Normal force in mN.
    pub normal_force: f64,
    /// Coulomb limit `mu N` in mN.
    pub limit: f64,
    /// Tangential stiffness `k w` in mN/mm.
    pub stiffness: f64,
    /// Normal stiffness `dN/dδ` in mN/mm.
    pub(super) normal_stiffness: f64,
    /// Elastic energy of the normal force in mN mm over `k w δ²/2`: 1 for a linear wall.
    pub(super) stored_share: f64,
    /// Displacement gathered before this step, in the present tangent plane, in mm.
    pub before: Vector3<f64>,
    /// Displacement of the wall in this step, in mm.
    pub wall_moved: Vector3<f64>,
    /// Velocity of a wall that moves by itself, in mm/s.
    pub(super) wall_velocity: Vector3<f64>,
}

impl ActiveContact {
    /// A contact of two round bodies whose surfaces overlap by `depth` (mm) along the unit vector `normal`,
    /// at a contact point of `weight` (mm); `ease` takes the Coulomb limit now (mN) and returns the one
    /// to be used.
    pub(super) fn of_overlap(
        point: usize,
        normal: Vector3<f64>,
        depth: f64,
        (surface, weight): (&Surface, f64),
        memory: &FrictionState,
        ease: impl FnOnce(f64) -> f64,
    ) -> Self {
        let law = surface.wall.respond(depth);
        let secant = law.secant() * weight;
        let stiffness = surface.wall.tangential_stiffness();
        Self {
            point,
            normal,
            spin: Vector3::zeros(),
            depth,
            normal_force: secant * depth,
            limit: ease(surface.friction * secant * depth),
            stiffness: stiffness * weight,
            normal_stiffness: law.stiffness() * weight,
            stored_share: law.mean() / stiffness,
            before: memory.in_plane(&normal),
            wall_moved: Vector3::zeros(),
            wall_velocity: Vector3::zeros(),
        }
    }

    /// Total displacement gathered against the wall, for a displacement `u` of the wire's axis and a
    /// surface displacement `rolled` (mm) by spinning in this step.
    #[must_use]
    pub fn displacement(&self, u: &Vector3<f64>, rolled: f64) -> Vector3<f64> {
        let u = &(u - self.wall_moved);
        self.before + u - self.normal * self.normal.dot(u) + self.spin * rolled
    }

    /// Incremental potential in mN mm.
    #[must_use]
    pub fn potential(&self, s: &Vector3<f64>) -> f64 {
        let size = s.norm();
        if self.stiffness * size <= self.limit {
            0.5 * self.stiffness * size * size
        } else {
            self.limit * (size - 0.5 * self.limit / self.stiffness)
        }
    }

    /// Friction force that the wall's resistance adds to the gradient (mN), and its derivative
    /// with respect to the displacement (mN/mm).
    #[must_use]
    pub fn force(&self, s: &Vector3<f64>) -> (Vector3<f64>, Matrix3<f64>) {
        let plane = Matrix3::identity() - outer(&self.normal, &self.normal);
        let size = s.norm();
        if self.stiffness * size <= self.limit {
            (s * self.stiffness, plane * self.stiffness)
        } else {
            let direction = s / size;
            let turning = plane - outer(&direction, &direction);
            let limit = faults::friction_sign() * self.limit;
            (direction * limit, turning * (limit / size))
        }
    }

    /// Direction in which the contact slides at the displacement `s`, a unit vector; `None` where it
    /// sticks.
    #[must_use]
    pub fn sliding(&self, s: &Vector3<f64>) -> Option<Vector3<f64>> {
        let size = s.norm();
        (self.stiffness * size > self.limit).then(|| s / size)
    }

    /// Friction force at the displacement `s` over the limit `friction` times the normal force of this
    /// state, whatever limit was used; 0 without friction.
    #[must_use]
    pub fn share_of_coulomb(&self, friction: f64, s: &Vector3<f64>) -> f64 {
        let limit = friction * self.normal_force;
        if limit > 0.0 {
            self.force(s).0.norm() / limit
        } else {
            0.0
        }
    }

    /// Elastic displacement kept for the next step, and the energy lost to sliding in mN mm.
    #[must_use]
    pub fn settle(&self, s: &Vector3<f64>) -> (Vector3<f64>, f64) {
        let size = s.norm();
        if self.stiffness * size <= self.limit {
            (*s, 0.0)
        } else {
            let kept = self.limit / self.stiffness;
            (s * (kept / size), self.limit * (size - kept))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn example() -> ActiveContact {
        ActiveContact {
            point: 0,
            normal: Vector3::z(),
            spin: Vector3::y(),
            depth: 0.02,
            normal_force: 5.0,
            limit: 1.0,
            stiffness: 200.0,
            normal_stiffness: 200.0,
            stored_share: 1.0,
            wall_moved: Vector3::zeros(),
            wall_velocity: Vector3::zeros(),
            before: Vector3::new(0.001, -0.002, 0.0),
        }
    }

    #[test]
    fn force_is_the_gradient_of_the_potential_over_decades_of_displacement() {
        for decade in -5..2 {
            let size = 10f64.powi(decade);
            let s = Vector3::new(0.6, 0.8, 0.0) * size;
            let g = example();
            let h = size * 1e-5;
            for axis in [Vector3::x(), Vector3::y()] {
                let slope =
                    (g.potential(&(s + axis * h)) - g.potential(&(s - axis * h))) / (2.0 * h);
                assert_relative_eq!(slope, g.force(&s).0.dot(&axis), max_relative = 1e-6);
                let bend = (g.force(&(s + axis * h)).0 - g.force(&(s - axis * h)).0) / (2.0 * h);
                assert_relative_eq!(
                    bend,
                    g.force(&s).1 * axis,
                    max_relative = 1e-5,
                    epsilon = 1e-9
                );
            }
        }
    }

    #[test]
    fn a_sliding_contact_keeps_the_coulomb_force_in_any_direction() {
        for k in 0..12 {
            let angle = f64::from(k) * 0.5;
            let s = Vector3::new(angle.cos(), angle.sin(), 0.0);
            assert_relative_eq!(example().force(&s).0.norm(), 1.0, max_relative = 1e-12);
        }
    }

    #[test]
    fn a_sticking_contact_does_not_creep() {
        let mut g = example();
        g.before = Vector3::zeros();
        let s = Vector3::new(0.004, 0.0, 0.0);
        for _ in 0..1000 {
            let (kept, lost) = g.settle(&s);
            assert_eq!((kept, lost), (s, 0.0));
        }
    }
}
