//! How far a step goes, and the state at a share of it.

use nalgebra::Vector3;

use super::Newton;
use crate::rod::{Rod, node_of};
use crate::solve::body::{Body, Update};
use crate::solve::chain;

impl<const W: usize> Newton<W> {
    /// Largest entry of the step in mm (and rad).
    pub(in crate::solve) fn step_size(&self) -> f64 {
        let vessel = self
            .vessel_step
            .iter()
            .fold(0.0, |m: f64, s| m.max(s.amax()));
        self.step.iter().fold(vessel, |m: f64, s| m.max(s.abs()))
    }

    /// Makes the trial the state.
    pub(in crate::solve) fn commit<const S: usize>(&mut self, body: &mut Body<'_, S>) {
        body.rod.commit(&self.trial, &mut self.kinematics);
    }

    /// Share of the step with which no node moves further than allowed, no edge turns by more than
    /// about 45 degrees, and no rotation changes by more than a radian; 1 at most.
    pub(in crate::solve) fn limit<const S: usize>(&self, body: &Body<'_, S>, max_move: f64) -> f64 {
        // Most steps are far from any limit, which squares show without a root or a quotient.
        const CLEARLY: f64 = 0.9;
        let mut factor: f64 = 1.0;
        let clear = CLEARLY * max_move * max_move;
        let mut b = node_of::<S>(&self.step, 0);
        for (i, length) in body.rod.kinematics().length.iter().enumerate() {
            let a = b;
            b = node_of::<S>(&self.step, i + 1);
            let turn = b - a;
            if turn.norm_squared() > CLEARLY * (0.7 * length).powi(2) {
                factor = factor.min(0.7 * length / turn.norm());
            }
            if a.norm_squared() > clear || b.norm_squared() > clear {
                factor = factor.min(max_move / b.norm().max(a.norm()));
            }
            for theta in &self.step[S * i + 3..S * i + S] {
                if theta.abs() > 1.0 {
                    factor = factor.min(1.0 / theta.abs());
                }
            }
        }
        for step in &self.vessel_step {
            factor = factor.min(max_move / step.norm().max(f64::MIN_POSITIVE));
        }
        factor
    }

    /// Takes only that share of the step.
    pub(in crate::solve) fn shorten(&mut self, factor: f64) {
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
    pub(in crate::solve) fn slope<const S: usize>(&self, body: &Body<'_, S>) -> f64 {
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
    pub(in crate::solve) fn try_step<const S: usize>(
        &mut self,
        body: &mut Body<'_, S>,
        alpha: f64,
    ) {
        if body.giving.is_some() {
            body.move_vessel(&self.vessel, alpha, &self.vessel_step);
        }
        self.go_straight(&body.rod, alpha);
        if body.rigid_end {
            carry_last_node(body, &mut self.trial);
        }
        match body.update {
            Update::Straight => {}
            Update::FromLastNode => {
                keep_lengths(&body.rod, body.rod.edges.len(), None, &mut self.trial);
            }
            Update::FromFirstNode => {
                let corrected = first_order_length(&body.rod);
                chain::rebuild_onward::<S>(&mut self.trial, corrected);
            }
        }
        body.rod.kinematics_of(&self.trial, &mut self.kinematics);
    }

    /// The same for a rod whose last two nodes are carried to `ends`.
    pub(in crate::solve) fn try_carried<const S: usize>(
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
    let end = end.unwrap_or_else(|| node_of::<S>(q, last));
    chain::rebuild_from::<S>(q, last, end, first_order_length(rod));
}

/// An edge vector in mm, by its number, with the length that its step has to first order.
fn first_order_length<const S: usize>(
    rod: &Rod<S>,
) -> impl Fn(usize, Vector3<f64>) -> Vector3<f64> {
    let tangents = &rod.kinematics().tangent;
    |i, e| {
        let first_order = tangents[i].dot(&e);
        let size = e.norm();
        if first_order > 0.3 * size {
            e * (first_order / size)
        } else {
            e
        }
    }
}

/// Moves the last node with the one before it.
fn carry_last_node<const S: usize>(body: &Body<'_, S>, q: &mut [f64]) {
    let last = q.len() - 3;
    for c in 0..3 {
        q[last + c] = body.rod.q[last + c] + q[last - S + c] - body.rod.q[last - S + c];
    }
}
