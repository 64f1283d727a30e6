//! Newton's method with line search on the incremental potential.
//!
//! Source: Nocedal and Wright, *Numerical Optimization*, 2nd ed. 2006, algorithm 3.2 (line search
//! Newton with modification of the Hessian by a multiple of the identity).

use nalgebra::Matrix6;

use super::banded::{Banded, Factor};
use super::body::{Body, Update};
use super::chain;
use super::coupled::Coupled;
use crate::rod::{Kinematics, Rod};

/// Iterations before friction takes the mean of the normal forces now and before. Where a wire lies
/// lightly along a wall, a step can double its normal force or take all of it away, and friction
/// that follows at once leads round in circles.
const AT_ONCE: u32 = 8;
/// Iterations after which it follows at once again, and so on by turns: under strong friction the
/// mean may be what goes round.
const BY_TURNS: u32 = 24;

/// When a state counts as an equilibrium, and how hard to look for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NewtonOptions {
    /// Largest residual force in mN of an equilibrium; above 0.
    pub tolerance: f64,
    /// Arm in mm at which the tolerance gives the largest residual moment in mN mm: the radius
    /// at which a moment about the wire's axis is a force on its surface; above 0.
    pub arm: f64,
    /// Last step in mm (and rad) below which a residual up to [`NewtonOptions::LOOSE`] times the
    /// tolerance is accepted; above 0.
    pub small_step: f64,
    /// Iterations before the search is given up, at least 1.
    pub max_iterations: u32,
    /// Largest movement of a node in one iteration in mm, above 0.
    pub max_move: f64,
}

impl NewtonOptions {
    /// Factor on the tolerance that is granted when the steps have become small.
    pub const LOOSE: f64 = 10.0;

    /// These options for a step that can be halved so many times more: one that cannot is given more
    /// iterations, since a wire that snaps open has a long way to go down.
    pub(super) fn with_halvings_left(self, halvings: u32) -> Self {
        let factor = if halvings == 0 { 8 } else { 1 };
        Self {
            max_iterations: factor * self.max_iterations,
            ..self
        }
    }

    /// Options with the given tolerance in mN, at an arm of 1 mm for moments.
    #[must_use]
    pub fn with_tolerance(tolerance: f64) -> Self {
        Self {
            tolerance,
            arm: 1.0,
            small_step: 1e-8,
            max_iterations: 60,
            max_move: 2.0,
        }
    }
}

/// An equilibrium that was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Equilibrium {
    /// Newton iterations, counted as factorisations.
    pub iterations: u32,
    /// Largest residual in mN, a moment counting as the force at the arm.
    pub residual: f64,
    /// How many iterations needed a shift because the Hessian was not positive definite.
    pub shifted: u32,
}

/// Why no equilibrium was found.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum NewtonFailure {
    /// The iterations ran out.
    #[error("no equilibrium after {iterations} Newton iterations (residual {residual:.3e} mN)")]
    NotConverged {
        /// Iterations spent.
        iterations: u32,
        /// Residual left in mN.
        residual: f64,
    },
    /// No decrease along the search direction.
    #[error(
        "no decrease of the potential along the search direction after {iterations} Newton iterations (residual {residual:.3e} mN)"
    )]
    LineSearch {
        /// Iterations spent.
        iterations: u32,
        /// Residual left in mN.
        residual: f64,
    },
    /// Two devices that act on each other found no common equilibrium.
    #[error(
        "no common equilibrium of catheter and wire in {turns} turns (apart by {apart:.3e} mN)"
    )]
    Apart {
        /// Turns between the two.
        turns: u32,
        /// Difference of their forces on each other in mN.
        apart: f64,
    },
    /// A value that is not finite.
    #[error("unknown {unknown} is not finite after {iterations} Newton iterations")]
    NotFinite {
        /// Iterations spent.
        iterations: u32,
        /// Index of the unknown.
        unknown: usize,
    },
}

impl NewtonFailure {
    /// Newton iterations spent before giving up.
    #[must_use]
    pub fn iterations(&self) -> u32 {
        match *self {
            Self::NotConverged { iterations, .. }
            | Self::LineSearch { iterations, .. }
            | Self::NotFinite { iterations, .. } => iterations,
            Self::Apart { .. } => 0,
        }
    }
}

/// A step that was taken in one iteration.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Largest change of an unknown in mm (and rad).
    pub size: f64,
    /// Whether the Hessian had to be shifted because it was not positive definite.
    pub shifted: bool,
}

