//! The linear systems of an iteration: the step of a rod, alone or with a vessel that gives way.

use nalgebra::Vector3;

use super::Newton;
use crate::contact::Contact;
use crate::solve::body::Body;
use crate::solve::coupled::{
    Coupled, SlidingPairs, SymmetricPairs, VesselPairs, solve_unsymmetric,
};
use crate::solve::search::NewtonOptions;

impl<const W: usize> Newton<W> {
    /// Solves for the step; returns whether the Hessian had to be shifted.
    pub(super) fn direction<const S: usize>(
        &mut self,
        body: &Body<'_, S>,
        options: &NewtonOptions,
    ) -> bool {
        self.step.clear();
        self.step.extend(self.gradient.iter().map(|g| -g));
        for &i in &body.fixed {
            self.step[i] = 0.0;
        }
        if body.giving.is_some() {
            return self.direction_with_vessel(body);
        }
        let shift = self.factorise(&body.fixed);
        let pairs = body.pairs();
        if pairs.is_empty() {
            self.factor.solve(&mut self.step);
        } else {
            let system = SymmetricPairs {
                factor: &self.factor,
                pairs,
                fixed: &body.fixed,
            };
            let until = (4 * pairs.len(), Coupled::SHARE * options.tolerance);
            self.coupled.solve(&system, until, &mut self.step);
        }
        shift > 0.0
    }

    /// Takes the unknowns `fixed` out of the Hessian and factorises it with the least of the shifts
    /// tried that makes it positive definite, which is returned.
    pub(in crate::solve) fn factorise(&mut self, fixed: &[usize]) -> f64 {
        let scale = self.hessian.largest_diagonal().max(f64::MIN_POSITIVE);
        for &i in fixed {
            self.hessian.fix(i, scale);
        }
        let (hessian, factor) = (&self.hessian, &mut self.factor);
        least_shift(scale, &mut self.shift, |shift| {
            hessian.factorise(shift, factor)
        })
    }

    /// Solves for the step with the consistent tangent at the state assessed last; false where the
    /// tangent has a pivot that is not positive.
    pub(super) fn consistent_direction<const S: usize>(&mut self, body: &Body<'_, S>) -> bool {
        self.step.clear();
        self.step.extend(self.gradient.iter().map(|g| -g));
        for &i in &body.fixed {
            self.step[i] = 0.0;
        }
        let scale = self.hessian.largest_diagonal().max(f64::MIN_POSITIVE);
        if body.giving.is_some() {
            self.begin_with_vessel(body);
            return self.together.factorise(body, &self.hessian, (0.0, scale))
                && self.solve_with_vessel(body, true);
        }
        let couplings = body.contacts().flat_map(Contact::couplings);
        let pairs = body.pairs();
        if pairs.is_empty() && couplings.clone().next().is_none() {
            for &i in &body.fixed {
                self.hessian.fix(i, scale);
            }
            if !self.hessian.factorise(0.0, &mut self.factor) {
                return false;
            }
            self.factor.solve(&mut self.step);
            return true;
        }
        if !self
            .lu
            .factorise(&self.hessian, couplings, &body.fixed, scale)
        {
            return false;
        }
        if pairs.is_empty() {
            self.lu.solve(&mut self.step);
            return true;
        }
        let system = SlidingPairs {
            factor: &self.lu,
            pairs,
            fixed: &body.fixed,
        };
        solve_unsymmetric(&system, 4 * pairs.len() + 8, &mut self.step)
    }

    /// Notes from where the vessel's step begins, and its right-hand side.
    fn begin_with_vessel<const S: usize>(&mut self, body: &Body<'_, S>) {
        if let Some(giving) = &body.giving {
            self.vessel.clone_from(&giving.moved);
            self.vessel_step.clear();
            self.vessel_step.extend(giving.gradient.iter().map(|g| -g));
        }
    }

    /// [`Newton::direction`] for a device in a vessel that gives way.
    fn direction_with_vessel<const S: usize>(&mut self, body: &Body<'_, S>) -> bool {
        self.begin_with_vessel(body);
        let scale = self.hessian.largest_diagonal().max(f64::MIN_POSITIVE);
        let (hessian, together) = (&self.hessian, &mut self.together);
        let shift = least_shift(scale, &mut self.shift, |shift| {
            together.factorise(body, hessian, (shift, scale))
        });
        self.solve_with_vessel(body, false);
        shift > 0.0
    }

    /// Solves for the steps of device and vessel with the factors at hand; with what `slides` of the
    /// touches of a folded wire. Returns false where that breaks down.
    fn solve_with_vessel<const S: usize>(&mut self, body: &Body<'_, S>, slides: bool) -> bool {
        let pairs = body.pairs();
        let n = self.step.len();
        let mut x = self.step.clone();
        x.extend(self.vessel_step.iter().flat_map(|v| [v.x, v.y, v.z]));
        let solved = if pairs.is_empty() {
            self.together.solve(&mut x);
            true
        } else {
            let system = VesselPairs {
                together: &self.together,
                pairs,
                fixed: &body.fixed,
                slides,
            };
            solve_unsymmetric(&system, 4 * pairs.len() + 8, &mut x)
        };
        self.step.copy_from_slice(&x[..n]);
        for (v, x) in self.vessel_step.iter_mut().zip(x[n..].chunks_exact(3)) {
            *v = Vector3::from_column_slice(x);
        }
        solved
    }
}

/// The least of the shifts tried on the diagonal, of a matrix whose largest entry there is `scale`, with
/// which it can be factorised; `last` is the shift that was needed before.
fn least_shift(scale: f64, last: &mut f64, mut factorises: impl FnMut(f64) -> bool) -> f64 {
    let mut shift = 0.0;
    while !factorises(shift) {
        shift = if shift > 0.0 {
            shift * 10.0
        } else {
            (0.1 * *last).max(1e-10 * scale)
        };
    }
    if shift > 0.0 {
        *last = shift;
    }
    shift
}
