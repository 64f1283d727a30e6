//! Equilibria of one rod by Newton's method; see [`super::search`].
//!
//! Here is an iteration as a whole. The linear systems that it solves stand in `direction`, how far a step
//! goes and what it makes of the state in `trial_step`, and what the searches ask of one rod in `one_rod`.

mod direction;
mod one_rod;
mod trial_step;

use nalgebra::Vector3;

pub(super) use self::one_rod::OneRod;
use super::banded::{Banded, Factor};
use super::body::Body;
use super::consistent::Consistent;
use super::coupled::Coupled;
use super::lu::Lu;
use super::search::{Equilibrium, NewtonFailure, NewtonOptions, Step, backtrack};
use super::together::Together;
use crate::rod::Kinematics;

/// Memory of the solver, reused from step to step.
#[derive(Debug, Clone)]
pub struct Newton<const W: usize = 11> {
    /// Gradient at the last state; at fixed unknowns it is the reaction with its sign turned.
    pub gradient: Vec<f64>,
    pub(super) hessian: Banded<W>,
    pub(super) factor: Factor<W>,
    pub(super) lu: Lu<W>,
    coupled: Coupled,
    pub(super) step: Vec<f64>,
    pub(super) trial: Vec<f64>,
    pub(super) kinematics: Kinematics,
    shift: f64,
    together: Together<W>,
    /// Control vectors of a vessel that gives way, from which a step begins, and their step, in mm.
    vessel: Vec<Vector3<f64>>,
    pub(super) vessel_step: Vec<Vector3<f64>>,
}

/// For one device; see [`Newton::empty`] for others.
impl Default for Newton {
    fn default() -> Self {
        Self::empty()
    }
}

impl<const W: usize> Newton<W> {
    /// A solver for rods whose hinges have `W` unknowns.
    #[must_use]
    pub fn empty() -> Self {
        Self {
            gradient: Vec::new(),
            hessian: Banded::empty(),
            factor: Factor::empty(),
            lu: Lu::empty(),
            coupled: Coupled::default(),
            step: Vec::new(),
            trial: Vec::new(),
            kinematics: Kinematics::default(),
            shift: 0.0,
            together: Together::empty(),
            vessel: Vec::new(),
            vessel_step: Vec::new(),
        }
    }

    /// Moves the body's rod to an equilibrium near its state: by the consistent tangent, and where
    /// that finds none, by a search on the incremental potential.
    ///
    /// # Errors
    /// [`NewtonFailure`]; the rod is left where it was.
    pub fn equilibrate<const S: usize>(
        &mut self,
        body: &mut Body<'_, S>,
        options: &NewtonOptions,
    ) -> Result<Equilibrium, NewtonFailure> {
        let newton = self;
        OneRod {
            newton,
            body,
            options,
        }
        .equilibrate(options)
    }

    /// First half of an iteration: assembles at the body's state and returns the residual, the
    /// largest gradient entry among the free unknowns in mN, a moment counting as the force at the
    /// arm of the options.
    ///
    /// # Errors
    /// Index of the first unknown whose gradient is not finite.
    pub fn assess<const S: usize>(
        &mut self,
        body: &mut Body<'_, S>,
        options: &NewtonOptions,
    ) -> Result<f64, usize> {
        body.assemble(&mut self.gradient, &mut self.hessian);
        self.residual(body, options.arm)
    }

    /// Second half of an iteration: solves for the step at the state that was assessed last and
    /// moves the rod along it; `None` if the potential does not fall that way.
    pub fn step<const S: usize>(
        &mut self,
        body: &mut Body<'_, S>,
        options: &NewtonOptions,
    ) -> Option<Step> {
        let shifted = self.direction(body, options);
        self.shorten(self.limit(body, options.max_move));
        let size = self.step_size();
        let present = body.present();
        let share = backtrack(self.slope(body), present, |share| {
            self.try_step(body, share);
            body.potential(&self.trial, &self.kinematics)
        })?;
        self.commit(body);
        let size = share * size;
        Some(Step { size, shifted })
    }

    pub(super) fn residual<const S: usize>(
        &self,
        body: &Body<'_, S>,
        arm: f64,
    ) -> Result<f64, usize> {
        let mut largest: f64 = 0.0;
        let mut from = 0;
        for &fixed in body.fixed.iter().chain([&self.gradient.len()]) {
            let free = self.gradient.get(from..fixed).unwrap_or_default();
            for (i, g) in (from..).zip(free) {
                if !g.is_finite() {
                    return Err(i);
                }
                let force = if i % S >= 3 { g / arm } else { *g };
                largest = largest.max(force.abs());
            }
            from = fixed + 1;
        }
        for (j, g) in body
            .giving
            .iter()
            .flat_map(|giving| giving.gradient.iter().enumerate())
        {
            if !g.iter().all(|g| g.is_finite()) {
                return Err(self.gradient.len() + 3 * j);
            }
            largest = largest.max(g.amax());
        }
        Ok(largest)
    }
}
