//! Derivatives of a hinge energy in terms of its two edges, and their way to the 11 unknowns.

use nalgebra::{Matrix3, SMatrix, SVector, Vector3};

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
    /// All zero.
    #[must_use]
    pub fn zero() -> Self {
        Self {
            ge: Vector3::zeros(),
            gf: Vector3::zeros(),
            gt: [0.0; 2],
            hee: Matrix3::zeros(),
            hef: Matrix3::zeros(),
            hff: Matrix3::zeros(),
            het: [Vector3::zeros(); 2],
            hft: [Vector3::zeros(); 2],
            htt: [0.0; 3],
        }
    }

    /// Gradient with respect to the unknowns `x0, theta_e, x1, theta_f, x2`, with `e = x1 - x0`
    /// and `f = x2 - x1`.
    #[must_use]
    pub fn gradient(&self) -> SVector<f64, 11> {
        let mut g = SVector::<f64, 11>::zeros();
        let middle = self.ge - self.gf;
        for k in 0..3 {
            g[k] = -self.ge[k];
            g[4 + k] = middle[k];
            g[8 + k] = self.gf[k];
        }
        g[3] = self.gt[0];
        g[7] = self.gt[1];
        g
    }

    /// Lower triangle of the Hessian with respect to the same unknowns (the upper is zero).
    #[must_use]
    pub fn hessian_lower(&self) -> SMatrix<f64, 11, 11> {
        let mut h = SMatrix::<f64, 11, 11>::zeros();
        let hfe = self.hef.transpose();
        let h10 = hfe - self.hee;
        let h11 = self.hee - self.hef - hfe + self.hff;
        let h21 = hfe - self.hff;
        for c in 0..3 {
            for r in 0..3 {
                h[(4 + r, c)] = h10[(r, c)];
                h[(8 + r, c)] = -hfe[(r, c)];
                h[(8 + r, 4 + c)] = h21[(r, c)];
                if r >= c {
                    h[(r, c)] = self.hee[(r, c)];
                    h[(4 + r, 4 + c)] = h11[(r, c)];
                    h[(8 + r, 8 + c)] = self.hff[(r, c)];
                }
            }
            h[(3, c)] = -self.het[0][c];
            h[(7, c)] = -self.het[1][c];
            h[(4 + c, 3)] = self.het[0][c] - self.hft[0][c];
            h[(7, 4 + c)] = self.het[1][c] - self.hft[1][c];
            h[(8 + c, 3)] = self.hft[0][c];
            h[(8 + c, 7)] = self.hft[1][c];
        }
        h[(3, 3)] = self.htt[0];
        h[(7, 3)] = self.htt[1];
        h[(7, 7)] = self.htt[2];
        h
    }
}
