//! A wire that rubs in the bore of the catheter over it.
//!
//! Wire and catheter lie on one centreline, along which the wire slides by what its hand feeds more than
//! the catheter's, and on which each turns for itself. Both movements share Coulomb's circle: a wire that
//! slides has little friction left against turning. The way along is the hands' alone and takes no part in
//! the equilibrium; the friction against turning does. The forces that press the wire against the bore
//! ([`pressing`]) are those of the last equilibrium; a search that changes them is repeated.
//!
//! Equation: for each edge of the catheter the potential `L |s|² / (2 e)` where `|s| <= e`, and
//! `L (|s| - e/2)` beyond, with `s = (a + d, b + r (ψ - τ d))`.
//! Symbols: `L` Coulomb limit `mu N` in mN, `e` way that the bore yields before the wire slides, `a`, `b`
//! way along and round the bore, in mm, that it has yielded; `d` what the wire slides forward in this step,
//! in mm; `ψ` what it turns against the catheter (rad), `τ` its twist in rad/mm, which it takes along; `r`
//! its radius in mm.
//! Source: Coulomb's law with elastic sticking, Wriggers, *Computational Contact Mechanics*, 2nd ed. 2006,
//! section 5.2.

pub(super) mod pressing;

use nalgebra::{Matrix2, Vector2};

use self::pressing::WarmStart;
use super::banded::Banded;
use crate::rod::Rod;

/// Where the rotations of wire and catheter stand among the unknowns of an edge.
pub(super) const ROTATIONS: [usize; 2] = [3, 4];

/// By how much a bore yields before the wire slides in it, in mm: a micrometre, the roughness of a drawn
/// liner (common practice, no source). A cell that is hardly pressed yields as far as others do; were it as
/// stiff, it would slide to and fro below what a search can see.
const YIELDS_MM: f64 = 1e-3;

/// Least part of a change of the limits that is gone at once.
const LEAST_PART: f64 = 0.1;

/// What the bore of a catheter is like to a wire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Fit {
    /// Coulomb coefficient, 0 or more.
    pub friction: f64,
    /// Half of what it is wider than the wire, in mm; 0 or more.
    pub play_mm: f64,
    /// Radius of the wire in mm.
    pub radius_mm: f64,
}

/// Friction on one edge of the catheter.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Cell {
    /// Length of the edge in mm.
    length_mm: f64,
    /// Coulomb limit `mu N` in mN.
    limit: f64,
    /// Way along and round the bore that it has yielded, in mm.
    yielded: Vector2<f64>,
    /// Rotation of the wire against the catheter in rad, and its twist in rad/mm, when the step began.
    start: (f64, f64),
}

/// A wire in the bore of a catheter, with friction.
#[derive(Debug, Clone)]
pub(super) struct Bore {
    pub fit: Fit,
    /// The catheter's first edge.
    first: usize,
    /// Its edges outside the guide, from its tip.
    cells: Vec<Cell>,
    /// What the wire slides forward in this step, in mm.
    slid_mm: f64,
    /// Where the wire lies in the bore.
    pub warm: WarmStart,
    /// Way that the limits would have gone after the last search of this step, in mN, and the part of it that
    /// they went.
    eased: Option<(Vec<f64>, f64)>,
}

impl Cell {
    fn sticks(way: &Vector2<f64>) -> bool {
        way.norm() <= YIELDS_MM
    }

    fn potential(&self, way: &Vector2<f64>) -> f64 {
        if Self::sticks(way) {
            0.5 * self.limit * way.norm_squared() / YIELDS_MM
        } else {
            self.limit * (way.norm() - 0.5 * YIELDS_MM)
        }
    }

    /// Force in mN that resists the way, and its derivative in mN/mm.
    fn force(&self, way: &Vector2<f64>) -> (Vector2<f64>, Matrix2<f64>) {
        if Self::sticks(way) {
            let stiffness = self.limit / YIELDS_MM;
            return (way * stiffness, Matrix2::identity() * stiffness);
        }
        let size = way.norm();
        let out = way / size;
        let turning = Matrix2::identity() - out * out.transpose();
        (out * self.limit, turning * (self.limit / size))
    }

