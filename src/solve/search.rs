//! The search for an equilibrium: Newton's method with line search on an incremental potential.
//!
//! Source: Nocedal and Wright, *Numerical Optimization*, 2nd ed. 2006, algorithm 3.2 (line search
//! Newton with modification of the Hessian by a multiple of the identity).

use crate::contact::Between;

/// Iterations before friction takes the mean of the normal forces now and before. Where a wire lies
/// lightly along a wall, a step can double its normal force or take all of it away, and friction
/// that follows at once leads round in circles.
const AT_ONCE: u32 = 8;
/// Iterations after which it follows at once again, and so on by turns: under strong friction the
/// averaged limit can enter a cycle.
const BY_TURNS: u32 = 24;
/// Relaxation of the friction limit in the first search, the second and so on: the share of its change by
/// which friction follows the normal force. A wire that is free to slide a little goes far for a small
/// change of friction, and where it has gone changes the normal force: the greater that is, the less may
/// be followed at once. In the equilibrium that is found so, the limit of friction is off by the tolerance
/// over the share at most.
const SHARES: [f64; 3] = [0.5, 0.2, 0.1];

/// How often a search goes on with more contact points before it is given up.
pub(super) const UNCOVERED: u32 = 6;

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
    /// Distance in mm of a node from where the equilibrium was expected beyond which the search is given
    /// up; infinite where it goes on.
    pub astray_mm: f64,
}

impl NewtonOptions {
    /// Largest friction force over the Coulomb limit `mu N` of an equilibrium; the excess allows for
    /// rounding.
    pub const MOST_FRICTION: f64 = 1.001;

    /// Factor on the tolerance that is granted when the steps have become small.
    pub const LOOSE: f64 = 10.0;

    /// Largest movement of a node in one iteration in mm, where nothing else is asked for: about as
    /// thick as the wall is that two lumens have between them beside their branching. A greater one
    /// can carry the wire through that wall into the other lumen, where its energy is lower, without
    /// the potential having been looked at on the way.
    pub const MAX_MOVE_MM: f64 = 0.5;

    /// These options for an equilibrium that counts only within `most_off_mm` of where it is expected.
    /// A search that has gone four times as far does not come back.
    pub(super) fn within(self, most_off_mm: f64) -> Self {
        Self {
            astray_mm: 4.0 * most_off_mm,
            ..self
        }
    }

    /// These options with more iterations where it is the last search for a step that cannot be halved
    /// any more: a wire that snaps open has a long way to go down.
    pub(super) fn last_resort(self, last: bool) -> Self {
        let factor = if last { 8 } else { 1 };
        Self {
            max_iterations: factor * self.max_iterations,
            ..self
        }
    }

    /// Whether a state with this residual (mN), reached by a last step of that size (mm), is an
    /// equilibrium.
    pub(super) fn is_reached(&self, residual: f64, last_step: f64) -> bool {
        let loose = last_step <= self.small_step && residual <= Self::LOOSE * self.tolerance;
        residual <= self.tolerance || loose
    }

