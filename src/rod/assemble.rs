//! Energy, gradient and Hessian of a whole rod.

use nalgebra::Vector3;

use super::bend::{self, Corner};
use super::hinge::HingeDerivatives;
use super::state::{Energies, Kinematics, Rod, material_frame, twist};
use super::stretch;
use super::twist as twist_term;

/// A gradient vector in the order of the unknowns, in mN and mN mm.
pub type Gradient = [f64];

/// Takes up second derivatives: a symmetric matrix of which only the lower triangle is stored, by
/// columns of `W` entries; a rod with `S` unknowns a node needs `W = 2 S + 3`.
pub trait HessianSink<const W: usize = 11> {
    /// The columns `start` to `start + N` of the lower triangle: entry `k` of column `j` stands in
    /// row `j + k`.
    ///
    /// # Panics
    /// If the matrix has no such columns.
    fn columns<const N: usize>(&mut self, start: usize) -> &mut [[f64; W]; N];
}

impl<const S: usize> Rod<S> {
    /// Elastic energies of the unknowns `q` with their kinematics.
    #[must_use]
    pub fn energies(&self, q: &[f64], kinematics: &Kinematics) -> Energies {
        let mut sum = Energies::default();
        for (edge, length) in self.edges.iter().zip(&kinematics.length) {
            sum.stretch += stretch::energy(edge, *length);
        }
        for i in 1..self.edges.len() {
            for layer in 0..Self::LAYERS {
                let hinge = self.layer(layer, i);
                if layer > 0 && !hinge.is_present() {
                    continue;
                }
                let frames = hinge
                    .is_shaped()
                    .then(|| frames_of::<S>(kinematics, q, i, layer));
                sum.bend += bend::energy(
                    hinge,
                    &kinematics.tangent[i - 1],
                    &kinematics.tangent[i],
                    frames,
                );
                let m = twist(self, kinematics, q, i, layer);
                sum.twist += 0.5 * m * m / hinge.torsional_compliance;
            }
        }
        sum
    }

    /// Adds the gradient and the Hessian of the elastic energy at the committed state.
    pub fn add_derivatives<const W: usize>(
        &self,
        gradient: &mut Gradient,
        hessian: &mut impl HessianSink<W>,
    ) {
        const { assert!(W == 2 * S + 3, "a column holds the unknowns of a hinge") };
        let (q, kinematics) = (&self.q, &self.committed);
        for (i, edge) in self.edges.iter().enumerate() {
            let (g, h) = stretch::derivatives(edge, kinematics.length[i], &kinematics.tangent[i]);
            let columns = hessian.columns::<3>(S * i);
            for c in 0..3 {
                gradient[S * i + c] -= g[c];
                gradient[S * i + S + c] += g[c];
                for r in 0..3 {
                    columns[c][S + r - c] -= h[(r, c)];
                    if r >= c {
                        columns[c][r - c] += h[(r, c)];
                    }
                }
            }
            let columns = hessian.columns::<3>(S * (i + 1));
            for c in 0..3 {
                for r in c..3 {
                    columns[c][r - c] += h[(r, c)];
                }
            }
        }
        for i in 1..self.edges.len() {
            for layer in 0..Self::LAYERS {
                if layer > 0 && !self.layer(layer, i).is_present() {
                    continue;
                }
                let derivatives = self.hinge_derivatives(q, kinematics, i, layer);
                let at = S * (i - 1);
                derivatives.add_gradient::<S>(3 + layer, &mut gradient[at..at + W]);
                derivatives.add_hessian::<S, W>(3 + layer, hessian.columns(at));
            }
        }
    }

    #[inline]
    fn hinge_derivatives(
        &self,
        q: &[f64],
        kinematics: &Kinematics,
        i: usize,
        layer: usize,
    ) -> HingeDerivatives {
        let hinge = self.layer(layer, i);
        let corner = Corner {
            te: &kinematics.tangent[i - 1],
            tf: &kinematics.tangent[i],
            le: kinematics.length[i - 1],
            lf: kinematics.length[i],
        };
        let mut out = bend::straight(hinge, &corner);
        if hinge.is_shaped() {
            let [me, mf] = frames_of::<S>(kinematics, q, i, layer);
            bend::add_shape(hinge, &corner, &me, &mf, &mut out);
        }
        twist_term::add(
            twist(self, kinematics, q, i, layer),
            hinge.torsional_compliance,
            &corner,
            &mut out,
        );
        out
    }

    /// Curvature of hinge `i` in the wire's mean material frame, integrated over its cell (1).
    #[must_use]
    pub fn hinge_curvature(&self, i: usize) -> [f64; 2] {
        self.hinge_curvature_of(0, i)
    }

    /// Curvature of hinge `i` in the mean material frame of device `layer` (0 the wire, 1 the
    /// catheter), integrated over its cell (1).
    #[must_use]
    pub fn hinge_curvature_of(&self, layer: usize, i: usize) -> [f64; 2] {
        let k = &self.committed;
        let [me, mf] = frames_of::<S>(k, &self.q, i, layer);
        bend::material_curvature(&k.tangent[i - 1], &k.tangent[i], &me, &mf)
    }

    /// Change of the energy of hinge `i` at fixed positions when its bending compliance, its
    /// torsional compliance and its natural curvature change at the given rates.
    #[must_use]
    pub fn hinge_rate(&self, i: usize, bending: f64, torsional: f64, natural: [f64; 2]) -> f64 {
        let hinge = &self.hinges[i];
        let k = &self.committed;
        let frames = hinge.is_shaped().then(|| frames_of::<S>(k, &self.q, i, 0));
        let energy = bend::energy(hinge, &k.tangent[i - 1], &k.tangent[i], frames);
        let kappa = self.hinge_curvature(i);
        let m = self.twist(i);
        let shape: f64 = (0..2)
            .map(|c| (hinge.natural_curvature[c] - kappa[c]) * natural[c])
            .sum();
        (shape - energy * bending) / hinge.bending_compliance
            - 0.5 * m * m * torsional / hinge.torsional_compliance.powi(2)
    }

    /// Sum over edges and hinges of the inner forces in mN, each taken positive: the energy
    /// changes by at most this times the change of a position.
    #[must_use]
    pub fn force_scale(&self) -> f64 {
        let k = &self.committed;
        let mut sum = 0.0;
        for (edge, length) in self.edges.iter().zip(&k.length) {
            sum += (edge.axial_stiffness * (length / edge.rest_length - 1.0)).abs();
        }
        for i in 1..self.edges.len() {
            let turn = bend::squared_binormal(&k.tangent[i - 1], &k.tangent[i]).sqrt();
            for layer in 0..Self::LAYERS {
                let hinge = self.layer(layer, i);
                let [k1, k2] = hinge.natural_curvature;
                sum += (turn + k1.hypot(k2)) / (hinge.bending_compliance * hinge.length);
            }
        }
        sum
    }

    /// Elastic energies of the committed state.
    #[must_use]
    pub fn stored(&self) -> Energies {
        self.energies(&self.q, &self.committed)
    }
}

/// Material frames of device `layer` on both edges of hinge `i`.
#[inline]
fn frames_of<const S: usize>(
    kinematics: &Kinematics,
    q: &[f64],
    i: usize,
    layer: usize,
) -> [[Vector3<f64>; 2]; 2] {
    [i - 1, i].map(|e| material_frame(kinematics, e, q[S * e + 3 + layer]))
}
