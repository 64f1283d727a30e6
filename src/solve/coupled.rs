//! Solution of a system with couplings far off its band.

use super::banded::Factor;
use super::lu::Lu;
use super::together::Together;
use crate::contact::ContactPair;

/// Residual over the right-hand side at which a step counts as found, both measured with the system
/// nearby: solving more accurately than a Newton step reduces the residual is wasted.
const TOLERANCE: f64 = 1e-3;

/// A symmetric system: one nearby that can be solved at once, and couplings.
pub(super) trait System {
    /// Replaces `x` by the solution of the system nearby with `x` on the right.
    fn solve_nearby(&self, x: &mut [f64]);
    /// Adds the product of the couplings with `x` to `out`.
    fn add_couplings(&self, x: &[f64], out: &mut [f64]);
}

/// A banded system with the couplings of touches within one device; the system nearby is without
/// them.
pub(super) struct SymmetricPairs<'s, const W: usize> {
    pub factor: &'s Factor<W>,
    pub pairs: &'s [ContactPair],
    /// Unknowns that stay 0.
    pub fixed: &'s [usize],
}

impl<const W: usize> System for SymmetricPairs<'_, W> {
    fn solve_nearby(&self, x: &mut [f64]) {
        self.factor.solve(x);
    }
    fn add_couplings(&self, x: &[f64], out: &mut [f64]) {
        for pair in self.pairs {
            pair.add_coupling([0, 0], x, out);
        }
        for &i in self.fixed {
            out[i] = 0.0;
        }
    }
}

/// A banded system without symmetry, with the couplings of touches that slide.
pub(super) struct SlidingPairs<'s, const W: usize> {
    pub factor: &'s Lu<W>,
    pub pairs: &'s [ContactPair],
    /// Unknowns that stay 0.
    pub fixed: &'s [usize],
}

impl<const W: usize> System for SlidingPairs<'_, W> {
    fn solve_nearby(&self, x: &mut [f64]) {
        self.factor.solve(x);
    }
    fn add_couplings(&self, x: &[f64], out: &mut [f64]) {
        for pair in self.pairs {
            pair.add_coupling([0, 0], x, out);
            pair.add_sliding([0, 0], x, out);
        }
        for &i in self.fixed {
            out[i] = 0.0;
        }
    }
}

/// The system of a device and a vessel that gives way, with the couplings of touches within the device:
/// its unknowns come first.
pub(super) struct VesselPairs<'s, const W: usize> {
    pub together: &'s Together<W>,
    pub pairs: &'s [ContactPair],
    /// Unknowns that stay 0.
    pub fixed: &'s [usize],
    /// Whether the touches' friction counts with its change.
    pub slides: bool,
}

impl<const W: usize> System for VesselPairs<'_, W> {
    fn solve_nearby(&self, x: &mut [f64]) {
        self.together.solve(x);
    }
    fn add_couplings(&self, x: &[f64], out: &mut [f64]) {
        for pair in self.pairs {
            pair.add_coupling([0, 0], x, out);
            if self.slides {
                pair.add_sliding([0, 0], x, out);
            }
        }
        for &i in self.fixed {
            out[i] = 0.0;
        }
    }
}