    /// What stays yielded of the way, and the energy lost.
    fn settle(&self, way: &Vector2<f64>) -> (Vector2<f64>, f64) {
        if Self::sticks(way) {
            return (*way, 0.0);
        }
        let size = way.norm();
        let lost = self.limit * (size - YIELDS_MM);
        (way * (YIELDS_MM / size), lost)
    }
}

impl Bore {
    /// A bore in which nothing has been pressed yet.
    pub(super) fn new(fit: Fit) -> Self {
        Self {
            fit,
            first: 0,
            cells: Vec::new(),
            slid_mm: 0.0,
            warm: WarmStart::default(),
            eased: None,
        }
    }

    /// Has another wire in it.
    pub(super) fn take_wire(&mut self, fit: Fit) {
        *self = Self {
            first: self.first,
            ..Self::new(fit)
        };
    }

    /// Lays the cells on the catheter's edges, `first` and those behind it, with these lengths in mm; the
    /// last ones may have been divided or joined.
    pub(super) fn lay(&mut self, first: usize, lengths: &[f64]) {
        self.first = first;
        let last = self.cells.last().copied().unwrap_or_default();
        self.cells.resize(lengths.len(), last);
        for (cell, &length_mm) in self.cells.iter_mut().zip(lengths) {
            if cell.length_mm > 0.0 {
                cell.limit *= length_mm / cell.length_mm;
            }
            cell.length_mm = length_mm;
        }
    }

    /// Begins a step at the rod's state.
    pub(super) fn begin<const S: usize>(&mut self, rod: &Rod<S>) {
        self.slid_mm = 0.0;
        self.eased = None;
        for (cell, edge) in self.cells.iter_mut().zip(self.first..) {
            let twist = |i: usize| rod.twist(i) / rod.hinges[i].length;
            let before = if edge > 0 { twist(edge) } else { 0.0 };
            let mean = 0.5 * (before + twist(edge + 1));
            cell.start = (against::<S>(&rod.q, edge), mean);
        }
    }

    /// In this step the wire slides forward in the catheter by `slid_mm`.
    pub(super) fn slide(&mut self, slid_mm: f64) {
        self.slid_mm = slid_mm;
    }

    /// Way of the wire along and round the bore on an edge, in mm.
    fn way<const S: usize>(&self, q: &[f64], (cell, edge): (&Cell, usize)) -> Vector2<f64> {
        let (angle, twist) = cell.start;
        let turned = against::<S>(q, edge) - angle - twist * self.slid_mm;
        cell.yielded + Vector2::new(self.slid_mm, self.fit.radius_mm * turned)
    }

