//! The symmetric system of catheter and second wire, solved by eliminating the wire.

use nalgebra::{Matrix6, SMatrix, SVector, Vector6};

use super::{CATHETER, WIRE};
use crate::contact::ContactPair;
use crate::solve::banded::{Banded, Factor};
use crate::solve::coupled::System;
use crate::solve::pair_rod::Seat;

/// The wire's end as a part of the catheter.
#[derive(Debug, Clone, Default)]
pub(super) struct Port {
    /// Change of the two ends with the catheter's unknowns.
    pub moved: SMatrix<f64, 6, 7>,
    /// First of the wire's unknowns that are coupled with its ends.
    pub first: usize,
    /// Columns of the wire's Hessian that belong to its ends, at the free unknowns from there on,
    /// and what the lower triangle of its factors makes of them.
    pub pulled: [Vec<f64>; 6],
    pub lower: [Vec<f64>; 6],
    /// What the elimination of the wire takes off the stiffness of its ends.
    pub eliminated: Matrix6<f64>,
}

impl Port {
    /// Takes the columns of the wire's ends out of its Hessian `matrix`; returns the block that the
    /// ends have with themselves.
    pub(super) fn pull(
        &mut self,
        matrix: &Banded<WIRE>,
        ends: &[usize; 6],
        fixed: &[usize],
    ) -> Matrix6<f64> {
        let n = matrix.size();
        let first = ends[0].saturating_sub(WIRE - 1);
        self.first = first;
        for (column, &end) in self.pulled.iter_mut().zip(ends) {
            column.clear();
            column.extend((first..n).map(|i| matrix.get(i, end)));
        }
        let direct = Matrix6::from_fn(|r, c| self.pulled[c][ends[r] - first]);
        for column in &mut self.pulled {
            for &i in fixed.iter().filter(|i| **i >= first) {
                column[i - first] = 0.0;
            }
        }
        direct
    }

    /// Eliminates the wire whose factors these are.
    pub(super) fn eliminate(&mut self, factor: &Factor<WIRE>) {
        for (lower, pulled) in self.lower.iter_mut().zip(&self.pulled) {
            lower.clone_from(pulled);
            factor.solve_lower(self.first, lower);
        }
        let lower = &self.lower;
        self.eliminated = Matrix6::from_fn(|r, c| factor.between(&lower[r], &lower[c]));
    }
}

/// Adds a sum of six columns to `out`.
fn add_columns(columns: &[Vec<f64>; 6], shares: &Vector6<f64>, out: &mut [f64]) {
    for (column, share) in columns.iter().zip(shares) {
        for (out, entry) in out.iter_mut().zip(column) {
            *out += share * entry;
        }
    }
}

/// The system of both, the catheter's unknowns first; the catheter's factors hold what the
/// elimination of the wire has made of its matrix.
pub(super) struct Both<'s> {
    pub factors: (&'s Factor<CATHETER>, &'s Factor<WIRE>),
    pub fixed: [&'s [usize]; 2],
    pub port: &'s Port,
    pub seat: &'s Seat,
    /// Touches of the wire with the devices, and with itself.
    pub adjacent: &'s [ContactPair],
    pub self_contact: &'s [ContactPair],
}

/// Sets what belongs to unknowns of catheter and wire that do not move to 0; the catheter has the first
/// `size` of them.
pub(in crate::solve::ported_pair) fn hold(x: &mut [f64], size: usize, fixed: [&[usize]; 2]) {
    let (of_catheter, of_wire) = x.split_at_mut(size);
    for (part, fixed) in [of_catheter, of_wire].into_iter().zip(fixed) {
        for &i in fixed {
            part[i] = 0.0;
        }
    }
}

impl Both<'_> {
    /// Sets what belongs to unknowns that do not move to 0.
    pub(super) fn hold(&self, x: &mut [f64]) {
        hold(x, self.factors.0.size(), self.fixed);
    }
}

impl System for Both<'_> {
    fn add_couplings(&self, x: &[f64], out: &mut [f64]) {
        let size = self.factors.0.size();
        for pair in self.adjacent {
            pair.add_coupling([size, 0], x, out);
        }
        for pair in self.self_contact {
            pair.add_coupling([size, size], x, out);
        }
        self.hold(out);
    }

    fn solve_nearby(&self, x: &mut [f64]) {
        let (catheter, wire) = x.split_at_mut(self.factors.0.size());
        let port = self.port;
        let factor = self.factors.1;
        factor.solve_lower(0, wire);
        let pull = Vector6::from_fn(|k, _| factor.between(&port.lower[k], &wire[port.first..]));
        let load: SVector<f64, 7> = -(port.moved.transpose() * pull);
        self.seat.add(&load, catheter);
        for &i in self.fixed[0] {
            catheter[i] = 0.0;
        }
        self.factors.0.solve(catheter);
        let ends: Vector6<f64> = port.moved * self.seat.of(catheter);
        add_columns(&port.lower, &-ends, &mut wire[port.first..]);
        factor.solve_upper(wire);
    }
}
