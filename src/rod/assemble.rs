//! Energy, gradient and Hessian of a whole rod.

use nalgebra::Vector3;

use super::bend::{self, Corner};
use super::flow::CoreCell;
use super::hinge::HingeDerivatives;
use super::state::{Energies, Hinge, Kinematics, Rod, material_frame, twist};
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
        let mut frames_before = FramesBefore::<S>::default();
        for i in 1..self.edges.len() {
            for layer in 0..Self::LAYERS {
                let hinge = self.layer(layer, i);
                if layer > 0 && !hinge.is_present() {
                    continue;
                }
                let (te, tf) = (&kinematics.tangent[i - 1], &kinematics.tangent[i]);
                let flowing = self.flowing(te, tf, i, layer);
                let frames = (flowing.is_some() || hinge.is_shaped())
                    .then(|| frames_before.at_hinge(kinematics, q, i, layer));
                sum.bend += bend::energy(hinge, te, tf, frames.as_ref());
                if let Some((cell, [me, mf])) = flowing.zip(frames) {
                    let beyond = beyond_natural(hinge, te, tf, &me, &mf);
                    sum.bend += cell.respond(beyond).potential / hinge.bending_compliance;
                }
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
        let mut frames_before = FramesBefore::default();
        for i in 1..self.edges.len() {
            for layer in 0..Self::LAYERS {
                if layer > 0 && !self.layer(layer, i).is_present() {
                    continue;
                }
                let derivatives =
                    self.hinge_derivatives((q, kinematics), (i, layer), &mut frames_before);
                let at = S * (i - 1);
                derivatives.add_gradient::<S>(3 + layer, &mut gradient[at..at + W]);
                derivatives.add_hessian::<S, W>(3 + layer, hessian.columns(at));
            }
        }
    }

    #[inline]
    fn hinge_derivatives(
        &self,
        (q, kinematics): (&[f64], &Kinematics),
        (i, layer): (usize, usize),
        frames_before: &mut FramesBefore<S>,
    ) -> HingeDerivatives {
        let hinge = self.layer(layer, i);
        let corner = Corner {
            te: &kinematics.tangent[i - 1],
            tf: &kinematics.tangent[i],
            le: kinematics.length[i - 1],
            lf: kinematics.length[i],
        };
        let mut out = bend::straight(hinge, &corner);
        let flowing = self.flowing(corner.te, corner.tf, i, layer);
        if flowing.is_some() || hinge.is_shaped() {
            let [me, mf] = frames_before.at_hinge(kinematics, q, i, layer);
            bend::add_shape(hinge, &corner, &me, &mf, &mut out);
            if let Some(cell) = flowing {
                let stiffness = 1.0 / hinge.bending_compliance;
                let flow = cell.respond(beyond_natural(hinge, corner.te, corner.tf, &me, &mf));
                let ([g1, g2], [h11, h12, h22]) = (flow.gradient, flow.hessian);
                let gradient = [g1 * stiffness, g2 * stiffness];
                let hessian = [h11 * stiffness, h12 * stiffness, h22 * stiffness];
                bend::add_potential(gradient, hessian, &corner, &me, &mf, &mut out);
            }
        }
        twist_term::add(
            twist(self, kinematics, q, i, layer),
            hinge.torsional_compliance,
            &corner,
            &mut out,
        );
        out
    }

    /// The core of hinge `i` where it flows or has flowed, if it may between these tangents.
    #[inline]
    fn flowing(
        &self,
        te: &Vector3<f64>,
        tf: &Vector3<f64>,
        i: usize,
        layer: usize,
    ) -> Option<&CoreCell> {
        let cell = self.core.get(i).filter(|_| layer == 0)?;
        cell.may_flow(bend::squared_binormal(te, tf))
            .then_some(cell)
    }

    /// Whether the core of hinge `i` may flow, or has flowed, at the committed state.
    #[must_use]
    pub fn is_flowing(&self, i: usize) -> bool {
        let k = &self.committed;
        self.flowing(&k.tangent[i - 1], &k.tangent[i], i, 0)
            .is_some()
    }

    /// Whether the core of hinge `i` may flow, or has flowed, at the committed state or near it:
    /// where curvature and limit, integrated over the cell (1), are off by `change`.
    #[must_use]
    pub fn is_near_flow(&self, i: usize, change: f64) -> bool {
        let k = &self.committed;
        let squared = bend::squared_binormal(&k.tangent[i - 1], &k.tangent[i]);
        let cell = self.core.get(i);
        cell.is_some_and(|cell| cell.may_flow_within(squared, change))
    }

    /// Ends a step: what the wire's core has flowed at the committed state is where the next one
    /// begins. Returns the energy lost to flow in mN mm.
    pub fn settle_core(&mut self) -> f64 {
        let mut lost = 0.0;
        for i in 1..self.edges.len().min(self.core.len()) {
            if !self.is_flowing(i) {
                continue;
            }
            let beyond = self.curvature_beyond_natural(i);
            lost += self.core[i].settle(beyond) / self.hinges[i].bending_compliance;
        }
        lost
    }

    /// Energy of flow in mN mm that hinge `i` would have, at the present positions, with another
    /// rest state and another core.
    #[must_use]
    pub fn flow_energy(&self, i: usize, hinge: &Hinge, cell: &CoreCell) -> f64 {
        cell.respond(self.beyond_natural_of(i, hinge)).potential / hinge.bending_compliance
    }

    /// Curvature of hinge `i` of the wire beyond its natural one, in the mean material frame,
    /// integrated over its cell (1).
    #[must_use]
    pub fn curvature_beyond_natural(&self, i: usize) -> [f64; 2] {
        self.beyond_natural_of(i, &self.hinges[i])
    }

    /// The same for another rest state of hinge `i`.
    fn beyond_natural_of(&self, i: usize, hinge: &Hinge) -> [f64; 2] {
        let kappa = self.hinge_curvature(i);
        [0, 1].map(|c| kappa[c] - hinge.natural_curvature[c])
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
        let [me, mf] = FramesBefore::<S>::default().at_hinge(k, &self.q, i, layer);
        bend::material_curvature(&k.tangent[i - 1], &k.tangent[i], &me, &mf)
    }

    /// Change of the elastic energy of hinge `i` at fixed positions when its bending compliance, its
    /// torsional compliance and its natural curvature change at the given rates.
    #[must_use]
    pub fn hinge_rate(&self, i: usize, bending: f64, torsional: f64, natural: [f64; 2]) -> f64 {
        let hinge = &self.hinges[i];
        let k = &self.committed;
        let frames = hinge
            .is_shaped()
            .then(|| FramesBefore::<S>::default().at_hinge(k, &self.q, i, 0));
        let energy = bend::energy(hinge, &k.tangent[i - 1], &k.tangent[i], frames.as_ref());
        let kappa = self.hinge_curvature(i);
        let m = self.twist(i);
        let shape: f64 = (0..2)
            .map(|c| (hinge.natural_curvature[c] - kappa[c]) * natural[c])
            .sum();
        (shape - energy * bending) / hinge.bending_compliance
            - 0.5 * m * m * torsional / hinge.torsional_compliance.powi(2)
    }

    /// Change of the stretch energy of edge `e` at fixed positions with its rest length, in mN.
    #[must_use]
    pub fn stretch_rate(&self, e: usize) -> f64 {
        stretch::rate(&self.edges[e], self.committed.length[e])
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

/// Curvature of a hinge beyond its natural one (1).
#[inline]
fn beyond_natural(
    hinge: &Hinge,
    te: &Vector3<f64>,
    tf: &Vector3<f64>,
    me: &[Vector3<f64>; 2],
    mf: &[Vector3<f64>; 2],
) -> [f64; 2] {
    let [c1, c2] = bend::material_curvature(te, tf, me, mf);
    let [k1, k2] = hinge.natural_curvature;
    [c1 - k1, c2 - k2]
}

/// The material frame of each device that was found last, with its edge: hinges that follow each other
/// share an edge.
#[derive(Default)]
struct FramesBefore<const S: usize> {
    last: [Option<(usize, [Vector3<f64>; 2])>; 2],
}

impl<const S: usize> FramesBefore<S> {
    /// Material frames of device `layer` on both edges of hinge `i`.
    #[inline]
    fn at_hinge(
        &mut self,
        kinematics: &Kinematics,
        q: &[f64],
        i: usize,
        layer: usize,
    ) -> [[Vector3<f64>; 2]; 2] {
        let frame = |e: usize| material_frame(kinematics, e, q[S * e + 3 + layer]);
        let before = self.last[layer].filter(|(e, _)| e + 1 == i);
        let frames = [before.map_or_else(|| frame(i - 1), |(_, f)| f), frame(i)];
        self.last[layer] = Some((i, frames[1]));
        frames
    }
}
