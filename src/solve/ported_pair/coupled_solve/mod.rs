//! Equilibria of catheter and second wire together: one potential, one search.
//!
//! The wire's end in the port is no unknown of its own: it moves with the edge of the catheter that
//! carries the port (see [`Seat`]). With the wire's end eliminated, and the wire's other unknowns
//! after it, the catheter's system gets the stiffness with which the wire resists a movement of the
//! port (a Schur complement; Golub and Van Loan, *Matrix Computations*, 4th ed. 2013, section
//! 3.2.6). The touches of the two beside each other and those of the wire with itself lie off both
//! bands; they are left to conjugate gradients preconditioned with the rest.

mod consistent;
mod elimination;
#[cfg(test)]
mod probe;

use nalgebra::Vector6;

pub(super) use self::elimination::hold;
use self::elimination::{Both, Port};
use super::sliding::SlidingPort;
use crate::contact::{AdjacentContact, Between};
use crate::solve::body::{Body, Losses};
use crate::solve::consistent::Consistent;
use crate::solve::coupled::{Coupled, System};
use crate::solve::guided::Layout;
use crate::solve::pair_rod::{PairRod, Seat};
use crate::solve::release::Relaxation;
use crate::solve::search::{NewtonOptions, Search, Step, backtrack};
use crate::solve::wire_rod::WireRod;

/// Bandwidths of the catheter's and of the wire's system.
pub(super) const CATHETER: usize = 13;
pub(super) const WIRE: usize = 11;

/// Catheter and wire, what they do to each other, and when they count as in equilibrium.
pub(super) struct CoupledSolve<'s, 'a> {
    pub carrier: &'s mut PairRod<'a>,
    pub wire: &'s mut WireRod<'a>,
    pub adjacent: &'s mut AdjacentContact,
    pub seat: Seat,
    pub memory: &'s mut Memory,
    pub options: NewtonOptions,
}

/// Memory of the solver, reused from step to step.
#[derive(Debug, Clone, Default)]
pub(super) struct Memory {
    coupled: Coupled,
    pub(super) step: Vec<f64>,
    port: Port,
    sliding: SlidingPort,
}

impl CoupledSolve<'_, '_> {
    /// Settles the friction between the two; returns the energy lost to it in mN mm.
    fn settle_between(&mut self) -> f64 {
        let (q, wire) = (&self.carrier.body.rod.q, &mut self.wire.body);
        let wall = wire.contact.as_mut();
        wall.map_or(0.0, |wall| self.adjacent.settle(wall, &wire.rod.q, q))
    }

    /// The unknowns of the wire's two last nodes.
    fn ends(&self) -> [usize; 6] {
        let exit = self.wire.layout.exit();
        std::array::from_fn(|k| 4 * (exit + k / 3) + k % 3)
    }

    /// Forces on the wire's two last nodes, as the gradient of its potential.
    fn gradient_of_ends(&self) -> Vector6<f64> {
        let ends = self.ends();
        Vector6::from_fn(|k, _| self.wire.newton.gradient[ends[k]])
    }

    /// Factorises at the state assessed last; returns whether a Hessian had to be shifted.
    fn factorise(&mut self) -> bool {
        let forces = self.gradient_of_ends();
        let ends = self.ends();
        let bent = self.seat.stiffness(&self.carrier.body.rod, &forces);
        let port = &mut self.memory.port;
        let (of_catheter, of_wire) = (&mut self.carrier.newton, &mut self.wire.newton);
        let direct = port.pull(&of_wire.hessian, &ends, &self.wire.body.fixed);
        let wire_shift = of_wire.factorise(&self.wire.body.fixed);
        port.eliminate(&of_wire.factor);
        let moved = &port.moved;
        let stiffness = bent + moved.transpose() * (direct - port.eliminated) * moved;
        let unknowns = self.seat.unknowns();
        for (c, &column) in unknowns.iter().enumerate() {
            for (r, &row) in unknowns
                .iter()
                .enumerate()
                .filter(|(_, row)| **row >= column)
            {
                of_catheter.hessian.add(row, column, stiffness[(r, c)]);
            }
        }
        let catheter_shift = of_catheter.factorise(&self.carrier.body.fixed);
        wire_shift > 0.0 || catheter_shift > 0.0
    }

