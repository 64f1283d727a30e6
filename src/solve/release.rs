//! A release followed in time: where no equilibrium is near, the wire moves against the drag around it
//! until nothing moves any more.
//!
//! Equation: `c w dx/dt = -g(x)`, `g` the gradient of the potential with friction, by implicit Euler
//! steps that grow as the wire comes to rest. Friction is settled after every one, so that it
//! follows the path.
//! Symbols: `c` drag per mm of wire in mN s/mm², `w` length of wire at a node in mm.
//! Source: pseudo-transient continuation, Kelley and Keyes, SIAM J. Numer. Anal. 35:508, 1998 (from
//! memory).

use super::balance::EnergyBalance;
use super::body::{Body, Losses};
use super::consistent::Consistent;
use super::newton::OneRod;
use super::search::{Equilibrium, NewtonFailure, NewtonOptions};
use super::settings::Demands;

/// Drag over the time step at the beginning, and the most that is tried, in mN/mm².
const FIRST: f64 = 1.0;
const MOST: f64 = 1e4;
/// Parts of a release before it is given up.
const PARTS: u32 = 400;
/// Factor on the time step after a part that was found in [`QUICK`] iterations, after a slower one, and
/// after one that was not found.
const LONGER: f64 = 4.0;
const LITTLE_LONGER: f64 = 1.5;
const SHORTER: f64 = 0.1;
/// Iterations of a part that was found quickly.
const QUICK: u32 = 8;

/// A release that has come to rest, but for its last part, which is not settled yet.
pub(super) struct Released {
    /// The last part; the iterations are those of all parts.
    pub equilibrium: Equilibrium,
    /// Lost in the parts before.
    pub lost: Losses,
}

/// Devices that come to rest in a step, if need be by being followed in time.
pub(super) trait Relaxation: Consistent {
    /// All that changes in a step: unknowns, friction, flow of the core.
    type State;

    /// The present state.
    fn state(&self) -> Self::State;
    /// Takes a state back.
    fn restore(&mut self, state: Self::State);
    /// Expects the equilibrium that is looked for at the present state.
    fn expect_here(&mut self);
    /// Drag over the time step in mN/mm².
    fn damping(&self) -> f64;
    /// Sets it.
    fn damp(&mut self, damping: f64);
    /// Ends a part of the step: settles friction and flow, and goes on with the same step from here.
    fn go_on(&mut self) -> Losses;

    /// Finds the equilibrium of a step, and counts in the balance what that took: where no other way
    /// finds one, and only if that is asked for, by releasing the devices. The present state is where the
    /// equilibrium is expected; one that lies further from it than asked for is refused. Returns how
    /// far off it was, in mm; 0 after a release, of which nothing was expected.
    ///
    /// # Errors
    /// [`NewtonFailure`] with all iterations spent.
    fn come_to_rest(
        &mut self,
        options: &NewtonOptions,
        demands: Demands,
        balance: &mut EnergyBalance,
    ) -> Result<f64, NewtonFailure> {
        self.expect_here();
        let failure = match self.equilibrate(&options.within(demands.most_off_mm)) {
            Ok(found) => {
                let off_mm = self.off_mm();
                if off_mm > demands.most_off_mm {
                    return Err(NewtonFailure::Unexpected {
                        iterations: found.iterations,
                        off_mm,
                    });
                }
                balance.iterations += found.iterations;
                return Ok(off_mm);
            }
            Err(failure @ NewtonFailure::Unexpected { .. }) => return Err(failure),
            Err(failure) => failure,
        };
        if !demands.follows_in_time {
            return Err(failure);
        }
        let found = self.follow_in_time(options);
        let released = found.map_err(|f| f.after(failure.iterations()))?;
        balance.release(failure, &released);
        Ok(0.0)
    }

    /// Releases the devices from their state, at the beginning of a step, until they are at rest with
    /// the drag of this step.
    ///
    /// # Errors
    /// [`NewtonFailure`] of the part that was not found; the devices are left anywhere.
    fn follow_in_time(&mut self, options: &NewtonOptions) -> Result<Released, NewtonFailure> {
        let last = self.damping();
        let mut drag = FIRST.max(last);
        let mut spent = 0;
        let mut lost = Losses::default();
        for _ in 0..PARTS {
            let before = self.state();
            self.damp(drag);
            match self.equilibrate(options) {
                Ok(found) => {
                    spent += found.iterations;
                    if drag <= last {
                        let equilibrium = Equilibrium {
                            iterations: spent,
                            ..found
                        };
                        return Ok(Released { equilibrium, lost });
                    }
                    lost += self.go_on();
                    let quick = found.iterations <= QUICK;
                    drag = (drag / if quick { LONGER } else { LITTLE_LONGER }).max(last);
                    // Below this, drag is no more than the tolerance on a wire that moves by a radius.
                    if drag * options.arm < options.tolerance {
                        drag = last;
                    }
                }
                Err(failure) => {
                    spent += failure.iterations();
                    self.restore(before);
                    drag /= SHORTER;
                    if drag > MOST {
                        return Err(failure.after(spent - failure.iterations()));
                    }
                }
            }
        }
        Err(NewtonFailure::NotConverged {
            iterations: spent,
            residual: f64::NAN,
        })
    }
}

impl<'a, const S: usize, const W: usize> Relaxation for OneRod<'_, 'a, S, W> {
    type State = Body<'a, S>;

    fn state(&self) -> Self::State {
        self.body.clone()
    }
    fn restore(&mut self, state: Self::State) {
        *self.body = state;
        self.body.show_vessel();
    }
    fn expect_here(&mut self) {
        self.body.expect_here();
    }
    fn damping(&self) -> f64 {
        self.body.damping
    }
    fn damp(&mut self, damping: f64) {
        self.body.damping = damping;
    }
    fn go_on(&mut self) -> Losses {
        self.body.go_on()
    }
}
