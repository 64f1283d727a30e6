//! An element that is elastic up to its threshold and flows at constant moment beyond.
//!
//! Equation: `phi(d; p) = min over p' of |d - p'|²/2 + y |p' - p|`, which is `|u|²/2` with `u = d - p`
//! up to `|u| = y` and `y |u| - y²/2` beyond
//!
//! Symbols: `d` curvature, `p` flow before the step, `p'` after it, `y` threshold (all integrated
//! over the cell, 1).
//!
//! Source: return mapping of associated, perfectly plastic flow; Simo and Hughes, *Computational
//! Inelasticity*, 1998, chapter 1 (from memory). The circle as limit in the plane of curvatures
//! makes a round section bend alike in all directions; a load along one line is exact, and one that
//! turns is a choice: fibres that yield one by one agree with it where flow is small beside the
//! curvature.

use super::flow::LeastPotential;

/// The answer to the curvature `d` of an element with flow `p` and threshold `y`.
#[inline]
pub(super) fn answer(d: [f64; 2], p: [f64; 2], y: f64) -> LeastPotential {
    let u = [d[0] - p[0], d[1] - p[1]];
    let square = u[0] * u[0] + u[1] * u[1];
    if square <= y * y {
        return LeastPotential {
            potential: 0.5 * square,
            moment: u,
            hessian: [1.0, 0.0, 1.0],
            flow: p,
            lost: 0.0,
        };
    }
    let size = square.sqrt();
    let n = [u[0] / size, u[1] / size];
    let across = y / size;
    LeastPotential {
        potential: y * (size - 0.5 * y),
        moment: [y * n[0], y * n[1]],
        hessian: [
            across * n[1] * n[1],
            -across * n[0] * n[1],
            across * n[0] * n[0],
        ],
        flow: [d[0] - y * n[0], d[1] - y * n[1]],
        lost: y * (size - y),
    }
}
