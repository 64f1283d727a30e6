//! Newton's method with the consistent tangent: the friction's change with the normal force included.
//!
//! Residual and tangent take the Coulomb limit `mu N` of the present state, so that what converges
//! obeys Coulomb's law exactly, and does so quadratically until a contact changes its state. Which
//! contacts are active is taken from their linearised forces (see [`Contact::anticipate`]).
//!
//! There is no potential on which to search; the step is shortened until the norm of the residual
//! falls. That can hang where no equilibrium is near, as when a wire snaps over: then the search on the
//! potential follows ([`super::search`]).
//!
//! Source: Simo and Laursen, Computers and Structures 42:97, 1992; Wriggers, *Computational Contact
//! Mechanics*, 2nd ed. 2006, section 5.2 and chapter 10 (from memory).

use super::body::Body;
use super::coupled::{Sliding, solve_unsymmetric};
use super::newton::Newton;
use super::search::{Equilibrium, NewtonFailure, NewtonOptions, UNCOVERED};
use crate::contact::{Between, Contact};

/// Iterations before the attempt is given up.
const MOST: u32 = 15;
/// Least share of a step that is tried.
const LEAST_SHARE: f64 = 0.01;
/// By how much of the share of a step the norm of the residual must fall.
const ENOUGH: f64 = 0.01;

impl<const W: usize> Newton<W> {
    /// Moves the body's rod to an equilibrium near its state.
    ///
    /// # Errors
    /// [`NewtonFailure`] when it is not found within some iterations; the rod is left at the last
    /// iterate.
    pub(super) fn attempt<const S: usize>(
        &mut self,
        body: &mut Body<'_, S>,
        options: &NewtonOptions,
    ) -> Result<Equilibrium, NewtonFailure> {
        body.follow(1.0);
        body.choose_points();
        let q = &body.rod.q;
        for contact in body.contact.iter_mut().chain(&mut body.others) {
            contact.anticipate_held(q);
        }
        let found = self.iterate(body, options);
        for contact in body.contacts_mut() {
            contact.anticipate_nothing();
        }
        found
    }

    fn iterate<const S: usize>(
        &mut self,
        body: &mut Body<'_, S>,
        options: &NewtonOptions,
    ) -> Result<Equilibrium, NewtonFailure> {
        let not_finite = |iterations| {
            move |unknown| NewtonFailure::NotFinite {
                iterations,
                unknown,
            }
        };
        let mut last_step = f64::INFINITY;
        let mut uncovered = 0;
        let mut residual = self.assess(body, options).map_err(not_finite(0))?;
        for iterations in 0..=MOST {
            if options.is_reached(residual, last_step) && !body.contacts().any(Contact::pulls) {
                match body.uncover() {
                    Between::Seen => {
                        return Ok(Equilibrium {
                            iterations,
                            residual,
                            shifted: 0,
                        });
                    }
                    Between::Halved if uncovered < UNCOVERED => uncovered += 1,
                    _ => return Err(NewtonFailure::Uncovered { iterations }),
                }
                residual = self.assess(body, options).map_err(not_finite(iterations))?;
            }
            if iterations == MOST {
                break;
            }
            let iterations = iterations + 1;
            if !self.consistent_direction(body) {
                return Err(NewtonFailure::LineSearch {
                    iterations,
                    residual,
                });
            }
            self.shorten(self.limit(body, options.max_move));
            for contact in body.contact.iter_mut().chain(&mut body.others) {
                contact.foresee(&self.step);
            }
            let before = self.norm(body, options.arm);
            let (q, kinematics) = (body.rod.q.clone(), body.rod.kinematics().clone());
            let mut share = 1.0;
            loop {
                for contact in body.contacts_mut() {
                    contact.anticipate(share);
                }
                self.try_step(body, share);
                body.rod.commit(&self.trial, &mut self.kinematics);
                residual = self.assess(body, options).map_err(not_finite(iterations))?;
                let after = self.norm(body, options.arm);
                // The first step changes which contacts are active; the residual before it says little.
                let falls = iterations == 1 || after <= (1.0 - ENOUGH * share) * before;
                if falls || residual <= options.tolerance {
                    break;
                }
                share *= 0.5;
                if share < LEAST_SHARE {
                    return Err(NewtonFailure::LineSearch {
                        iterations,
                        residual,
                    });
                }
                body.rod.commit(&q, &mut kinematics.clone());
            }
            last_step = share * self.step.iter().fold(0.0, |m: f64, s| m.max(s.abs()));
        }
        Err(NewtonFailure::NotConverged {
            iterations: MOST,
            residual,
        })
    }

    /// Solves for the step with the consistent tangent at the state assessed last; false where the
    /// tangent has a pivot that is not positive.
    fn consistent_direction<const S: usize>(&mut self, body: &Body<'_, S>) -> bool {
        self.step.clear();
        self.step.extend(self.gradient.iter().map(|g| -g));
        for &i in &body.fixed {
            self.step[i] = 0.0;
        }
        let scale = self.hessian.largest_diagonal().max(f64::MIN_POSITIVE);
        let couplings = body.contacts().flat_map(Contact::couplings);
        let touches = body.touches();
        if touches.is_empty() && couplings.clone().next().is_none() {
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
        if touches.is_empty() {
            self.lu.solve(&mut self.step);
            return true;
        }
        let system = Sliding {
            factor: &self.lu,
            touches,
            fixed: &body.fixed,
        };
        solve_unsymmetric(&system, 4 * touches.len() + 8, &mut self.step)
    }

    /// Euclidean norm of the residual in mN, a moment counting as the force at `arm` mm.
    fn norm<const S: usize>(&self, body: &Body<'_, S>, arm: f64) -> f64 {
        let mut fixed = body.fixed.iter().copied().peekable();
        let mut sum = 0.0;
        for (i, g) in self.gradient.iter().enumerate() {
            if fixed.next_if_eq(&i).is_none() {
                sum += (if i % S >= 3 { g / arm } else { *g }).powi(2);
            }
        }
        sum.sqrt()
    }
}
