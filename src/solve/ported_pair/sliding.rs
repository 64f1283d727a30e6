//! The consistent tangent of catheter and second wire, which friction makes unsymmetric.
//!
//! As in [`super::coupled_solve`] the wire is eliminated from the catheter's system, here by its LU factors:
//! with `A` the wire's matrix, `C` its columns and `R` its rows that belong to the wire's end, and `D`
//! the block of the end itself, the port gets the stiffness `D - R A⁻¹ C`.

use nalgebra::{Matrix6, SMatrix, SVector, Vector6};

use super::coupled_solve::{CATHETER, WIRE, hold};
use crate::contact::{Contact, ContactPair};
use crate::solve::banded::Banded;
use crate::solve::body::Body;
use crate::solve::coupled::{System, solve_unsymmetric};
use crate::solve::lu::Lu;
use crate::solve::newton::Newton;
use crate::solve::pair_rod::Seat;

/// The wire's end as a part of the catheter.
#[derive(Debug, Clone, Default)]
pub(super) struct SlidingPort {
    /// First of the wire's unknowns that are coupled with its end.
    first: usize,
    /// Rows of the end, from that unknown on.
    rows: [Vec<f64>; 6],
    /// Columns of the end over all unknowns of the wire; after elimination `A⁻¹ C`.
    columns: [Vec<f64>; 6],
}

impl SlidingPort {
    /// Replaces `step`, the forces on catheter and wire, by the step of both that takes them away; the
    /// port's edge has the stiffness `bent` beside. False where a pivot is not positive.
    pub(super) fn solve(
        &mut self,
        (catheter, of_catheter): (&Body<'_, 5>, &mut Newton<CATHETER>),
        (wire, of_wire): (&Body<'_>, &mut Newton<WIRE>),
        (seat, moved, bent, ends): (&Seat, &SMatrix<f64, 6, 7>, &SMatrix<f64, 7, 7>, &[usize; 6]),
        (adjacent, self_contact): (&[ContactPair], &[ContactPair]),
        step: &mut [f64],
    ) -> bool {
        let scale = |matrix: f64| matrix.max(f64::MIN_POSITIVE);
        let direct = self.pull(&of_wire.hessian, wire, ends);
        let of_ends = scale(of_wire.hessian.largest_diagonal());
        let couplings = wire.contacts().flat_map(Contact::couplings);
        let (matrix, lu) = (&of_wire.hessian, &mut of_wire.lu);
        if !lu.factorise(matrix, couplings, &wire.fixed, of_ends) {
            return false;
        }
        for column in &mut self.columns {
            lu.solve(column);
        }
        let eliminated =
            Matrix6::from_fn(|r, c| dot(&self.rows[r], &self.columns[c][self.first..]));
        let stiffness = bent + moved.transpose() * (direct - eliminated) * moved;
        let unknowns = seat.unknowns();
        let entries = (0..49).map(|k| {
            let (r, c) = (k / 7, k % 7);
            (unknowns[r], unknowns[c], stiffness[(r, c)])
        });
        let couplings = catheter.contacts().flat_map(Contact::couplings);
        let (matrix, lu) = (&of_catheter.hessian, &mut of_catheter.lu);
        let fixed = (&catheter.fixed[..], scale(matrix.largest_diagonal()));
        if !lu.factorise_with(matrix, couplings, entries, fixed) {
            return false;
        }
        let system = Both {
            factors: (&of_catheter.lu, &of_wire.lu),
            fixed: [&catheter.fixed, &wire.fixed],
            port: self,
            seat,
            moved,
            adjacent,
            self_contact,
        };
        system.hold(step);
        let pairs = adjacent.len() + self_contact.len();
        if pairs == 0 {
            system.solve_nearby(step);
            return true;
        }
        solve_unsymmetric(&system, 4 * pairs + 8, step)
    }

    /// Takes rows and columns of the wire's end out of its tangent; returns the block of the end.
    fn pull(&mut self, matrix: &Banded<WIRE>, wire: &Body<'_>, ends: &[usize; 6]) -> Matrix6<f64> {
        let n = matrix.size();
        let first = ends[0].saturating_sub(WIRE - 1);
        self.first = first;
        for (k, &end) in ends.iter().enumerate() {
            self.rows[k].clear();
            self.rows[k].extend((first..n).map(|i| matrix.get(i, end)));
            self.columns[k].clear();
            self.columns[k].resize(n, 0.0);
            self.columns[k][first..].copy_from_slice(&self.rows[k]);
        }
        let place = |unknown: usize| ends.iter().position(|&end| end == unknown);
        for coupling in wire.contacts().flat_map(Contact::couplings) {
            coupling.for_each_entry(|row, column, value| {
                if let Some(k) = place(row) {
                    self.rows[k][column - first] += value;
                }
                if let Some(k) = place(column) {
                    self.columns[k][row] += value;
                }
            });
        }
        let direct = Matrix6::from_fn(|r, c| self.columns[c][ends[r]]);
        for &i in wire.fixed.iter().filter(|i| **i >= first) {
            for k in 0..6 {
                self.rows[k][i - first] = 0.0;
                self.columns[k][i] = 0.0;
            }
        }
        direct
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The system of both, the catheter's unknowns first.
struct Both<'s> {
    factors: (&'s Lu<CATHETER>, &'s Lu<WIRE>),
    fixed: [&'s [usize]; 2],
    port: &'s SlidingPort,
    seat: &'s Seat,
    moved: &'s SMatrix<f64, 6, 7>,
    /// Touches of the wire with the devices, and with itself.
    adjacent: &'s [ContactPair],
    self_contact: &'s [ContactPair],
}

impl Both<'_> {
    /// Sets what belongs to unknowns that do not move to 0.
    fn hold(&self, x: &mut [f64]) {
        hold(x, self.factors.0.size(), self.fixed);
    }
}

impl System for Both<'_> {
    fn add_couplings(&self, x: &[f64], out: &mut [f64]) {
        let size = self.factors.0.size();
        for (pairs, at) in [
            (self.adjacent, [size, 0]),
            (self.self_contact, [size, size]),
        ] {
            for pair in pairs {
                pair.add_coupling(at, x, out);
                pair.add_sliding(at, x, out);
            }
        }
        self.hold(out);
    }

    fn solve_nearby(&self, x: &mut [f64]) {
        let (catheter, wire) = x.split_at_mut(self.factors.0.size());
        self.factors.1.solve(wire);
        let behind = &wire[self.port.first..];
        let pull = Vector6::from_fn(|k, _| dot(&self.port.rows[k], behind));
        let load: SVector<f64, 7> = -(self.moved.transpose() * pull);
        self.seat.add(&load, catheter);
        for &i in self.fixed[0] {
            catheter[i] = 0.0;
        }
        self.factors.0.solve(catheter);
        let ends: Vector6<f64> = self.moved * self.seat.of(catheter);
        for (column, end) in self.port.columns.iter().zip(&ends) {
            for (out, entry) in wire.iter_mut().zip(column) {
                *out -= end * entry;
            }
        }
    }
}