/// Memory of the solver, reused from step to step.
#[derive(Debug, Clone)]
pub struct Newton<const W: usize = 11> {
    /// Gradient at the last state; at fixed unknowns it is the reaction with its sign turned.
    pub gradient: Vec<f64>,
    hessian: Banded<W>,
    factor: Factor<W>,
    coupled: Coupled,
    step: Vec<f64>,
    trial: Vec<f64>,
    kinematics: Kinematics,
    shift: f64,
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
            coupled: Coupled::default(),
            step: Vec::new(),
            trial: Vec::new(),
            kinematics: Kinematics::default(),
            shift: 0.0,
        }
    }

    /// Moves the body's rod to an equilibrium of its incremental potential near its state.
    ///
    /// # Errors
    /// [`NewtonFailure`]; the rod is left at the last iterate.
    pub fn equilibrate<const S: usize>(
        &mut self,
        body: &mut Body<'_, S>,
        options: &NewtonOptions,
    ) -> Result<Equilibrium, NewtonFailure> {
        let mut last_step = f64::INFINITY;
        let mut shifted = 0;
        for iterations in 0..=options.max_iterations {
            for contact in body.contacts_mut() {
                contact.relaxed = is_relaxed(iterations);
            }
            let residual =
                self.assess(body, options)
                    .map_err(|unknown| NewtonFailure::NotFinite {
                        iterations,
                        unknown,
                    })?;
            let loose = last_step <= options.small_step
                && residual <= NewtonOptions::LOOSE * options.tolerance;
            if residual <= options.tolerance || loose {
                return Ok(Equilibrium {
                    iterations,
                    residual,
                    shifted,
                });
            }
            if iterations == options.max_iterations {
                return Err(NewtonFailure::NotConverged {
                    iterations,
                    residual,
                });
            }
            let step = self.step(body, options).ok_or(NewtonFailure::LineSearch {
                iterations: iterations + 1,
                residual,
            })?;
            last_step = step.size;
            shifted += u32::from(step.shifted);
        }
        unreachable!("the loop returns in its last round")
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
        let shifted = self.direction(body);
        self.limit(body, options.max_move);
        let size = self.search(body)?;
        Some(Step { size, shifted })
    }

    /// Stiffness in mN/mm with which the rod resists a movement of nodes `first` and the next,
    /// which are fixed, at the equilibrium found last. What lies off the band is left out; `None`
    /// where the Hessian is not positive definite.
    pub(super) fn stiffness_of_support<const S: usize>(
        &mut self,
        body: &Body<'_, S>,
        first: usize,
    ) -> Matrix6<f64> {
        let n = self.hessian.size();
        let unknowns: [usize; 6] = std::array::from_fn(|k| S * (first + k / 3) + k % 3);
        // Columns of the Hessian, before the fixed unknowns are taken out of it.
        let mut pulled = unknowns.map(|unknown| {
            let mut column = vec![0.0; n];
            for i in unknown.saturating_sub(W - 1)..(unknown + W).min(n) {
                column[i] = self.hessian.get(i, unknown);
            }
            column
        });
        let direct = Matrix6::from_fn(|r, c| pulled[c][unknowns[r]]);
        let scale = self.hessian.largest_diagonal().max(f64::MIN_POSITIVE);
        for &i in &body.fixed {
            self.hessian.fix(i, scale);
        }
        let mut shift = 0.0;
        while !self.hessian.factorise(shift, &mut self.factor) {
            shift = (10.0 * shift).max(1e-10 * scale);
        }
        for column in &mut pulled {
            for &i in &body.fixed {
                column[i] = 0.0;
            }
        }
        let solved = pulled.clone().map(|mut column| {
            self.factor.solve(&mut column);
            column
        });
        let dot = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
        direct - Matrix6::from_fn(|r, c| dot(&pulled[r], &solved[c]))
    }

    fn residual<const S: usize>(&self, body: &Body<'_, S>, arm: f64) -> Result<f64, usize> {
        let mut fixed = body.fixed.iter().copied().peekable();
        let mut largest: f64 = 0.0;
        for (i, g) in self.gradient.iter().enumerate() {
            if fixed.next_if_eq(&i).is_some() {
                continue;
            }
            if !g.is_finite() {
                return Err(i);
            }
            let force = if i % S >= 3 { g / arm } else { *g };
            largest = largest.max(force.abs());
        }
        Ok(largest)
    }

    /// Solves for the step; returns whether the Hessian had to be shifted.
    fn direction<const S: usize>(&mut self, body: &Body<'_, S>) -> bool {
        self.step.clear();
        self.step.extend(self.gradient.iter().map(|g| -g));
        let scale = self.hessian.largest_diagonal().max(f64::MIN_POSITIVE);
        for &i in &body.fixed {
            self.hessian.fix(i, scale);
            self.step[i] = 0.0;
        }
        let mut shift = 0.0;
        let mut first = true;
        while !self.hessian.factorise(shift, &mut self.factor) {
            shift = if first {
                (0.1 * self.shift).max(1e-10 * scale)
            } else {
                shift * 10.0
            };
            first = false;
        }
        if !first {
            self.shift = shift;
        }
        let touches = body.touches();
        if touches.is_empty() {
            self.factor.solve(&mut self.step);
        } else {
            let system = (&self.hessian, shift, &self.factor);
            self.coupled
                .solve::<S, W>(system, touches, &body.fixed, &mut self.step);
        }
        !first
    }

    /// Shortens the step so that no node moves further than allowed, no edge turns by more than
    /// about 45 degrees, and no rotation changes by more than a radian.
    fn limit<const S: usize>(&mut self, body: &Body<'_, S>, max_move: f64) {
        let mut factor: f64 = 1.0;
        for (i, length) in body.rod.kinematics().length.iter().enumerate() {
            let a = crate::rod::node_of::<S>(&self.step, i);
            let b = crate::rod::node_of::<S>(&self.step, i + 1);
            factor = factor.min(0.7 * length / (b - a).norm().max(f64::MIN_POSITIVE));
            factor = factor.min(max_move / b.norm().max(a.norm()).max(f64::MIN_POSITIVE));
            for theta in &self.step[S * i + 3..S * i + S] {
                factor = factor.min(1.0 / theta.abs().max(f64::MIN_POSITIVE));
            }
        }
        if factor < 1.0 {
            for s in &mut self.step {
                *s *= factor;
            }
        }
    }

    /// Backtracking with Armijo's rule. Returns the size of the step taken.
    fn search<const S: usize>(&mut self, body: &mut Body<'_, S>) -> Option<f64> {
        const ARMIJO: f64 = 1e-4;
        let slope: f64 = self
            .gradient
            .iter()
            .zip(&self.step)
            .map(|(g, s)| g * s)
            .sum();
        let (before, noise) = body.present();
        let size = self.step.iter().fold(0.0, |m: f64, s| m.max(s.abs()));
        let mut alpha = 1.0;
        let mut rejected = 1.0;
        for _ in 0..30 {
            let after = self.try_step(body, alpha);
            if after <= before + ARMIJO * alpha * slope + noise {
                alpha = self.extend(body, alpha, after, rejected);
                body.rod.commit(&self.trial, &mut self.kinematics);
                return Some(alpha * size);
            }
            rejected = alpha;
            // Minimum of the parabola through the two values and the slope, kept within bounds.
            let parabola = -slope * alpha * alpha / (2.0 * (after - before - slope * alpha));
            alpha = if parabola.is_finite() {
                parabola.clamp(0.1 * alpha, 0.5 * alpha)
            } else {
                0.1 * alpha
            };
        }
        None
    }

    /// Doubles the accepted share `alpha` of a step that had to be cut, as long as the potential
    /// falls further and the share stays below the one `rejected`: a step that breaks through the
    /// wall is cut far back, and the parabola says little about where the wall begins. Leaves the
    /// best state as the trial and returns its share.
    fn extend<const S: usize>(
        &mut self,
        body: &mut Body<'_, S>,
        alpha: f64,
        after: f64,
        rejected: f64,
    ) -> f64 {
        let (mut best, mut least) = (alpha, after);
        while 2.0 * best < rejected {
            let next = self.try_step(body, 2.0 * best);
            if next >= least || next.is_nan() {
                self.try_step(body, best);
                break;
            }
            (best, least) = (2.0 * best, next);
        }
        best
    }

    /// Puts the state at the share `alpha` of the step into the trial; returns its potential.
    fn try_step<const S: usize>(&mut self, body: &mut Body<'_, S>, alpha: f64) -> f64 {
        self.trial.clear();
        let straight = body.rod.q.iter().zip(&self.step);
        self.trial.extend(straight.map(|(q, s)| q + alpha * s));
        if body.rigid_end {
            carry_last_node(body, &mut self.trial);
        }
        if body.update == Update::FromLastNode {
            keep_lengths(&body.rod, &mut self.trial);
        }
        body.rod.kinematics_of(&self.trial, &mut self.kinematics);
        body.potential(&self.trial, &self.kinematics)
    }
}

/// Whether friction takes the mean of the normal forces in this iteration.
fn is_relaxed(iterations: u32) -> bool {
    (iterations + BY_TURNS - AT_ONCE) / BY_TURNS % 2 == 1
}

/// Takes the part of second order out of the edges' lengths: each edge keeps its new direction
/// and gets the length that the step has to first order, and the chain is put together again
/// from its last node. Without it the next iteration meets a stretch of the square of the turn,
/// and Newton's method crawls along the nearly inextensible shapes.
fn keep_lengths<const S: usize>(rod: &Rod<S>, q: &mut [f64]) {
    let tangents = &rod.kinematics().tangent;
    chain::rebuild::<S>(q, rod.edges.len(), |i, e| {
        let first_order = tangents[i].dot(&e);
        let size = e.norm();
        if first_order > 0.3 * size {
            e * (first_order / size)
        } else {
            e
        }
    });
}

/// Moves the last node with the one before it.
fn carry_last_node<const S: usize>(body: &Body<'_, S>, q: &mut [f64]) {
    let last = q.len() - 3;
    for c in 0..3 {
        q[last + c] = body.rod.q[last + c] + q[last - S + c] - body.rod.q[last - S + c];
    }
}
