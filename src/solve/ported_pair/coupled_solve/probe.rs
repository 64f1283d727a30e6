//! What tests ask of the system of catheter and second wire.

use nalgebra::Vector6;

use super::CoupledSolve;
use super::elimination::Both;
use crate::solve::coupled::System;

impl CoupledSolve<'_, '_> {
    /// Makes the step with the entries `smooth` at the free unknowns; returns slope and curvature of
    /// the potential along it as the derivatives assessed last say.
    pub(in super::super) fn along(&mut self, smooth: impl Fn(usize) -> f64) -> (f64, f64) {
        self.factorise();
        let size = self.carrier.newton.gradient.len();
        let gradients = self.carrier.newton.gradient.iter();
        let gradients = gradients.chain(&self.wire.newton.gradient);
        let mut step: Vec<f64> = (0..size + self.wire.newton.gradient.len())
            .map(smooth)
            .collect();
        self.system().hold(&mut step);
        let slope = gradients.zip(&step).map(|(g, s)| g * s).sum();
        let curvature = self.quadratic_form(&step);
        let (catheter, wire) = step.split_at(size);
        let followed = self.memory.port.moved * self.seat.of(catheter);
        self.carrier.newton.step = catheter.to_vec();
        self.wire.newton.step = wire.to_vec();
        for (k, end) in self.ends().into_iter().enumerate() {
            self.wire.newton.step[end] = followed[k];
        }
        (slope, curvature)
    }

    /// Solves for the step that the loads `load` bring about; returns their work on it and its
    /// quadratic form, which are the same.
    pub(in super::super) fn answer(&mut self, load: impl Fn(usize) -> f64) -> (f64, f64) {
        assert!(!self.factorise(), "a Hessian had to be shifted");
        let unknowns = self.carrier.newton.gradient.len() + self.wire.newton.gradient.len();
        self.memory.step = (0..unknowns).map(load).collect();
        let loads = self.memory.step.clone();
        self.solve();
        let step = &self.memory.step;
        let work = loads.iter().zip(step).map(|(l, s)| l * s).sum();
        (work, self.quadratic_form(step))
    }

    /// The product of the Hessian of both with `step` from both sides.
    fn quadratic_form(&self, step: &[f64]) -> f64 {
        let dot = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
        let mut coupled = vec![0.0; step.len()];
        self.system().add_couplings(step, &mut coupled);
        let (catheter, wire) = step.split_at(self.carrier.newton.gradient.len());
        // The catheter's matrix holds what the elimination has left of the ends' stiffness.
        let port = &self.memory.port;
        let ends: Vector6<f64> = port.moved * self.seat.of(catheter);
        let pulled = Vector6::from_fn(|k, _| dot(&port.pulled[k], &wire[port.first..]));
        self.carrier.newton.hessian.quadratic_form(catheter)
            + self.wire.newton.hessian.quadratic_form(wire)
            + ends.dot(&(port.eliminated * ends + 2.0 * pulled))
            + dot(&coupled, step)
    }

    /// Gradient of the free unknowns assessed last, the catheter's first.
    pub(in super::super) fn free_gradient(&self) -> Vec<f64> {
        let gradients = self.carrier.newton.gradient.iter();
        let mut all: Vec<f64> = gradients
            .chain(&self.wire.newton.gradient)
            .copied()
            .collect();
        self.system().hold(&mut all);
        all
    }

    fn system(&self) -> Both<'_> {
        Both {
            factors: (&self.carrier.newton.factor, &self.wire.newton.factor),
            fixed: [&self.carrier.body.fixed, &self.wire.body.fixed],
            port: &self.memory.port,
            seat: &self.seat,
            adjacent: self.adjacent.pairs(),
            self_contact: self.wire.body.pairs(),
        }
    }
}
