//! Twist of a hinge.
//!
//! Equation: `E = m²/(2T)`, `m = theta_f - theta_e + m_ref - m0`.
//!
//! Symbols: `m_ref` twist of the reference frames, `m0` natural twist (rad), `T` torsional
//! compliance 1/(mN mm).
//!
//! Source: Bergou et al. 2010, section 3; first derivative of `m_ref` (the change of holonomy)
//! from Bergou et al. 2008, section 6; second derivatives from Bergou et al. 2010, appendix.

use nalgebra::Vector3;

use super::bend::Corner;
use super::hinge::HingeDerivatives;
use crate::products::outer;

/// Adds gradient and Hessian of the twist energy for the twist `m` (rad) and the torsional
/// compliance.
#[inline]
pub(super) fn add(
    m: f64,
    torsional_compliance: f64,
    corner: &Corner<'_>,
    out: &mut HingeDerivatives,
) {
    let Corner { te, tf, le, lf } = *corner;
    let chi = 1.0 + te.dot(tf);
    let kb = te.cross(tf) * (2.0 / chi);
    let tt = (te + tf) / chi;
    let stiffness = 1.0 / torsional_compliance;
    let moment = m * stiffness;
    let (ie, jf) = (1.0 / le, 1.0 / lf);
    let de: Vector3<f64> = kb * (0.5 * ie);
    let df: Vector3<f64> = kb * (0.5 * jf);

    out.ge += de * moment;
    out.gf += df * moment;
    out.gt[0] -= moment;
    out.gt[1] += moment;

    let se = outer(&kb, &(te + tt));
    let sf = outer(&kb, &(tf + tt));
    out.hee += outer(&de, &de) * stiffness - (se + se.transpose()) * (0.25 * ie * ie * moment);
    out.hff += outer(&df, &df) * stiffness - (sf + sf.transpose()) * (0.25 * jf * jf * moment);
    out.hef += outer(&de, &df) * stiffness
        + (te.cross_matrix() * (2.0 / chi) - outer(&kb, &tt)) * (0.5 * ie * jf * moment);
    out.het[0] -= de * stiffness;
    out.het[1] += de * stiffness;
    out.hft[0] -= df * stiffness;
    out.hft[1] += df * stiffness;
    out.htt[0] += stiffness;
    out.htt[1] -= stiffness;
    out.htt[2] += stiffness;
}
