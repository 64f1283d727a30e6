//! The incremental potential of a body, its gradient and its Hessian.

use super::Body;
use crate::rod::{Kinematics, node_of};
use crate::solve::banded::Banded;
use crate::solve::giving::Giving;

impl<const S: usize> Body<'_, S> {
    /// Potential of damping at the unknowns `q` in mN mm.
    pub(super) fn damping_energy(&self, q: &[f64]) -> f64 {
        let mut sum = 0.0;
        if self.damping > 0.0 {
            for (i, w) in self.weights.iter().enumerate() {
                for k in S * i..S * i + 3 {
                    sum += w * (q[k] - self.start[k]).powi(2);
                }
            }
        }
        0.5 * self.damping * sum
    }

    /// Incremental potential of the unknowns `q` in mN mm, with the friction's normal forces as
    /// of the last [`Body::assemble`].
    #[must_use]
    pub fn potential(&mut self, q: &[f64], kinematics: &Kinematics) -> f64 {
        let touching = self.contact.iter_mut().chain(&mut self.others);
        let contact: f64 = touching.map(|c| c.energy(q)).sum();
        let self_contact = self.self_contact_energy(q);
        let vessel = self.giving.as_ref().map_or(0.0, Giving::energy);
        self.rod.energies(q, kinematics).total()
            + self.supports(q)
            + self.bore_energy(q)
            + self_contact
            + contact
            + vessel
    }

    fn self_contact_energy(&mut self, q: &[f64]) -> f64 {
        let self_contact = self.self_contact.as_mut();
        self_contact.map_or(0.0, |self_contact| self_contact.energy::<S>(q))
    }

    fn bore_energy(&self, q: &[f64]) -> f64 {
        let bore = self.bore.as_ref();
        bore.map_or(0.0, |bore| bore.energy::<S>(q))
    }

    /// Potential of damping, loads and springs in mN mm.
    fn supports(&self, q: &[f64]) -> f64 {
        let mut sum = self.damping_energy(q);
        for load in &self.loads {
            sum -= load.force * q[load.unknown];
        }
        for spring in &self.springs {
            let d = node_of::<S>(q, spring.node) - spring.anchor;
            sum += 0.5 * d.dot(&(spring.stiffness * d));
        }
        sum
    }

    /// Incremental potential at the rod's state in mN mm, and its rounding error: a difference of two
    /// potentials near it that is smaller cannot be trusted. Sums are rounded, and every force multiplies
    /// positions that are rounded to their last digit.
    #[must_use]
    pub fn present(&mut self) -> (f64, f64) {
        let q = &self.rod.q;
        let self_contact = self
            .self_contact
            .as_mut()
            .map_or(0.0, |self_contact| self_contact.energy::<S>(q));
        let touching = self.contact.iter_mut().chain(&mut self.others);
        let wall: f64 = touching.map(|c| c.energy(q)).sum();
        let elastic = self.rod.stored().total();
        let reach = (0..self.rod.nodes()).fold(0.0, |m: f64, i| m.max(self.rod.node(i).amax()));
        let loads: f64 = self
            .loads
            .iter()
            .map(|l| (l.force * q[l.unknown]).abs())
            .sum();
        let touching = self.contact.iter().chain(&self.others);
        let contact: f64 = touching
            .map(|c| {
                c.active_contacts()
                    .iter()
                    .map(|g| g.normal_force)
                    .sum::<f64>()
            })
            .sum::<f64>()
            + self
                .pairs()
                .iter()
                .map(|t| t.active.normal_force)
                .sum::<f64>();
        let vessel = self.giving.as_ref().map_or(0.0, Giving::energy);
        let inside = self.bore_energy(q);
        let potential = elastic + self.supports(q) + self_contact + wall + vessel + inside;
        let rounding = 1e-13 * (potential.abs() + elastic)
            + 4.0 * f64::EPSILON * (reach * (self.rod.force_scale() + contact) + loads);
        (potential, rounding)
    }

    /// Gradient (mN, mN mm) and Hessian of the incremental potential at the rod's state; what couples
    /// the legs of a folded wire lies off the band and is left to [`Body::pairs`]. Fixed unknowns
    /// keep their gradient, which is the reaction there with its sign turned.
    pub fn assemble<const W: usize>(&mut self, gradient: &mut Vec<f64>, hessian: &mut Banded<W>) {
        let n = self.rod.q.len();
        gradient.clear();
        gradient.resize(n, 0.0);
        hessian.reset(n);
        self.rod.add_derivatives(gradient, hessian);
        if self.damping > 0.0 {
            for (i, w) in self.weights.iter().enumerate() {
                for k in S * i..S * i + 3 {
                    gradient[k] += self.damping * w * (self.rod.q[k] - self.start[k]);
                    hessian.add(k, k, self.damping * w);
                }
            }
        }
        for load in &self.loads {
            gradient[load.unknown] -= load.force;
        }
        for spring in &self.springs {
            let k = S * spring.node;
            let force = spring.stiffness * (self.rod.node(spring.node) - spring.anchor);
            for c in 0..3 {
                gradient[k + c] += force[c];
                for r in c..3 {
                    hessian.add(k + r, k + c, spring.stiffness[(r, c)]);
                }
            }
        }
        for contact in self.contact.iter_mut().chain(&mut self.others) {
            contact.add_derivatives(&self.rod, gradient, hessian);
        }
        if let Some(self_contact) = &mut self.self_contact {
            self_contact.add_derivatives(&self.rod, gradient, hessian);
        }
        if let Some(bore) = &self.bore {
            bore.add_derivatives::<S, W>(&self.rod.q, gradient, hessian);
        }
        if self.rigid_end {
            fold_last_node::<S, W>(gradient, hessian);
        }
        self.assemble_vessel();
    }
}

/// Moves what acts on the last node to the node before it, as when the last edge is rigid and
/// keeps its direction.
fn fold_last_node<const S: usize, const W: usize>(gradient: &mut [f64], hessian: &mut Banded<W>) {
    let last = gradient.len() - 3;
    let before = last - S;
    for c in 0..3 {
        gradient[before + c] += gradient[last + c];
        gradient[last + c] = 0.0;
    }
    // The last edge's own stretch does not change, so of the last node's blocks only the hinge
    // before it counts: couplings with the node before it become diagonal, couplings with
    // earlier unknowns move over.
    let first = last.saturating_sub(2 * S);
    for c in 0..3 {
        for j in first..before {
            let value = hessian.get(last + c, j);
            hessian.add(before + c, j, value);
        }
        for d in 0..=c {
            let value = hessian.get(last + c, before + d)
                + hessian.get(last + d, before + c)
                + hessian.get(last + c, last + d);
            hessian.add(before + c, before + d, value);
        }
        for theta in before + 3..last {
            let value = hessian.get(last + c, theta);
            hessian.add(theta, before + c, value);
        }
    }
    for c in 0..3 {
        hessian.fix(last + c, 1.0);
    }
}