    /// Options with the given tolerance in mN, at an arm of 1 mm for moments.
    #[must_use]
    pub fn with_tolerance(tolerance: f64) -> Self {
        Self {
            tolerance,
            arm: 1.0,
            small_step: 1e-8,
            max_iterations: 60,
            max_move: Self::MAX_MOVE_MM,
            astray_mm: f64::INFINITY,
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

impl Equilibrium {
    /// The equilibrium, unless a friction force in it is so many times its Coulomb limit that it is none.
    pub(super) fn within_coulomb(self, ratio: f64) -> Result<Self, NewtonFailure> {
        if ratio <= NewtonOptions::MOST_FRICTION {
            return Ok(self);
        }
        Err(NewtonFailure::BeyondCoulomb {
            iterations: self.iterations,
            ratio,
        })
    }
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
    /// The wall keeps rising between the contact points of the states that are found.
    #[error(
        "the wire lies deeper in the wall between its contact points than at them, however many there are, after {iterations} Newton iterations"
    )]
    Uncovered {
        /// Iterations spent.
        iterations: u32,
    },
    /// A friction force above its Coulomb limit in the state that was found.
    #[error(
        "a friction force is {ratio:.4} times its Coulomb limit in the state found after {iterations} Newton iterations"
    )]
    BeyondCoulomb {
        /// Iterations spent.
        iterations: u32,
        /// Friction force over the limit.
        ratio: f64,
    },
    /// The state that was found lies far from where it was expected: what lies between may have been passed
    /// without having been met.
    #[error(
        "a point of the wire lies {off_mm:.3} mm from where it was expected, found in {iterations} Newton iterations"
    )]
    Unexpected {
        /// Iterations spent.
        iterations: u32,
        /// Largest distance of a node in mm.
        off_mm: f64,
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
    /// The same failure after so many iterations more.
    pub(super) fn after(mut self, more: u32) -> Self {
        let (Self::NotConverged { iterations, .. }
        | Self::LineSearch { iterations, .. }
        | Self::Uncovered { iterations }
        | Self::BeyondCoulomb { iterations, .. }
        | Self::Unexpected { iterations, .. }
        | Self::NotFinite { iterations, .. }) = &mut self;
        *iterations += more;
        self
    }

    /// Newton iterations spent before giving up.
    #[must_use]
    pub fn iterations(&self) -> u32 {
        match *self {
            Self::NotConverged { iterations, .. }
            | Self::LineSearch { iterations, .. }
            | Self::Uncovered { iterations }
            | Self::BeyondCoulomb { iterations, .. }
            | Self::Unexpected { iterations, .. }
            | Self::NotFinite { iterations, .. } => iterations,
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

/// A potential on which an equilibrium is looked for.
pub(super) trait Search {
    /// Lets friction follow the normal force by that share of its change; 1 is at once.
    fn follow(&mut self, share: f64);
    /// Chooses the contact points for a search that begins at the present state.
    fn choose_points(&mut self);
    /// Looks between the contact points of an equilibrium.
    fn uncover(&mut self) -> Between;
    /// First half of an iteration: derivatives at the present state. Returns the largest residual in
    /// mN, a moment counting as the force at an arm.
    ///
    /// # Errors
    /// Index of the first unknown whose gradient is not finite.
    fn assess(&mut self) -> Result<f64, usize>;
    /// Largest friction force over the Coulomb limit `mu N` at the state that was assessed last.
    fn friction_ratio(&self) -> f64;
    /// Largest distance in mm of a node from where the equilibrium was expected.
    fn off_mm(&self) -> f64;
    /// Second half of an iteration: moves along the step from the state that was assessed last;
    /// `None` if the potential does not fall that way.
    fn step(&mut self) -> Option<Step>;

    /// Whether the search has gone further from where the equilibrium was expected than it comes back from.
    ///
    /// # Errors
    /// [`NewtonFailure::Unexpected`] where it has.
    fn stays_near(&self, options: &NewtonOptions, iterations: u32) -> Result<(), NewtonFailure> {
        if options.astray_mm.is_finite() {
            let off_mm = self.off_mm();
            if off_mm > options.astray_mm {
                return Err(NewtonFailure::Unexpected { iterations, off_mm });
            }
        }
        Ok(())
    }

    /// Searches on the potential for an equilibrium near the present state.
    ///
    /// # Errors
    /// [`NewtonFailure`]; the state is that of the last iterate.
    fn descend(&mut self, options: &NewtonOptions) -> Result<Equilibrium, NewtonFailure> {
        let mut last_step = f64::INFINITY;
        let mut shifted = 0;
        let mut uncovered = 0;
        self.choose_points();
        for iterations in 0..=options.max_iterations {
            let is_last = iterations == options.max_iterations;
            let not_finite = |unknown| NewtonFailure::NotFinite {
                iterations,
                unknown,
            };
            self.stays_near(options, iterations)?;
            let share = share_followed(iterations);
            self.follow(share);
            let mut residual = self.assess().map_err(not_finite)?;
            if share < 1.0 && options.is_reached(residual, last_step) {
                // An eased limit helps the search along; the state is judged with the limit it has.
                self.follow(1.0);
                residual = self.assess().map_err(not_finite)?;
            }
            if options.is_reached(residual, last_step) {
                match self.uncover() {
                    Between::Seen => {}
                    Between::Halved if uncovered < UNCOVERED && !is_last => {
                        uncovered += 1;
                        last_step = f64::INFINITY;
                        continue;
                    }
                    _ => return Err(NewtonFailure::Uncovered { iterations }),
                }
                let found = Equilibrium {
                    iterations,
                    residual,
                    shifted,
                };
                return found.within_coulomb(self.friction_ratio());
            }
            if is_last {
                return Err(NewtonFailure::NotConverged {
                    iterations,
                    residual,
                });
            }
            let step = self.step().ok_or(NewtonFailure::LineSearch {
                iterations: iterations + 1,
                residual,
            })?;
            last_step = step.size;
            shifted += u32::from(step.shifted);
        }
        unreachable!("the loop returns in its last round")
    }
}

/// Backtracking along a step with Armijo's rule: `slope` is the derivative of the potential along
/// the whole step, `before` the potential without it and `noise` what a difference of two says
/// nothing below. `potential` tries a share of the step; the share that is returned is the one it
/// was asked for last, or `None` if the potential does not fall.
pub(super) fn backtrack(
    slope: f64,
    (before, noise): (f64, f64),
    mut potential: impl FnMut(f64) -> f64,
) -> Option<f64> {
    const ARMIJO: f64 = 1e-4;
    let mut alpha = 1.0;
    let mut rejected = 1.0;
    for _ in 0..30 {
        let after = potential(alpha);
        if after <= before + ARMIJO * alpha * slope + noise {
            return Some(extend(alpha, after, rejected, potential));
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

/// Doubles the accepted share `alpha` of a step that had to be cut, as long as the potential falls
/// further and the share stays below the one `rejected`: a step that breaks through the wall is cut
/// far back, and the parabola says little about where the wall begins. Returns the best share, which
/// was tried last.
fn extend(alpha: f64, after: f64, rejected: f64, mut potential: impl FnMut(f64) -> f64) -> f64 {
    let (mut best, mut least) = (alpha, after);
    while 2.0 * best < rejected {
        let next = potential(2.0 * best);
        if next >= least || next.is_nan() {
            potential(best);
            break;
        }
        (best, least) = (2.0 * best, next);
    }
    best
}

/// By which share of its change friction follows the normal force in this iteration.
fn share_followed(iterations: u32) -> f64 {
    let turn = (iterations + BY_TURNS - AT_ONCE) / BY_TURNS;
    if turn.is_multiple_of(2) {
        return 1.0;
    }
    SHARES[(turn / 2) as usize % SHARES.len()]
}
