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

use super::search::{Equilibrium, NewtonFailure, NewtonOptions, Search, UNCOVERED};
use crate::contact::{Between, Forces};

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
pub(super) const HARD: f64 = 0.5;
/// Share of the stiffness above which softening is skipped.
const HARDLY_SOFTER: f64 = 0.5;
/// Factor on the tolerance at the softened wall.
const SOFT_TOLERANCE: f64 = 1e3;

/// A potential whose tangent is known with all of its friction.
pub(super) trait Consistent: Search {
    /// Unknowns of a state.
    type Unknowns;

    /// The unknowns of the present state.
    fn unknowns(&self) -> Self::Unknowns;
    /// Moves back to those unknowns.
    fn put_back(&mut self, unknowns: &Self::Unknowns);
    /// Whether there is anything that may be touched.
    fn has_contacts(&self) -> bool;
    /// How hard the hardest wall is for the spacing of its contact points; above 1 is too hard.
    fn hardness(&self) -> f64;
    /// Takes that share of the walls' stiffness.
    fn soften(&mut self, share: f64);
    /// Builds the friction's couplings with the normal forces, or leaves them out.
    fn couple_friction(&mut self, coupled: bool);
    /// Expects the contacts of the last accepted state.
    fn anticipate_held(&mut self);
    /// Expects the contacts after `share` of the step, to first order.
    fn anticipate(&mut self, share: f64);
    /// Whose normal forces count in the derivatives to come.
    fn use_forces(&mut self, forces: Forces);
    /// Whether a point that touches was left out of the derivatives assessed last.
    fn leaves_out(&self) -> bool;
    /// Whether an anticipated contact pulls at the state assessed last.
    fn pulls(&self) -> bool;
    /// Takes the Coulomb limits of the present normal forces; false where that changes whether a
    /// contact slides.
    fn take_present_limits(&mut self) -> bool;
    /// The residual in mN of the gradient assessed last.
    ///
    /// # Errors
    /// Index of the first unknown whose gradient is not finite.
    fn residual(&self) -> Result<f64, usize>;
    /// Solves for the step with the consistent tangent at the state assessed last; false where the
    /// tangent has a pivot that is not positive.
    fn consistent_direction(&mut self) -> bool;
    /// Share of the step with which nothing moves or turns further than allowed.
    fn limit(&self) -> f64;
    /// Takes that share of the step as it is; returns its largest entry in mm (and rad).
    fn take_step(&mut self, share: f64) -> f64;

    /// Looks for an equilibrium near the present state: by the consistent tangent, and where that
    /// finds none, by a search on the incremental potential.
    ///
    /// # Errors
    /// [`NewtonFailure`]; the state is that at the beginning.
    fn equilibrate(&mut self, options: &NewtonOptions) -> Result<Equilibrium, NewtonFailure> {
        let before = self.unknowns();
        let mut spent = 0;
        // Where nothing is touched, the potential is all there is, and the search on it is at no loss.
        if self.has_contacts() {
            let found = self.attempt(options);
            match found.and_then(|found| found.within_coulomb(self.friction_ratio())) {
                Ok(found) => return Ok(found),
                Err(failure) => spent = failure.iterations(),
            }
            self.put_back(&before);
        }
        match self.descend(options) {
            Ok(found) => Ok(Equilibrium {
                iterations: spent + found.iterations,
                ..found
            }),
            Err(failure) => {
                self.put_back(&before);
                Err(failure.after(spent))
            }
        }
    }

    /// Looks for an equilibrium near the present state by the consistent tangent alone.
    ///
    /// # Errors
    /// [`NewtonFailure`] when it is not found within some iterations; the state is that of the last
    /// iterate.
    fn attempt(&mut self, options: &NewtonOptions) -> Result<Equilibrium, NewtonFailure> {
        self.follow(1.0);
        self.couple_friction(true);
        self.choose_points();
        self.anticipate_held();
        let found = self.soft_then_hard(options);
        self.use_forces(Forces::Present);
        self.soften(1.0);
        self.couple_friction(false);
        found
    }

    /// Iterates at a softened wall first where the wall is hard.
    ///
    /// # Errors
    /// As for [`Consistent::attempt`].
    fn soft_then_hard(&mut self, options: &NewtonOptions) -> Result<Equilibrium, NewtonFailure> {
        let mut spent = 0;
        let softening = Some(1.0 / self.hardness()).filter(|share| *share < HARDLY_SOFTER);
        let is_hard = softening.is_some();
        if let Some(softened) = softening {
            self.soften(softened);
            let near = NewtonOptions {
                tolerance: SOFT_TOLERANCE * options.tolerance,
                ..*options
            };
            let found = self.iterate(&near, is_hard, |_| Between::Seen);
            spent = found?.iterations;
            self.soften(1.0);
        }
        match self.iterate(options, is_hard, Self::uncover) {
            Ok(found) => Ok(Equilibrium {
                iterations: spent + found.iterations,
                ..found
            }),
            Err(failure) => Err(failure.after(spent)),
        }
    }

    /// Iterates until an equilibrium is found between whose contact points `uncover` sees nothing; the
    /// wall may be hard for the spacing of its points.
    ///
    /// # Errors
    /// As for [`Consistent::attempt`].
    fn iterate(
        &mut self,
        options: &NewtonOptions,
        is_hard: bool,
        mut uncover: impl FnMut(&mut Self) -> Between,
    ) -> Result<Equilibrium, NewtonFailure> {
        let mut last_step = f64::INFINITY;
        let mut uncovered = 0;
        for iterations in 0..=MOST {
            let not_finite = |unknown| NewtonFailure::NotFinite {
                iterations,
                unknown,
            };
            if iterations > SETTLED {
                self.stays_near(options, iterations)?;
            }
            let mut residual = self.assess().map_err(not_finite)?;
            if options.is_reached(residual, last_step) {
                let reached = |residual| options.is_reached(residual, last_step);
                residual = self.judge(reached).map_err(not_finite)?;
            }
            if options.is_reached(residual, last_step) && !self.pulls() {
                match uncover(self) {
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
                residual = self.assess().map_err(not_finite)?;
            }
            if iterations == MOST {
                return Err(NewtonFailure::NotConverged {
                    iterations,
                    residual,
                });
            }
            let solved = self.consistent_direction();
            let share = self.limit();
            if !solved || (iterations >= SETTLED && share < 1.0) {
                return Err(NewtonFailure::LineSearch {
                    iterations: iterations + 1,
                    residual,
                });
            }
            self.anticipate(share);
            self.use_forces(if !is_hard && iterations < ALL_AT_ONCE {
                Forces::ExpectedOfAll
            } else {
                Forces::Expected
            });
            last_step = self.take_step(share);
        }
        unreachable!("the loop returns in its last round")
    }

    /// The residual in mN of the state assessed last, by which it is judged: with all that touches, and
    /// where contacts slide by the normal forces of their places.
    ///
    /// # Errors
    /// Index of the first unknown whose gradient is not finite.
    fn judge(&mut self, reached: impl Fn(f64) -> bool) -> Result<f64, usize> {
        if self.leaves_out() {
            self.use_forces(Forces::ExpectedOfAll);
            let residual = self.assess()?;
            if !reached(residual) {
                return Ok(residual);
            }
        }
        if self.take_present_limits() {
            return self.residual();
        }
        self.use_forces(Forces::Present);
        self.assess()
    }
}
