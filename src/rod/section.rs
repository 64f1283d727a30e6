//! Bending of a round section whose fibres yield: the closed curve, and elements that follow it.
//!
//! Curvatures are counted in those at which the outermost fibre yields, moments in the moment
//! there: `K = kappa/kappa_y`, `kappa_y = 2 eps_y/d`, `M_y = pi d³ s/32`.
//!
//! Equation: `m(K) = K` up to `K = 1`; beyond, with `q = 1/K`,
//! `m = (16/pi) { [asin q - q sqrt(1-q²)(1-2q²)]/(8q) + (1-q²)^(3/2)/3 }`.
//!
//! Source: integral of stress times distance over a circle of elastic, perfectly plastic fibres;
//! standard plasticity, e.g. Hill, *The Mathematical Theory of Plasticity*, 1950.
//!
//! The elements are bands of the section. A fibre at distance `y` yields at `K = R/y`, so the band of
//! fibres that yield between `K = a` and `K = b` has the share `m'(a) - m'(b)` of the bending
//! stiffness and carries at most `(m - K m')` at `b` less that at `a`. Put together at one threshold
//! each they touch the closed curve at the ends of every band, with its slope, and keep its collapse
//! moment `16/(3 pi)` exactly. A sum of such elements side by side repeats the curve under reversed
//! loads by Masing's rule, as the fibres do.
//! Source: Iwan, J. Appl. Mech. 33:893, 1966 (parallel elements; from memory).

use std::f64::consts::{FRAC_2_PI, PI};
use std::sync::LazyLock;

/// One of the parallel elements of a section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Element {
    /// Share of the bending stiffness; all add up to 1.
    pub stiffness: f64,
    /// Curvature over `kappa_y` at which it yields, 1 or more.
    pub threshold: f64,
}

/// Collapse moment over `M_y`.
pub const COLLAPSE: f64 = 16.0 / (3.0 * PI);

/// Moment over `M_y` at the curvature `k` times `kappa_y`, `k` 0 or more, on first loading.
#[must_use]
pub fn moment(k: f64) -> f64 {
    if k <= 1.0 {
        return k;
    }
    k * tangent(k) + carried(k)
}

/// Tangent stiffness over the elastic one there: the share of the fibres' stiffness that has not
/// yielded.
#[must_use]
pub fn tangent(k: f64) -> f64 {
    if k <= 1.0 {
        return 1.0;
    }
    let q = 1.0 / k;
    FRAC_2_PI * (q.asin() - q * (1.0 - q * q).sqrt() * (1.0 - 2.0 * q * q))
}

/// Moment over `M_y` of the fibres that have yielded.
fn carried(k: f64) -> f64 {
    if k <= 1.0 {
        return 0.0;
    }
    COLLAPSE * (1.0 - (k * k).recip()).powf(1.5)
}

/// The elements of a round section, by rising threshold.
#[must_use]
pub fn elements() -> &'static [Element] {
    static ELEMENTS: LazyLock<Vec<Element>> = LazyLock::new(|| {
        let ends = band_ends();
        let bands = ends.windows(2);
        bands
            .map(|ends| {
                let stiffness = tangent(ends[0]) - tangent(ends[1]);
                Element {
                    stiffness,
                    threshold: (carried(ends[1]) - carried(ends[0])) / stiffness,
                }
            })
            .collect()
    });
    &ELEMENTS
}

/// Ends of the bands in curvature over `kappa_y`, from the edge of the section to its middle.
///
/// They widen in proportion to the distance from first yield, as the curve begins there like
/// `(K - 1)^(5/2)`: a residual curvature is then off by less than a hundredth of itself.
fn band_ends() -> Vec<f64> {
    const FIRST: f64 = 0.02;
    const FINE: f64 = 1.14;
    const FINE_TO: f64 = 1.0;
    const COARSE: f64 = 1.25;
    const COARSE_TO: f64 = 40.0;
    let mut ends = vec![1.0];
    let mut beyond = FIRST;
    while beyond < COARSE_TO {
        ends.push(1.0 + beyond);
        beyond *= if beyond < FINE_TO { FINE } else { COARSE };
    }
    ends.push(f64::INFINITY);
    ends
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sum of the elements on first loading.
    fn summed(k: f64) -> f64 {
        let each = elements().iter();
        each.map(|e| e.stiffness * k.min(e.threshold)).sum()
    }

    #[test]
    fn the_elements_have_the_stiffness_and_the_collapse_moment_of_the_section() {
        let stiffness: f64 = elements().iter().map(|e| e.stiffness).sum();
        let most = summed(1e9);
        // Sums of some fifty rounded numbers.
        assert!((stiffness - 1.0).abs() < 1e-14 && (most / COLLAPSE - 1.0).abs() < 1e-14);
        let rising = elements()
            .windows(2)
            .all(|e| e[0].threshold < e[1].threshold);
        assert!(rising && elements()[0].threshold > 1.0);
    }

    #[test]
    fn the_residual_curvature_of_the_elements_is_that_of_the_closed_curve_within_a_hundredth() {
        let mut k: f64 = 1.05;
        while k < 200.0 {
            let (exact, found) = (k - moment(k), k - summed(k));
            assert!(
                (found / exact - 1.0).abs() < 0.01,
                "K {k}: {found} for {exact}"
            );
            k *= 1.003;
        }
    }

    #[test]
    fn the_closed_curve_is_the_sum_over_the_fibres() {
        for k in [1.0, 1.1, 1.5, 3.0, 20.0] {
            // Strips of a circle of radius 1: the midpoint rule's error falls with the square of
            // their width.
            let n = 200_000_u32;
            let h = 2.0 / f64::from(n);
            let sum: f64 = (0..n)
                .map(|i| {
                    let y = -1.0 + h * (f64::from(i) + 0.5);
                    2.0 * (1.0 - y * y).sqrt() * y * (k * y).clamp(-1.0, 1.0) * h
                })
                .sum();
            assert!((moment(k) - sum * 4.0 / PI).abs() < 1e-6, "K {k}");
        }
    }
}
