//! Solution of a banded system with a few couplings far off the band.

use super::banded::{Banded, Factor};
use crate::contact::Touch;

/// Residual over the right-hand side at which the solution counts as found.
const TOLERANCE: f64 = 1e-9;

/// Memory of the solver.
#[derive(Debug, Clone, Default)]
pub(super) struct Coupled {
    residual: Vec<f64>,
    search: Vec<f64>,
    image: Vec<f64>,
    preconditioned: Vec<f64>,
}

impl Coupled {
    /// Solves `(A + shift + K) x = b`, where `factor` holds the factors of `A + shift` and `K` the
    /// couplings of `touches`, by conjugate gradients preconditioned with the factors. `x` holds
    /// `b` on entry; unknowns in `fixed` stay 0. The number of iterations is bounded by the number
    /// of touches but for rounding; where the matrix turns out not to be positive definite, the
    /// solution found so far is kept, which is a direction of descent.
    ///
    /// Source: Golub and Van Loan, *Matrix Computations*, 4th ed. 2013, algorithm 11.5.1.
    pub(super) fn solve<const S: usize, const W: usize>(
        &mut self,
        (matrix, shift, factor): (&Banded<W>, f64, &Factor<W>),
        touches: &[Touch],
        fixed: &[usize],
        x: &mut [f64],
    ) {
        let dot = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
        self.residual.clear();
        self.residual.extend_from_slice(x);
        self.image.resize(x.len(), 0.0);
        self.preconditioned.clone_from(&self.residual);
        factor.solve(&mut self.preconditioned);
        self.search.clone_from(&self.preconditioned);
        x.fill(0.0);
        let mut size = dot(&self.residual, &self.preconditioned);
        let enough = TOLERANCE * TOLERANCE * size;
        for iteration in 0..=4 * touches.len() {
            matrix.multiply(shift, &self.search, &mut self.image);
            for touch in touches {
                touch.add_coupling::<S>(&self.search, &mut self.image);
            }
            for &i in fixed {
                self.image[i] = 0.0;
            }
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
            self.preconditioned.clone_from(&self.residual);
            factor.solve(&mut self.preconditioned);
            let next = dot(&self.residual, &self.preconditioned);
            if next <= enough {
                return;
            }
            for (s, p) in self.search.iter_mut().zip(&self.preconditioned) {
                *s = p + next / size * *s;
            }
            size = next;
        }
    }
}