    /// Solves for the step of both that takes the forces in the memory's step, the catheter's first,
    /// away.
    fn solve(&mut self) {
        let Memory {
            coupled,
            step,
            port,
            ..
        } = &mut *self.memory;
        let (of_catheter, of_wire) = (&mut self.carrier.newton, &mut self.wire.newton);
        let system = Both {
            factors: (&of_catheter.factor, &of_wire.factor),
            fixed: [&self.carrier.body.fixed, &self.wire.body.fixed],
            port,
            seat: &self.seat,
            adjacent: self.adjacent.pairs(),
            self_contact: self.wire.body.pairs(),
        };
        system.hold(step);
        let pairs = system.adjacent.len() + system.self_contact.len();
        if pairs == 0 {
            system.solve_nearby(step);
        } else {
            let least = self.options.tolerance.min(self.wire.options.tolerance);
            coupled.solve(&system, (4 * pairs, Coupled::SHARE * least), step);
        }
        self.hand_out();
    }

    /// Hands the step in the memory out to both; the wire's ends follow the port.
    fn hand_out(&mut self) {
        let ends = self.ends();
        let Memory { step, port, .. } = &*self.memory;
        let (of_catheter, of_wire) = (&mut self.carrier.newton, &mut self.wire.newton);
        let followed = port.moved * self.seat.of(step);
        let (catheter, wire) = step.split_at(of_catheter.gradient.len());
        of_catheter.step.clear();
        of_catheter.step.extend_from_slice(catheter);
        of_wire.step.clear();
        of_wire.step.extend_from_slice(wire);
        for (k, end) in ends.into_iter().enumerate() {
            of_wire.step[end] = followed[k];
        }
    }

    /// Solves for the step of both; returns whether a Hessian had to be shifted.
    fn direction(&mut self) -> bool {
        let shifted = self.factorise();
        let gradients = self.carrier.newton.gradient.iter();
        let gradients = gradients.chain(&self.wire.newton.gradient);
        self.memory.step.clear();
        self.memory.step.extend(gradients.map(|g| -g));
        self.solve();
        shifted
    }

    /// Puts both at the share `alpha` of the step into their trials.
    fn go(&mut self, alpha: f64) {
        let (carrier, wire) = (&mut *self.carrier, &mut *self.wire);
        carrier.newton.try_step(&mut carrier.body, alpha);
        let (q, kinematics) = (&carrier.newton.trial, &carrier.newton.kinematics);
        let ends = self.seat.ends(q, kinematics);
        wire.newton.try_carried(&wire.body, alpha, &ends);
    }

    /// Puts both at the share `alpha` of the step into their trials; returns the potential there.
    pub(super) fn try_step(&mut self, alpha: f64) -> f64 {
        self.go(alpha);
        let (carrier, wire) = (&mut *self.carrier, &mut *self.wire);
        let (q, kinematics) = (&carrier.newton.trial, &carrier.newton.kinematics);
        let (of_wire, wire_kinematics) = (&wire.newton.trial, &wire.newton.kinematics);
        let potentials =
            carrier.body.potential(q, kinematics) + wire.body.potential(of_wire, wire_kinematics);
        let adjacent = wire.body.contact.as_mut();
        potentials + adjacent.map_or(0.0, |wall| self.adjacent.energy(wall, of_wire, q))
    }

    /// Makes the trials the state.
    pub(super) fn commit(&mut self) {
        let (carrier, wire) = (&mut *self.carrier, &mut *self.wire);
        carrier.newton.commit(&mut carrier.body);
        wire.newton.commit(&mut wire.body);
    }

    /// Potential of both now, and the size below which a difference says nothing.
    fn present(&mut self) -> (f64, f64) {
        let (of_catheter, noise) = self.carrier.body.present();
        let (of_wire, more_noise) = self.wire.body.present();
        let body = &mut self.wire.body;
        let (q, of_devices) = (&body.rod.q, &self.carrier.body.rod.q);
        let wall = body.contact.as_mut();
        let adjacent = wall.map_or(0.0, |wall| self.adjacent.energy(wall, q, of_devices));
        (
            of_catheter + of_wire + adjacent,
            noise + more_noise + 1e-13 * adjacent,
        )
    }
}