    fn ways<'b, const S: usize>(
        &'b self,
        q: &'b [f64],
    ) -> impl Iterator<Item = (usize, &'b Cell, Vector2<f64>)> {
        let cells = self.cells.iter().zip(self.first..);
        cells.map(|(cell, edge)| (edge, cell, self.way::<S>(q, (cell, edge))))
    }

    /// Potential of the friction in mN mm.
    pub(super) fn energy<const S: usize>(&self, q: &[f64]) -> f64 {
        let ways = self.ways::<S>(q);
        ways.map(|(_, cell, way)| cell.potential(&way)).sum()
    }

    /// Adds gradient and Hessian of that potential.
    pub(super) fn add_derivatives<const S: usize, const W: usize>(
        &self,
        q: &[f64],
        gradient: &mut [f64],
        hessian: &mut Banded<W>,
    ) {
        let radius = self.fit.radius_mm;
        for (edge, cell, way) in self.ways::<S>(q) {
            let (force, stiffness) = cell.force(&way);
            let [wire, catheter] = ROTATIONS.map(|k| S * edge + k);
            let (torque, stiffness) = (force.y * radius, stiffness[(1, 1)] * radius * radius);
            gradient[wire] += torque;
            gradient[catheter] -= torque;
            hessian.add(wire, wire, stiffness);
            hessian.add(catheter, catheter, stiffness);
            hessian.add(catheter, wire, -stiffness);
        }
    }

    /// Forces in mN along and round the bore that resist the wire, from the catheter's tip.
    pub(super) fn forces<const S: usize>(&self, q: &[f64]) -> Vec<Vector2<f64>> {
        let ways = self.ways::<S>(q);
        ways.map(|(_, cell, way)| cell.force(&way).0).collect()
    }

    /// Force in mN that resists the wire's sliding forward.
    pub(super) fn along<const S: usize>(&self, q: &[f64]) -> f64 {
        self.forces::<S>(q).iter().map(|force| force.x).sum()
    }

    /// Takes the forces in mN by which the wire is pressed against each edge.
    pub(super) fn take_pressing(&mut self, pressing: &[f64]) {
        for (cell, pressing) in self.cells.iter_mut().zip(pressing) {
            cell.limit = self.fit.friction * pressing;
        }
    }

    /// Coulomb limits in mN on each edge.
    pub(super) fn limits(&self) -> Vec<f64> {
        self.cells.iter().map(|cell| cell.limit).collect()
    }

    /// Goes only a part of the way from those limits to the present ones.
    ///
    /// Equation: `ω' = -ω r·(r' - r) / |r' - r|²`.
    /// Symbols: `r` way that the limits would go after the search before, `r'` after this one, in mN; `ω` part
    /// of it that is gone, from 1 on.
    /// Source: Aitken's relaxation of a fixed point for vectors, Irons and Tuck, Int. J. Numer. Meth. Engng
    /// 1:275, 1969 (from memory).
    pub(super) fn ease(&mut self, from: &[f64]) {
        let way: Vec<f64> = (self.cells.iter().zip(from))
            .map(|(cell, from)| cell.limit - from)
            .collect();
        let part = match &self.eased {
            Some((before, part)) if before.len() == way.len() => {
                let turned: Vec<f64> = way.iter().zip(before).map(|(a, b)| a - b).collect();
                let dot =
                    |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
                let square = dot(&turned, &turned).max(f64::MIN_POSITIVE);
                (-part * dot(before, &turned) / square).clamp(LEAST_PART, 1.0)
            }
            _ => 1.0,
        };
        for ((cell, from), way) in self.cells.iter_mut().zip(from).zip(&way) {
            cell.limit = from + part * way;
        }
        self.eased = Some((way, part));
    }

    /// Number of the catheter's edges.
    pub(super) fn edges(&self) -> usize {
        self.cells.len()
    }

    /// Sum of the Coulomb limits in mN.
    pub(super) fn limit(&self) -> f64 {
        self.cells.iter().map(|cell| cell.limit).sum()
    }

    /// Ends a step; returns the energy lost to friction in mN mm.
    pub(super) fn settle<const S: usize>(&mut self, q: &[f64]) -> f64 {
        let settled: Vec<_> = {
            let ways = self.ways::<S>(q);
            ways.map(|(_, cell, way)| cell.settle(&way)).collect()
        };
        let mut lost = 0.0;
        for (cell, (yielded, loss)) in self.cells.iter_mut().zip(settled) {
            cell.yielded = yielded;
            lost += loss;
        }
        lost
    }

    /// Energy in mN mm of the bore that has yielded, in a step that has been settled.
    pub(super) fn stored(&self) -> f64 {
        let cells = self.cells.iter();
        cells.map(|cell| cell.potential(&cell.yielded)).sum()
    }
}

/// Rotation of the wire against the catheter on an edge, in rad.
fn against<const S: usize>(q: &[f64], edge: usize) -> f64 {
    let [wire, catheter] = ROTATIONS.map(|k| q[S * edge + k]);
    wire - catheter
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Where a limit falls by more than what it was raised by, plain repetition runs away.
    #[test]
    fn limits_that_answer_too_strongly_are_brought_to_rest() {
        let fit = Fit {
            friction: 0.1,
            play_mm: 0.05,
            radius_mm: 0.18,
        };
        let mut bore = Bore::new(fit);
        bore.lay(0, &[0.5, 0.5]);
        let rest = [2.0 / 2.2, 3.0 / 2.2];
        for _ in 0..8 {
            let from = bore.limits();
            bore.cells[0].limit = 2.0 - 1.2 * from[0];
            bore.cells[1].limit = 3.0 - 1.2 * from[1];
            bore.ease(&from);
        }
        for (limit, rest) in bore.limits().into_iter().zip(rest) {
            assert!((limit / rest - 1.0).abs() < 1e-9, "{limit} for {rest}");
        }
    }
}
