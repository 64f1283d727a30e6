//! Bend of a hinge, isotropic, with natural curvature in the material frame.
//!
//! Equation: `E = 1/(2S) (|kb|² - 2 kappa·kappa0 + |kappa0|²)`
//!
//! Symbols: `kb` curvature binormal (1), `kappa` the same in the mean material frame (1),
//! `kappa0` natural curvature integrated over the cell (1), `S` bending compliance 1/(mN mm).
//!
//! Source: Bergou et al. 2010, section 3, with `|kappa|²` of an isotropic section replaced by
//! `|kb|²`, to which it is equal but for a term of the order of the squared twist within one
//! cell; a straight hinge then needs no frame, and `|kb|² = 2 |tf - te|²/(1 + c)` with
//! `c = te·tf`, which keeps its digits where the hinge is almost straight.
//!
//! Valid for turns below 180 degrees between neighbouring edges.

use nalgebra::{Matrix3, Vector3};

use super::hinge::HingeDerivatives;
use super::state::Hinge;
use crate::faults;
use crate::products::outer;

/// Tangents, lengths and material directors of the two edges at a hinge.
pub(super) struct Corner<'a> {
    pub te: &'a Vector3<f64>,
    pub tf: &'a Vector3<f64>,
    pub le: f64,
    pub lf: f64,
}

/// Bending compliance of a hinge in 1/(mN mm).
#[inline]
fn compliance(hinge: &Hinge) -> f64 {
    hinge.bending_compliance / faults::bending_factor()
}

/// Bending energy in mN mm; `frames` gives the material frames of both edges where the hinge is
/// shaped.
#[inline]
pub(super) fn energy(
    hinge: &Hinge,
    te: &Vector3<f64>,
    tf: &Vector3<f64>,
    frames: Option<&[[Vector3<f64>; 2]; 2]>,
) -> f64 {
    let [k1, k2] = hinge.natural_curvature;
    let mut sum = squared_binormal(te, tf);
    if let Some([me, mf]) = frames {
        let kappa = material_curvature(te, tf, me, mf);
        sum += k1 * (k1 - 2.0 * kappa[0]) + k2 * (k2 - 2.0 * kappa[1]);
    }
    0.5 * sum / compliance(hinge)
}

/// Square of the curvature binormal (1).
#[inline]
pub(super) fn squared_binormal(te: &Vector3<f64>, tf: &Vector3<f64>) -> f64 {
    2.0 * (tf - te).norm_squared() / (1.0 + te.dot(tf))
}

/// Curvature of a hinge in the mean material frame of its edges (1).
#[inline]
pub(super) fn material_curvature(
    te: &Vector3<f64>,
    tf: &Vector3<f64>,
    me: &[Vector3<f64>; 2],
    mf: &[Vector3<f64>; 2],
) -> [f64; 2] {
    let kb = te.cross(tf) * (2.0 / (1.0 + te.dot(tf)));
    [
        0.5 * kb.dot(&(me[1] + mf[1])),
        -0.5 * kb.dot(&(me[0] + mf[0])),
    ]
}

/// Gradient and Hessian of the part that a straight hinge has, `|kb|²/(2S)`.
#[inline]
pub(super) fn straight(hinge: &Hinge, corner: &Corner<'_>) -> HingeDerivatives {
    let Corner { te, tf, le, lf } = *corner;
    let c = te.dot(tf);
    let w = 1.0 / (1.0 + c);
    let g1 = -4.0 * w * w / compliance(hinge);
    let g2 = 8.0 * w * w * w / compliance(hinge);
    let (ie, jf) = (1.0 / le, 1.0 / lf);
    let a = (tf - te * c) * ie;
    let b = (te - tf * c) * jf;
    let tete = outer(te, te);
    let tftf = outer(tf, tf);
    let tetf = outer(te, tf);
    let ate = outer(&a, te);
    let btf = outer(&b, tf);
    let id = Matrix3::identity();
    HingeDerivatives {
        ge: a * g1,
        gf: b * g1,
        gt: [0.0; 2],
        hee: outer(&a, &a) * g2 - ((ate + ate.transpose()) * ie + (id - tete) * (c * ie * ie)) * g1,
        hef: outer(&a, &b) * g2 + (id - tete - tftf + tetf * c) * (ie * jf * g1),
        hff: outer(&b, &b) * g2 - ((btf + btf.transpose()) * jf + (id - tftf) * (c * jf * jf)) * g1,
        het: [Vector3::zeros(); 2],
        hft: [Vector3::zeros(); 2],
        htt: [0.0; 3],
    }
}

/// Adds gradient and Hessian of the part that natural curvature brings, `-kappa·kappa0 / S`.
pub(super) fn add_shape(
    hinge: &Hinge,
    corner: &Corner<'_>,
    me: &[Vector3<f64>; 2],
    mf: &[Vector3<f64>; 2],
    out: &mut HingeDerivatives,
) {
    let ([k1, k2], compliance) = (hinge.natural_curvature, compliance(hinge));
    add_linear([-k1 / compliance, -k2 / compliance], corner, me, mf, out);
}