impl Search for CoupledSolve<'_, '_> {
    fn follow(&mut self, share: f64) {
        self.carrier.body.follow(share);
        self.wire.body.follow(share);
        self.adjacent.friction_relaxation = share;
    }

    fn choose_points(&mut self) {
        self.carrier.body.choose_points();
        self.wire.body.choose_points();
        self.adjacent.look_anew();
    }

    fn uncover(&mut self) -> Between {
        let between = self.carrier.body.uncover().max(self.wire.body.uncover());
        if between == Between::Halved {
            self.adjacent.look_anew();
        }
        between
    }

    fn friction_ratio(&self) -> f64 {
        let (carrier, wire) = (&self.carrier.body, &self.wire.body);
        let between = wire.contact.as_ref().map_or(0.0, |wall| {
            self.adjacent
                .friction_ratio(wall, &wire.rod.q, &carrier.rod.q)
        });
        let own = carrier.friction_ratio().max(wire.friction_ratio());
        own.max(between)
    }

    fn assess(&mut self) -> Result<f64, usize> {
        let (carrier, wire) = (&mut *self.carrier, &mut *self.wire);
        let (of_catheter, of_wire) = (&mut carrier.newton, &mut wire.newton);
        let (catheter, thin) = (&mut carrier.body, &mut wire.body);
        catheter.assemble(&mut of_catheter.gradient, &mut of_catheter.hessian);
        thin.assemble(&mut of_wire.gradient, &mut of_wire.hessian);
        if let Some(wall) = &mut thin.contact {
            self.adjacent.add_derivatives(
                wall,
                (&thin.rod, (&mut of_wire.gradient, &mut of_wire.hessian)),
                (
                    &catheter.rod,
                    (&mut of_catheter.gradient, &mut of_catheter.hessian),
                ),
            );
        }
        let moved = self.seat.moved(&catheter.rod);
        self.memory.port.moved = moved;
        let pull = moved.transpose() * self.gradient_of_ends();
        self.seat.add(&pull, &mut self.carrier.newton.gradient);
        self.residual()
    }

    fn off_mm(&self) -> f64 {
        self.carrier.body.off_mm().max(self.wire.body.off_mm())
    }

    fn step(&mut self) -> Option<Step> {
        let shifted = self.direction();
        let limit = self.limit();
        let (of_catheter, of_wire) = (&mut self.carrier.newton, &mut self.wire.newton);
        of_catheter.shorten(limit);
        of_wire.shorten(limit);
        let size = of_catheter.step_size().max(of_wire.step_size());
        // The catheter's gradient holds what the wire's end pulls already.
        let ends = self.ends();
        let wire = &self.wire.newton;
        let held: f64 = ends.iter().map(|&k| wire.gradient[k] * wire.step[k]).sum();
        let slope =
            self.carrier.newton.slope(&self.carrier.body) + wire.slope(&self.wire.body) - held;
        let present = self.present();
        let share = backtrack(slope, present, |share| self.try_step(share))?;
        self.commit();
        let size = share * size;
        Some(Step { size, shifted })
    }
}

impl<'a> Relaxation for CoupledSolve<'_, 'a> {
    type State = (Body<'a, 5>, Body<'a>, AdjacentContact);

    fn state(&self) -> Self::State {
        let (carrier, wire) = (&self.carrier.body, &self.wire.body);
        (carrier.clone(), wire.clone(), self.adjacent.clone())
    }

    fn restore(&mut self, state: Self::State) {
        (self.carrier.body, self.wire.body, *self.adjacent) = state;
    }

    fn expect_here(&mut self) {
        self.carrier.body.expect_here();
        self.wire.body.expect_here();
    }

    fn damping(&self) -> f64 {
        self.carrier.body.damping.max(self.wire.body.damping)
    }

    fn damp(&mut self, damping: f64) {
        self.carrier.body.damping = damping;
        self.wire.body.damping = damping;
    }

    fn go_on(&mut self) -> Losses {
        let between = self.settle_between();
        let mut lost = self.carrier.body.go_on();
        lost += self.wire.body.go_on();
        lost.sliding += between;
        self.adjacent.go_on(&self.carrier.body.rod.q);
        lost
    }
}
