//! Tip load: the force at which the last 10 mm of a wire buckle.

use super::StiffnessProfile;
use crate::scenario::model::EndCondition;
use std::f64::consts::PI;

pub use crate::scenario::model::HELD_BEHIND_TIP_MM;

/// Smallest positive root of `tan x = x`, which gives the buckling of a column with one end
/// fixed and one pinned.
const TAN_X_EQUALS_X: f64 = 4.493_409_457_909_064;

/// Steps of the shooting integration over the free length.
const STEPS: u32 = 400;

/// Effective length factor `K` of a column: 2 for fixed-free, 0.69916 for fixed-pinned.
///
/// Source: Timoshenko and Gere, Theory of Elastic Stability, 2nd ed. 1961, sections 2.1 and 2.2.
#[must_use]
pub fn effective_length_factor(end: EndCondition) -> f64 {
    match end {
        EndCondition::FixedPinned => PI / TAN_X_EQUALS_X,
        EndCondition::FixedFree => 2.0,
    }
}

/// Buckling load in mN of a uniform column.
///
/// Equation:  `P = pi² B / (K L)²`
///
/// Symbols:   `B` bending stiffness (mN mm²), `L` length (mm), `K` effective length factor
///
/// Source:    Timoshenko and Gere, Theory of Elastic Stability, 2nd ed. 1961, eq. (2-4)
#[must_use]
pub fn buckling_load(stiffness: f64, length_mm: f64, end: EndCondition) -> f64 {
    stiffness * (PI / (effective_length_factor(end) * length_mm)).powi(2)
}

/// Bending stiffness in mN mm² of a uniform tip with the given tip load in mN: the inverse of
/// [`buckling_load`] at 10 mm.
#[must_use]
pub fn stiffness_from_tip_load(tip_load_mn: f64, end: EndCondition) -> f64 {
    tip_load_mn * (effective_length_factor(end) * HELD_BEHIND_TIP_MM / PI).powi(2)
}

/// Buckling load in mN of the last 10 mm of a wire whose stiffness varies.
///
/// Equation:  `B w'' + P w = H x` from the tip (`x = 0`, `w = 0`) to the clamp, where `w` is the
/// deflection measured from the tip. Fixed-free: no side force `H`, and `w' = 0` at the clamp.
/// Fixed-pinned: `w = w' = 0` at the clamp. The load is the smallest `P` with a solution other
/// than zero, found by shooting; the uniform columns of the smallest and largest stiffness bound
/// it.
///
/// Source:    Timoshenko and Gere, Theory of Elastic Stability, 2nd ed. 1961, sections 2.2, 2.14
#[must_use]
pub fn tip_load_mn(profile: &StiffnessProfile, end: EndCondition) -> f64 {
    let (low, high) = profile.range_to(HELD_BEHIND_TIP_MM);
    let mut above = buckling_load(low, HELD_BEHIND_TIP_MM, end);
    let highest = buckling_load(high, HELD_BEHIND_TIP_MM, end) * 1.02;
    // The second mode lies far above the first one, so that steps of 2 % cannot jump over both.
    let mut below = above / 1.02;
    while above < highest && same_sign(profile, below, above, end) {
        below = above;
        above *= 1.02;
    }
    for _ in 0..50 {
        let middle = 0.5 * (below + above);
        if same_sign(profile, below, middle, end) {
            below = middle;
        } else {
            above = middle;
        }
    }
    0.5 * (below + above)
}

fn same_sign(profile: &StiffnessProfile, p: f64, q: f64, end: EndCondition) -> bool {
    clamp_defect(profile, p, end) * clamp_defect(profile, q, end) > 0.0
}

/// What is missing at the clamp under the load `p`; zero at a buckling load.
fn clamp_defect(profile: &StiffnessProfile, p: f64, end: EndCondition) -> f64 {
    let (turned, slope_turned) = shoot(profile, p, 0.0, 1.0);
    match end {
        EndCondition::FixedFree => slope_turned,
        EndCondition::FixedPinned => {
            // A side force that bends the tip's own stiffness keeps both columns alike in size.
            let (pushed, slope_pushed) = shoot(profile, p, p, 0.0);
            turned * slope_pushed - slope_turned * pushed
        }
    }
}

/// Deflection and slope at the clamp for side force `h` and slope `slope` at the tip, by the
/// classical fourth-order Runge-Kutta method.
fn shoot(profile: &StiffnessProfile, p: f64, h: f64, slope: f64) -> (f64, f64) {
    let dx = HELD_BEHIND_TIP_MM / f64::from(STEPS);
    let bend = |x: f64, w: f64| (h * x - p * w) / profile.at(x);
    let (mut w, mut v) = (0.0, slope);
    for step in 0..STEPS {
        let x = dx * f64::from(step);
        let (w1, v1) = (v, bend(x, w));
        let (w2, v2) = (v + 0.5 * dx * v1, bend(x + 0.5 * dx, w + 0.5 * dx * w1));
        let (w3, v3) = (v + 0.5 * dx * v2, bend(x + 0.5 * dx, w + 0.5 * dx * w2));
        let (w4, v4) = (v + dx * v3, bend(x + dx, w + dx * w3));
        w += dx / 6.0 * (w1 + 2.0 * w2 + 2.0 * w3 + w4);
        v += dx / 6.0 * (v1 + 2.0 * v2 + 2.0 * v3 + v4);
    }
    (w, v)
}