/// Solves a system without symmetry in place by stabilised biconjugate gradients, preconditioned from
/// the right with the system nearby, until the residual is [`TOLERANCE`] of the right-hand side `x`,
/// in at most `most` iterations. Returns false where it breaks down.
///
/// Source: van der Vorst, *Bi-CGSTAB*, SIAM J. Sci. Stat. Comput. 13:631, 1992 (from memory).
pub(super) fn solve_unsymmetric(system: &impl System, most: usize, x: &mut [f64]) -> bool {
    let dot = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
    // The whole system on what the system nearby makes of `y`.
    let apply = |y: &[f64]| {
        let mut nearby = y.to_vec();
        system.solve_nearby(&mut nearby);
        let mut image = y.to_vec();
        system.add_couplings(&nearby, &mut image);
        image
    };
    let n = x.len();
    let mut residual = x.to_vec();
    let shadow = residual.clone();
    let small = TOLERANCE * dot(&residual, &residual).sqrt();
    let (mut direction, mut image) = (vec![0.0; n], vec![0.0; n]);
    let (mut rho, mut alpha, mut omega) = (1.0, 1.0, 1.0);
    x.fill(0.0);
    for _ in 0..most {
        if dot(&residual, &residual).sqrt() <= small {
            break;
        }
        let next = dot(&shadow, &residual);
        let beta = (next / rho) * (alpha / omega);
        rho = next;
        for i in 0..n {
            direction[i] = residual[i] + beta * (direction[i] - omega * image[i]);
        }
        image = apply(&direction);
        alpha = rho / dot(&shadow, &image);
        for i in 0..n {
            residual[i] -= alpha * image[i];
            x[i] += alpha * direction[i];
        }
        let second = apply(&residual);
        omega = dot(&second, &residual) / dot(&second, &second).max(f64::MIN_POSITIVE);
        for i in 0..n {
            x[i] += omega * residual[i];
            residual[i] -= omega * second[i];
        }
        if !(alpha.is_finite() && omega.is_finite()) {
            return false;
        }
    }
    system.solve_nearby(x);
    x.iter().all(|x| x.is_finite()) && dot(&residual, &residual).sqrt() <= 10.0 * small
}

/// Memory of the solver.
#[derive(Debug, Clone, Default)]
pub(super) struct Coupled {
    residual: Vec<f64>,
    search: Vec<f64>,
    /// What the system nearby makes of the search direction.
    nearby: Vec<f64>,
    /// What the whole system makes of it.
    image: Vec<f64>,
    preconditioned: Vec<f64>,
}

impl Coupled {
    /// Share of the residual of an equilibrium that a step need not take away.
    pub(super) const SHARE: f64 = 0.1;

    /// Replaces the right-hand side `x` by the solution, found by conjugate gradients preconditioned
    /// with the system nearby in at most `most` iterations, or until no residual is above `enough`;
    /// where the matrix turns out not to be positive definite, the solution found so far is kept,
    /// which is a direction of descent.
    ///
    /// No product with the system nearby is formed: what it makes of a preconditioned residual is the
    /// residual, and the search directions are sums of these.
    ///
    /// Source: Golub and Van Loan, *Matrix Computations*, 4th ed. 2013, algorithm 11.5.1.
    pub(super) fn solve(
        &mut self,
        system: &impl System,
        (most, enough): (usize, f64),
        x: &mut [f64],
    ) {
        let dot = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
        self.residual.clear();
        self.residual.extend_from_slice(x);
        self.preconditioned.clone_from(&self.residual);
        system.solve_nearby(&mut self.preconditioned);
        self.search.clone_from(&self.preconditioned);
        self.nearby.clone_from(&self.residual);
        x.fill(0.0);
        let mut size = dot(&self.residual, &self.preconditioned);
        let small = TOLERANCE * TOLERANCE * size;
        for iteration in 0..=most {
            self.image.clone_from(&self.nearby);
            system.add_couplings(&self.search, &mut self.image);
            let curvature = dot(&self.search, &self.image);
            if curvature <= 0.0 {
                if iteration == 0 {
                    x.copy_from_slice(&self.search);
                }
                return;
            }
            let share = size / curvature;
            for (x, s) in x.iter_mut().zip(&self.search) {
                *x += share * s;
            }
            for (r, i) in self.residual.iter_mut().zip(&self.image) {
                *r -= share * i;
            }
            if self.residual.iter().all(|r| r.abs() <= enough) {
                return;
            }
            self.preconditioned.clone_from(&self.residual);
            system.solve_nearby(&mut self.preconditioned);
            let next = dot(&self.residual, &self.preconditioned);
            if next <= small {
                return;
            }
            let kept = next / size;
            for (s, p) in self.search.iter_mut().zip(&self.preconditioned) {
                *s = p + kept * *s;
            }
            for (n, r) in self.nearby.iter_mut().zip(&self.residual) {
                *n = r + kept * *n;
            }
            size = next;
        }
    }
}
