//! Smooth union of distances.

use super::lumen::WallPoint;
use crate::products::outer;

/// Smooth minimum of two distances: min(a, b) - k h³/6 with h = max(k - |a - b|, 0)/k.
///
/// Equal to the plain minimum where the two differ by `width` (k) or more; k = 0 is the plain
/// minimum. The cubic is the lowest power for which value and first two derivatives meet those
/// of the plain minimum at |a - b| = k, and a swap of a and b changes nothing, so the result is
/// twice continuously differentiable.
pub(super) fn smooth_min(a: f64, b: f64, width: f64) -> f64 {
    let apart = (a - b).abs();
    if apart >= width {
        return a.min(b);
    }
    let h = (width - apart) / width;
    a.min(b) - width * h * h * h / 6.0
}

/// [`smooth_min`] with derivatives.
///
/// With a the smaller one and w = h²/2: gradient (1 - w) a' + w b', second derivative
/// (1 - w) a'' + w b'' - (h/k) (b' - a')(b' - a')ᵀ. Velocities are weighted as the gradients are.
pub(super) fn smooth_min_wall(a: &WallPoint, b: &WallPoint, width: f64) -> WallPoint {
    let (near, far) = if b.distance_mm < a.distance_mm {
        (b, a)
    } else {
        (a, b)
    };
    let apart = far.distance_mm - near.distance_mm;
    if apart >= width {
        return *near;
    }
    let h = (width - apart) / width;
    let w = 0.5 * h * h;
    let turn = far.gradient - near.gradient;
    WallPoint {
        distance_mm: near.distance_mm - width * h * h * h / 6.0,
        gradient: near.gradient + turn * w,
        velocity: near.velocity * (1.0 - w) + far.velocity * w,
        hessian: near.hessian * (1.0 - w) + far.hessian * w - outer(&turn, &turn) * (h / width),
    }
}