/// Adds gradient and Hessian of a potential of the material curvatures, whose first and second
/// derivatives (`11`, `12`, `22`) in them are given, in mN mm.
pub(super) fn add_potential(
    gradient: [f64; 2],
    hessian: [f64; 3],
    corner: &Corner<'_>,
    me: &[Vector3<f64>; 2],
    mf: &[Vector3<f64>; 2],
    out: &mut HingeDerivatives,
) {
    add_linear(gradient, corner, me, mf, out);
    let firsts = [
        first_derivatives([1.0, 0.0], corner, me, mf),
        first_derivatives([0.0, 1.0], corner, me, mf),
    ];
    let [h11, h12, h22] = hessian;
    for (r, c, h) in [(0, 0, h11), (0, 1, h12), (1, 0, h12), (1, 1, h22)] {
        let (a, b) = (&firsts[r], &firsts[c]);
        out.hee += outer(&a.e, &b.e) * h;
        out.hef += outer(&a.e, &b.f) * h;
        out.hff += outer(&a.f, &b.f) * h;
        for k in 0..2 {
            out.het[k] += a.e * (b.t[k] * h);
            out.hft[k] += a.f * (b.t[k] * h);
        }
        out.htt[0] += a.t[0] * b.t[0] * h;
        out.htt[1] += a.t[0] * b.t[1] * h;
        out.htt[2] += a.t[1] * b.t[1] * h;
    }
}

/// First derivatives of a sum of the material curvatures by both edges and their rotations.
struct First {
    e: Vector3<f64>,
    f: Vector3<f64>,
    t: [f64; 2],
}

/// First derivatives of `w1 kappa1 + w2 kappa2`; see [`add_linear`].
fn first_derivatives(
    [w1, w2]: [f64; 2],
    corner: &Corner<'_>,
    me: &[Vector3<f64>; 2],
    mf: &[Vector3<f64>; 2],
) -> First {
    let Corner { te, tf, le, lf } = *corner;
    let chi = 1.0 + te.dot(tf);
    let kb = te.cross(tf) * (2.0 / chi);
    let tt = (te + tf) / chi;
    let (pe, pf) = (me[1] * w1 - me[0] * w2, mf[1] * w1 - mf[0] * w2);
    let d = (pe + pf) / chi;
    let kappa = 0.5 * kb.dot(&(pe + pf));
    let turned = |m: &[Vector3<f64>; 2]| -0.5 * kb.dot(&(m[0] * w1 + m[1] * w2));
    First {
        e: (tf.cross(&d) - tt * kappa) / le,
        f: -(te.cross(&d) + tt * kappa) / lf,
        t: [turned(me), turned(mf)],
    }
}

/// Adds gradient and Hessian of the sum of the material curvatures with these weights, in mN mm.
///
/// First and second derivatives of the material curvatures follow Bergou et al. 2010, appendix,
/// in reference frames committed at the present state.
fn add_linear(
    [k1, k2]: [f64; 2],
    corner: &Corner<'_>,
    me: &[Vector3<f64>; 2],
    mf: &[Vector3<f64>; 2],
    out: &mut HingeDerivatives,
) {
    let Corner { te, tf, le, lf } = *corner;
    let chi = 1.0 + te.dot(tf);
    let kb = te.cross(tf) * (2.0 / chi);
    let tt = (te + tf) / chi;
    // The energy is linear in kappa: its weights turn the two directors into one vector per edge,
    // p = w1 m2 - w2 m1, so that w1 kappa1 + w2 kappa2 = kb·(pe + pf)/2.
    let pe = me[1] * k1 - me[0] * k2;
    let pf = mf[1] * k1 - mf[0] * k2;
    let d = (pe + pf) / chi;
    let kappa = 0.5 * kb.dot(&(pe + pf));
    let (ie, jf) = (1.0 / le, 1.0 / lf);
    let tf_d = tf.cross(&d);
    let te_d = te.cross(&d);
    out.ge += (tf_d - tt * kappa) * ie;
    out.gf -= (te_d + tt * kappa) * jf;

    let id = Matrix3::identity();
    let tttt = outer(&tt, &tt) * (2.0 * kappa);
    let tf_d_tt = outer(&tf_d, &tt);
    let te_d_tt = outer(&te_d, &tt);
    let kb_pe = outer(&kb, &pe);
    let kb_pf = outer(&kb, &pf);
    out.hee += (tttt - tf_d_tt - tf_d_tt.transpose() - (id - outer(te, te)) * (kappa / chi)
        + (kb_pe + kb_pe.transpose()) * 0.25)
        * (ie * ie);
    out.hff += (tttt + te_d_tt + te_d_tt.transpose() - (id - outer(tf, tf)) * (kappa / chi)
        + (kb_pf + kb_pf.transpose()) * 0.25)
        * (jf * jf);
    out.hef += (tttt - (id + outer(te, tf)) * (kappa / chi) - tf_d_tt + te_d_tt.transpose()
        - d.cross_matrix())
        * (ie * jf);

    // Turning an edge by theta turns m1 into m2 and m2 into -m1.
    let qe = -(me[0] * k1 + me[1] * k2);
    let qf = -(mf[0] * k1 + mf[1] * k2);
    let kqe = 0.5 * kb.dot(&qe);
    let kqf = 0.5 * kb.dot(&qf);
    out.gt[0] += kqe;
    out.gt[1] += kqf;
    out.htt[0] -= 0.5 * kb.dot(&pe);
    out.htt[2] -= 0.5 * kb.dot(&pf);
    out.het[0] += (tf.cross(&qe) / chi - tt * kqe) * ie;
    out.het[1] += (tf.cross(&qf) / chi - tt * kqf) * ie;
    out.hft[0] -= (te.cross(&qe) / chi + tt * kqe) * jf;
    out.hft[1] -= (te.cross(&qf) / chi + tt * kqf) * jf;
}
