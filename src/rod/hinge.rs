//! Derivatives of a hinge energy in terms of its two edges, and their way to the unknowns.

use nalgebra::{Matrix3, Vector3};

/// Gradient and Hessian of a hinge energy with respect to the edge vectors `e`, `f` and the edge
/// rotations `theta_e`, `theta_f`. Units: mN mm per unit of each variable.
#[derive(Debug, Clone)]
pub struct HingeDerivatives {
    /// With respect to `e`.
    pub ge: Vector3<f64>,
    /// With respect to `f`.
    pub gf: Vector3<f64>,
    /// With respect to `theta_e`, `theta_f`.
    pub gt: [f64; 2],
    /// Second derivatives `e e`.
    pub hee: Matrix3<f64>,
    /// Second derivatives `e f` (row `e`, column `f`).
    pub hef: Matrix3<f64>,
    /// Second derivatives `f f`.
    pub hff: Matrix3<f64>,
    /// Second derivatives `e theta_e`, `e theta_f`.
    pub het: [Vector3<f64>; 2],
    /// Second derivatives `f theta_e`, `f theta_f`.
    pub hft: [Vector3<f64>; 2],
    /// Second derivatives `theta_e theta_e`, `theta_e theta_f`, `theta_f theta_f`.
    pub htt: [f64; 3],
}

impl HingeDerivatives {
    /// Adds the gradient with respect to the unknowns `x0, theta_e, x1, theta_f, x2`, with
    /// `e = x1 - x0` and `f = x2 - x1`; `S` unknowns apart, with the rotation of the device at
    /// `slot` in each group.
    #[inline]
    pub fn add_gradient<const S: usize>(&self, slot: usize, g: &mut [f64]) {
        for k in 0..3 {
            g[k] -= self.ge[k];
            g[S + k] += self.ge[k] - self.gf[k];
            g[2 * S + k] += self.gf[k];
        }
        g[slot] += self.gt[0];
        g[S + slot] += self.gt[1];
    }

    /// Adds the Hessian with respect to the same unknowns to the lower triangle, stored by columns:
    /// entry `k` of column `j` stands in row `j + k`.
    #[inline]
    pub fn add_hessian<const S: usize, const W: usize>(
        &self,
        slot: usize,
        columns: &mut [[f64; W]; W],
    ) {
        let Self { hee, hef, hff, .. } = self;
        for c in 0..3 {
            for r in 0..3 {
                columns[c][S + r - c] += hef[(c, r)] - hee[(r, c)];
                columns[c][2 * S + r - c] -= hef[(c, r)];
                columns[S + c][S + r - c] += hef[(c, r)] - hff[(r, c)];
                if r >= c {
                    columns[c][r - c] += hee[(r, c)];
                    columns[S + c][r - c] += hee[(r, c)] - hef[(r, c)] - hef[(c, r)] + hff[(r, c)];
                    columns[2 * S + c][r - c] += hff[(r, c)];
                }
            }
            columns[c][slot - c] -= self.het[0][c];
            columns[c][S + slot - c] -= self.het[1][c];
            columns[slot][S + c - slot] += self.het[0][c] - self.hft[0][c];
            columns[S + c][slot - c] += self.het[1][c] - self.hft[1][c];
            columns[slot][2 * S + c - slot] += self.hft[0][c];
            columns[S + slot][S + c - slot] += self.hft[1][c];
        }
        columns[slot][0] += self.htt[0];
        columns[slot][S] += self.htt[1];
        columns[S + slot][0] += self.htt[2];
    }
}
