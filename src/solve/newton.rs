//! Equilibria of one rod by Newton's method; see [`super::search`].

use super::banded::{Banded, Factor};
use super::body::{Body, Update};
use super::chain;
use super::consistent::Consistent;
use super::coupled::{Coupled, SlidingPairs, SymmetricPairs, VesselPairs, solve_unsymmetric};
use super::lu::Lu;
use super::search::{Equilibrium, NewtonFailure, NewtonOptions, Search, Step, backtrack};
use super::together::Together;
use nalgebra::Vector3;

use crate::contact::{Between, Contact, Forces};
use crate::rod::{Kinematics, Rod, node_of};

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

    /// Solves for the step; returns whether the Hessian had to be shifted.
    fn direction<const S: usize>(&mut self, body: &Body<'_, S>, options: &NewtonOptions) -> bool {
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
    pub(super) fn factorise(&mut self, fixed: &[usize]) -> f64 {
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
    fn consistent_direction<const S: usize>(&mut self, body: &Body<'_, S>) -> bool {
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

    /// Largest entry of the step in mm (and rad).
    pub(super) fn step_size(&self) -> f64 {
        let vessel = self
            .vessel_step
            .iter()
            .fold(0.0, |m: f64, s| m.max(s.amax()));
        self.step.iter().fold(vessel, |m: f64, s| m.max(s.abs()))
    }

    /// Makes the trial the state.
    pub(super) fn commit<const S: usize>(&mut self, body: &mut Body<'_, S>) {
        body.rod.commit(&self.trial, &mut self.kinematics);
    }

    /// Share of the step with which no node moves further than allowed, no edge turns by more than
    /// about 45 degrees, and no rotation changes by more than a radian; 1 at most.
    pub(super) fn limit<const S: usize>(&self, body: &Body<'_, S>, max_move: f64) -> f64 {
        let mut factor: f64 = 1.0;
        for (i, length) in body.rod.kinematics().length.iter().enumerate() {
            let a = node_of::<S>(&self.step, i);
            let b = node_of::<S>(&self.step, i + 1);
            factor = factor.min(0.7 * length / (b - a).norm().max(f64::MIN_POSITIVE));
            factor = factor.min(max_move / b.norm().max(a.norm()).max(f64::MIN_POSITIVE));
            for theta in &self.step[S * i + 3..S * i + S] {
                factor = factor.min(1.0 / theta.abs().max(f64::MIN_POSITIVE));
            }
        }
        for step in &self.vessel_step {
            factor = factor.min(max_move / step.norm().max(f64::MIN_POSITIVE));
        }
        factor
    }

    /// Takes only that share of the step.
    pub(super) fn shorten(&mut self, factor: f64) {
        if factor < 1.0 {
            for s in &mut self.step {
                *s *= factor;
            }
            for s in &mut self.vessel_step {
                *s *= factor;
            }
        }
    }

    /// Derivative of the potential along the step, in mN mm.
    pub(super) fn slope<const S: usize>(&self, body: &Body<'_, S>) -> f64 {
        let pairs = self.gradient.iter().zip(&self.step);
        let vessel = body.giving.iter().flat_map(|giving| &giving.gradient);
        let vessel = vessel.zip(&self.vessel_step).map(|(g, s)| g.dot(s));
        pairs.map(|(g, s)| g * s).sum::<f64>() + vessel.sum::<f64>()
    }

    /// Puts the unknowns at the share `alpha` of the step into the trial as they are.
    fn go_straight<const S: usize>(&mut self, rod: &Rod<S>, alpha: f64) {
        self.trial.clear();
        let straight = rod.q.iter().zip(&self.step);
        self.trial.extend(straight.map(|(q, s)| q + alpha * s));
    }

    /// Puts the state at the share `alpha` of the step into the trial.
    pub(super) fn try_step<const S: usize>(&mut self, body: &mut Body<'_, S>, alpha: f64) {
        if body.giving.is_some() {
            body.move_vessel(&self.vessel, alpha, &self.vessel_step);
        }
        self.go_straight(&body.rod, alpha);
        if body.rigid_end {
            carry_last_node(body, &mut self.trial);
        }
        if body.update == Update::FromLastNode {
            keep_lengths(&body.rod, body.rod.edges.len(), None, &mut self.trial);
        }
        body.rod.kinematics_of(&self.trial, &mut self.kinematics);
    }

    /// The same for a rod whose last two nodes are carried to `ends`.
    pub(super) fn try_carried<const S: usize>(
        &mut self,
        body: &Body<'_, S>,
        alpha: f64,
        ends: &[Vector3<f64>; 2],
    ) {
        self.go_straight(&body.rod, alpha);
        let exit = body.rod.nodes() - 2;
        keep_lengths(&body.rod, exit, Some(ends[0]), &mut self.trial);
        self.trial[S * (exit + 1)..].copy_from_slice(ends[1].as_slice());
        body.rod.kinematics_of(&self.trial, &mut self.kinematics);
    }
}

/// One rod, what acts on it, and when it counts as in equilibrium.
pub(super) struct OneRod<'s, 'a, const S: usize, const W: usize> {
    pub newton: &'s mut Newton<W>,
    pub body: &'s mut Body<'a, S>,
    pub options: &'s NewtonOptions,
}

impl<const S: usize, const W: usize> Search for OneRod<'_, '_, S, W> {
    fn follow(&mut self, share: f64) {
        self.body.follow(share);
    }
    fn choose_points(&mut self) {
        self.body.choose_points();
    }
    fn uncover(&mut self) -> Between {
        self.body.uncover()
    }
    fn assess(&mut self) -> Result<f64, usize> {
        self.newton.assess(self.body, self.options)
    }
    fn friction_ratio(&self) -> f64 {
        self.body.friction_ratio()
    }
    fn off_mm(&self) -> f64 {
        self.body.off_mm()
    }
    fn step(&mut self) -> Option<Step> {
        self.newton.step(self.body, self.options)
    }
}

impl<const S: usize, const W: usize> Consistent for OneRod<'_, '_, S, W> {
    type Unknowns = (Vec<f64>, Kinematics, Vec<Vector3<f64>>);

    fn unknowns(&self) -> Self::Unknowns {
        let rod = &self.body.rod;
        let vessel = self.body.giving.as_ref().map(|g| g.moved.clone());
        (
            rod.q.clone(),
            rod.kinematics().clone(),
            vessel.unwrap_or_default(),
        )
    }
    fn put_back(&mut self, (q, kinematics, vessel): &Self::Unknowns) {
        self.body.rod.commit(q, &mut kinematics.clone());
        self.body.move_vessel(vessel, 0.0, vessel);
    }
    fn has_contacts(&self) -> bool {
        self.body.contacts().next().is_some()
    }
    fn hardness(&self) -> f64 {
        self.body.hardness()
    }
    fn soften(&mut self, share: f64) {
        self.body.contacts_mut().for_each(|c| c.softened = share);
    }
    fn couple_friction(&mut self, coupled: bool) {
        let contacts = self.body.contacts_mut();
        contacts.for_each(|c| c.couple_friction(coupled));
    }
    fn anticipate_held(&mut self) {
        self.body.anticipate_held();
    }
    fn anticipate(&mut self, share: f64) {
        let (step, of_vessel) = (&self.newton.step, &self.newton.vessel_step);
        self.body
            .contacts_mut()
            .for_each(|c| c.anticipate(step, of_vessel, share));
    }
    fn use_forces(&mut self, forces: Forces) {
        self.body.contacts_mut().for_each(|c| c.use_forces(forces));
    }
    fn leaves_out(&self) -> bool {
        self.body.contacts().any(Contact::leaves_out)
    }
    fn pulls(&self) -> bool {
        self.body.contacts().any(Contact::pulls)
    }
    fn take_present_limits(&mut self) -> bool {
        self.body.take_present_limits()
    }
    fn residual(&self) -> Result<f64, usize> {
        self.newton.residual(self.body, self.options.arm)
    }
    fn consistent_direction(&mut self) -> bool {
        self.newton.consistent_direction(self.body)
    }
    fn limit(&self) -> f64 {
        self.newton.limit(self.body, self.options.max_move)
    }
    fn take_step(&mut self, share: f64) -> f64 {
        self.newton.shorten(share);
        self.newton.try_step(self.body, 1.0);
        self.newton.commit(self.body);
        self.newton.step_size()
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

/// Takes the part of second order out of the edges' lengths: each edge keeps its new direction
/// and gets the length that the step has to first order, and the chain is put together again
/// from node `last`, which stands at `end` if that is given. Without it the next iteration meets a
/// stretch of the square of the turn, and Newton's method crawls along the nearly inextensible
/// shapes.
fn keep_lengths<const S: usize>(
    rod: &Rod<S>,
    last: usize,
    end: Option<Vector3<f64>>,
    q: &mut [f64],
) {
    let tangents = &rod.kinematics().tangent;
    let end = end.unwrap_or_else(|| node_of::<S>(q, last));
    chain::rebuild_from::<S>(q, last, end, |i, e| {
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
