//! Newton's method with the consistent tangent: the friction's change with the normal force included.
//!
//! Residual and tangent take the Coulomb limit `mu N` of the present state, so that what converges
//! obeys Coulomb's law exactly, and does so quadratically until a contact changes its state. Which
//! contacts are active, and by what force they slide, is taken from their linearised forces (see
//! [`Contact::anticipate`]); steps are taken as they are.
//!
//! A wall that is hard for the spacing of its contact points is softened at first: where the wire lies
//! is found with few contacts that hardly change, and the hard wall moves it by a fraction of its
//! deflection.
//!
//! All this can hang where no equilibrium is near, as when a wire snaps over: then the search on the
//! potential follows ([`super::search`]).
//!
//! Source: Simo and Laursen, Computers and Structures 42:97, 1992; Wriggers, *Computational Contact
//! Mechanics*, 2nd ed. 2006, section 5.2 and chapter 10 (from memory).

use super::body::Body;
use super::coupled::{Sliding, solve_unsymmetric};
use super::newton::Newton;
use super::search::{Equilibrium, NewtonFailure, NewtonOptions, UNCOVERED};
use crate::contact::{Between, Contact, Forces};

/// Iterations before the attempt is given up.
const MOST: u32 = 15;
/// Iterations after which a step that is still too long to be taken as it is shows that the wire is on
/// its way to somewhere else.
const SETTLED: u32 = 6;
/// Iterations in which every point that touches becomes active at once at a wall that is not hard; it
/// is quicker where the contact spreads, and may go round where it hardly presses.
const ALL_AT_ONCE: u32 = 3;
/// Spacing of contact points over the length in which a wire on an elastic foundation bends, to which a
/// hard wall is softened.
const HARD: f64 = 0.5;
/// Share of the stiffness above which softening is skipped.
const HARDLY_SOFTER: f64 = 0.5;
/// Factor on the tolerance at the softened wall.
const SOFT_TOLERANCE: f64 = 1e3;

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
        let found = self.soft_then_hard(body, options);
        for contact in body.contacts_mut() {
            contact.go_by(Forces::Present);
            contact.softened = 1.0;
        }
        found
    }

    fn soft_then_hard<const S: usize>(
        &mut self,
        body: &mut Body<'_, S>,
        options: &NewtonOptions,
    ) -> Result<Equilibrium, NewtonFailure> {
        let mut spent = 0;
        let softening = softening(body);
        let is_hard = softening.is_some();
        if let Some(softened) = softening {
            for contact in body.contacts_mut() {
                contact.softened = softened;
            }
            let near = NewtonOptions {
                tolerance: SOFT_TOLERANCE * options.tolerance,
                ..*options
            };
            let found = self.iterate(body, &near, is_hard, |_| Between::Seen);
            spent = found?.iterations;
            for contact in body.contacts_mut() {
                contact.softened = 1.0;
            }
        }
        match self.iterate(body, options, is_hard, Body::uncover) {
            Ok(found) => Ok(Equilibrium {
                iterations: spent + found.iterations,
                ..found
            }),
            Err(failure) => Err(failure.after(spent)),
        }
    }

    /// Iterates until an equilibrium is found between whose contact points `uncover` sees nothing; the
    /// wall may be hard for the spacing of its points.
    fn iterate<'a, const S: usize>(
        &mut self,
        body: &mut Body<'a, S>,
        options: &NewtonOptions,
        is_hard: bool,
        mut uncover: impl FnMut(&mut Body<'a, S>) -> Between,
    ) -> Result<Equilibrium, NewtonFailure> {
        let mut last_step = f64::INFINITY;
        let mut uncovered = 0;
        for iterations in 0..=MOST {
            let mut residual = self.assess_at(body, options, iterations)?;
            if options.is_reached(residual, last_step) {
                let reached = |residual| options.is_reached(residual, last_step);
                residual = self.judge(body, options, iterations, reached)?;
            }
            if options.is_reached(residual, last_step) && !body.contacts().any(Contact::pulls) {
                match uncover(body) {
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
                residual = self.assess_at(body, options, iterations)?;
            }
            if iterations == MOST {
                return Err(NewtonFailure::NotConverged {
                    iterations,
                    residual,
                });
            }
            let solved = self.consistent_direction(body);
            let share = self.limit(body, options.max_move);
            if !solved || (iterations >= SETTLED && share < 1.0) {
                return Err(NewtonFailure::LineSearch {
                    iterations: iterations + 1,
                    residual,
                });
            }
            for contact in body.contacts_mut() {
                contact.anticipate(&self.step, share);
                contact.go_by(if !is_hard && iterations < ALL_AT_ONCE {
                    Forces::ExpectedOfAll
                } else {
                    Forces::Expected
                });
            }
            self.shorten(share);
            self.try_step(body, 1.0);
            body.rod.commit(&self.trial, &mut self.kinematics);
            last_step = self.step.iter().fold(0.0, |m: f64, s| m.max(s.abs()));
        }
        unreachable!("the loop returns in its last round")
    }

    fn assess_at<const S: usize>(
        &mut self,
        body: &mut Body<'_, S>,
        options: &NewtonOptions,
        iterations: u32,
    ) -> Result<f64, NewtonFailure> {
        let not_finite = |unknown| NewtonFailure::NotFinite {
            iterations,
            unknown,
        };
        self.assess(body, options).map_err(not_finite)
    }

    /// The residual in mN of the state assessed last, by which it is judged: with all that touches, and
    /// where contacts slide by the normal forces of their places.
    fn judge<const S: usize>(
        &mut self,
        body: &mut Body<'_, S>,
        options: &NewtonOptions,
        iterations: u32,
        reached: impl Fn(f64) -> bool,
    ) -> Result<f64, NewtonFailure> {
        let judged_by = |newton: &mut Self, body: &mut Body<'_, S>, forces| {
            for contact in body.contacts_mut() {
                contact.go_by(forces);
            }
            newton.assess_at(body, options, iterations)
        };
        if body.contacts().any(Contact::leaves_out) {
            let residual = judged_by(self, body, Forces::ExpectedOfAll)?;
            if !reached(residual) {
                return Ok(residual);
            }
        }
        let q = &body.rod.q;
        let mut same = true;
        for contact in body.contact.iter_mut().chain(&mut body.others) {
            same &= contact.take_present_limits(q);
        }
        if same {
            let residual = self.residual(body, options.arm);
            return residual.map_err(|unknown| NewtonFailure::NotFinite {
                iterations,
                unknown,
            });
        }
        judged_by(self, body, Forces::Present)
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
}

/// The share of its stiffness to which a wall is softened at first; `None` where it is not hard.
///
/// Equation: a beam of bending stiffness `B` on a foundation of stiffness `k` bends within `1/beta`,
/// `beta = (k / 4B)^(1/4)`.
/// Source: Hetenyi, *Beams on Elastic Foundation*, 1946 (from memory).
fn softening<const S: usize>(body: &Body<'_, S>) -> Option<f64> {
    let softest =
        |b: f64, hinge: &crate::rod::Hinge| b.min(hinge.length / hinge.bending_compliance);
    let bending = body.rod.hinges.iter().fold(f64::INFINITY, softest);
    let hardness = |contact: &Contact<'_, S>| {
        let surface = &contact.surface;
        (surface.wall.respond(0.0).stiffness() / (4.0 * bending)) * (surface.spacing / HARD).powi(4)
    };
    let hardest = body.contacts().map(hardness).fold(0.0, f64::max);
    Some(1.0 / hardest).filter(|share| *share < HARDLY_SOFTER)
}
