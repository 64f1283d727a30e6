//! Gradient and Hessian of wall and friction.

use nalgebra::{Matrix3, Vector3};

use super::Contact;
use crate::contact::anticipated::{Active, Forces};
use crate::contact::coupling::{Along, Coupling};
use crate::contact::friction::{ActiveContact, LastLimits};
use crate::contact::hanging::{AtPoint, HangingContact};
use crate::contact::points::ContactPoint;
use crate::products::outer;
use crate::rod::{HessianSink, Rod};
use crate::vessel::Hang;

impl<const S: usize> Contact<'_, S> {
    /// Adds gradient and Hessian of wall and friction at the rod's state, with normal forces and
    /// friction directions taken there. The change of the normal force with position is left
    /// out of the friction's Hessian, which would not be symmetric. The limit of friction changes
    /// from the one used last by the share [`Contact::friction_relaxation`] of the way to the one here; the two
    /// come together as the search converges.
    pub fn add_derivatives<const W: usize>(
        &mut self,
        rod: &Rod<S>,
        gradient: &mut [f64],
        hessian: &mut impl HessianSink<W>,
    ) {
        self.look(&rod.q);
        std::mem::swap(&mut self.active_contacts, &mut self.last_active);
        self.active_contacts.clear();
        self.couplings.clear();
        self.hanging.clear();
        let activated = self.activate(&rod.q);
        let mut last = LastLimits::new(self.last_active.iter());
        self.anticipated.rates.clear();
        for Active {
            point: index,
            wall: lumen,
            expected,
        } in activated
        {
            let point = &self.points[index];
            let surface = self.surface_of(point.layer);
            let (radius, friction) = (surface.radius, surface.friction);
            let depth = lumen.distance_mm + radius;
            let slope = lumen.gradient.norm();
            if slope < 1e-9 {
                continue;
            }
            let law = surface.wall.respond(depth);
            let secant = self.softened * law.secant() * point.weight;
            let normal_stiffness = self.softened * law.stiffness() * point.weight;
            let stiffness = surface.wall.tangential_stiffness();
            let normal_force = secant * depth * slope;
            // By this force the contact turns and slides.
            let level = match self.anticipated.forces {
                Forces::Present => normal_force,
                Forces::Expected | Forces::ExpectedOfAll => expected,
            };
            let mut force = lumen.gradient * (secant * depth);
            let mut matrix = outer(&lumen.gradient, &lumen.gradient) * normal_stiffness
                + lumen.hessian * (level / slope);
            let mut spin_force = 0.0;
            let mut spin_row = Vector3::zeros();
            let mut spin_stiffness = 0.0;
            let normal = lumen.gradient / slope;
            let curved = lumen.hessian * normal * (depth * (law.secant() / law.stiffness()));
            let rate = (lumen.gradient * slope + curved) * normal_stiffness;
            self.anticipated.rates.push((level, rate));
            let limit = last.eased(index, friction * level, self.friction_relaxation);
            let tangent = rod.tangent(point.edge);
            let hang = (!self.vessel.is_empty()).then(|| {
                let hang = self.lumen.hang(&Self::position(point, &rod.q));
                hang.map_or_else(Hang::default, |(_, hang)| hang)
            });
            let gone = hang.as_ref().map_or_else(Vector3::zeros, |hang| {
                hang.way(&self.vessel, &self.vessel_start)
            });
            let active = ActiveContact {
                point: index,
                normal,
                spin: tangent.cross(&normal),
                depth,
                normal_force,
                limit,
                stiffness: stiffness * point.weight,
                normal_stiffness,
                stored_share: law.mean() / stiffness,
                before: point.wall.friction.in_plane(&normal),
                wall_moved: lumen.velocity * self.step_s + gone,
                wall_velocity: lumen.velocity,
            };
            let mut rubbed = (Vector3::zeros(), Matrix3::zeros());
            let mut changed = Matrix3::zeros();
            if friction > 0.0 {
                let (moved, rolled) = self.moved(point, &rod.q);
                let s = active.displacement(&moved, rolled);
                let (mut f, h) = active.force(&s);
                if let Some(way) = active.sliding(&s)
                    && self.anticipated.forces != Forces::Present
                {
                    f = way * (friction * normal_force);
                }
                if self.is_coupled {
                    let turned = lumen.hessian - outer(&normal, &(lumen.hessian * normal));
                    let along = Along {
                        friction,
                        rate,
                        normal: turned / slope,
                        tangent,
                        moved: moved - active.wall_moved,
                        rolled,
                    };
                    let change = along.change(&active, &s);
                    changed = change;
                    self.couplings.push(Coupling {
                        first: S * point.edge,
                        apart: S,
                        share: [1.0 - point.fraction, point.fraction],
                        force: change,
                        spin: (3 + point.layer, change.tr_mul(&active.spin) * radius),
                    });
                }
                rubbed = (f, h);
                force += f;
                matrix += h;
                spin_row = h * active.spin * radius;
                spin_force = f.dot(&active.spin) * radius;
                spin_stiffness = active.spin.dot(&spin_row) * radius;
            }
            if let Some(hang) = hang {
                let at = AtPoint {
                    press: secant * depth,
                    stiffness: normal_stiffness,
                    level: level / slope,
                    gradient: lumen.gradient,
                    friction: rubbed,
                    change: changed,
                    spin: active.spin * radius,
                    normal_rate: normal_stiffness * slope,
                };
                let share = [1.0 - point.fraction, point.fraction];
                let (first, spin) = (S * point.edge, 3 + point.layer);
                self.hanging
                    .push(HangingContact::new(hang, &at, first, share, spin));
            }
            self.active_contacts.push(active);
            add_point::<S, W>(
                &self.points[index],
                &force,
                &matrix,
                spin_force,
                &spin_row,
                spin_stiffness,
                gradient,
                hessian,
            );
        }
    }
}

/// Spreads force and stiffness at a point of an edge over the unknowns of the edge.
#[expect(
    clippy::too_many_arguments,
    reason = "one block of derivatives, used in one place"
)]
fn add_point<const S: usize, const W: usize>(
    point: &ContactPoint,
    force: &Vector3<f64>,
    matrix: &Matrix3<f64>,
    spin_force: f64,
    spin_row: &Vector3<f64>,
    spin_stiffness: f64,
    gradient: &mut [f64],
    hessian: &mut impl HessianSink<W>,
) {
    let (a, b) = (1.0 - point.fraction, point.fraction);
    let i = S * point.edge;
    let theta = 3 + point.layer;
    let columns = hessian.columns::<S>(i);
    for c in 0..3 {
        gradient[i + c] += a * force[c];
        gradient[i + S + c] += b * force[c];
        for r in 0..3 {
            let m = matrix[(r, c)];
            columns[c][S + r - c] += a * b * m;
            if r >= c {
                columns[c][r - c] += a * a * m;
            }
        }
        columns[c][theta - c] += a * spin_row[c];
        columns[theta][S - theta + c] += b * spin_row[c];
    }
    gradient[i + theta] += spin_force;
    columns[theta][0] += spin_stiffness;
    let columns = hessian.columns::<3>(i + S);
    for c in 0..3 {
        for r in c..3 {
            columns[c][r - c] += b * b * matrix[(r, c)];
        }
    }
}
