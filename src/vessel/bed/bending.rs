//! Elastic energy of a vessel's wall: bending and stretching of its axis.
//!
//! Equation: `e = B/2 |k - R k0|² + A/2 (λ - 1)²` per mm of axis at rest, `λ = |c'|`, `t = c'/λ`,
//! `k = (c'' - t (t·c''))/λ` (the change of `t` along the axis at rest), `R` the least rotation that takes
//! the rest tangent `t0` to `t`.
//! Symbols: `c'`, `c''` derivatives of the moved axis by the station, `k0` curvature vector at rest, `B`
//! bending stiffness in mN mm², `A` axial stiffness in mN.
//! Source: Kirchhoff's rod with its natural curvature, Love, *A Treatise on the Mathematical Theory of
//! Elasticity*, 4th ed. 1927, chapter XVIII. Sections do not twist about the axis: the bed holds them
//! there. In a plane the first term is `B/2 (θ' - κ0)²` for any angle.

use nalgebra::{Matrix3, Vector3};

/// The axis of a vessel at rest, at one station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtRest {
    /// Unit tangent.
    pub tangent: Vector3<f64>,
    /// Curvature vector in 1/mm, square to the tangent.
    pub curvature: Vector3<f64>,
    /// Derivative of the position by the station: the tangent, longer where the vessel's own movement
    /// stretches it.
    pub first: Vector3<f64>,
    /// Second derivative in 1/mm.
    pub second: Vector3<f64>,
}

/// Stiffness of the vessel's wall as a beam.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WallBeam {
    /// Bending stiffness in mN mm², 0 or more.
    pub bending: f64,
    /// Axial stiffness in mN, 0 or more.
    pub axial: f64,
}

/// Energy of a mm of axis with its derivatives by `c'` and `c''`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BeamEnergy {
    /// Energy in mN mm.
    pub energy: f64,
    /// Derivatives by `c'` and `c''`.
    pub gradient: [Vector3<f64>; 2],
    /// Second derivatives: by `c'` twice, by `c'` (rows) and `c''` (columns), by `c''` twice.
    pub hessian: [Matrix3<f64>; 3],
}

/// The scalars of which bending depends: `λ`, `t0·c'`, `k0·c'`, `c''·c'`, `t0·c''`, `k0·c''`, `|c''|²`.
const SCALARS: usize = 7;

impl WallBeam {
    /// Energy per mm of axis at rest, of an axis with the derivatives `v` and `w` by the station.
    #[must_use]
    pub fn energy(&self, rest: &AtRest, v: &Vector3<f64>, w: &Vector3<f64>) -> f64 {
        let length = v.norm();
        let stretch = length - rest.first.norm();
        0.5 * self.axial * stretch * stretch + self.bending * bending(&scalars(rest, v, w), rest)
    }

    /// Its derivatives by `v` and `w`.
    #[must_use]
    pub fn gradient(&self, rest: &AtRest, v: &Vector3<f64>, w: &Vector3<f64>) -> [Vector3<f64>; 2] {
        let x = scalars(rest, v, w);
        let first = bending_gradient(&x);
        let (t0, k0) = (rest.tangent, rest.curvature);
        let t = v / x[0];
        let stretch = x[0] - rest.first.norm();
        [
            (t * first[0] + t0 * first[1] + k0 * first[2] + w * first[3]) * self.bending
                + t * (self.axial * stretch),
            (v * first[3] + t0 * first[4] + k0 * first[5] + w * (2.0 * first[6])) * self.bending,
        ]
    }

    /// Energy with first and second derivatives.
    #[must_use]
    pub fn derivatives(&self, rest: &AtRest, v: &Vector3<f64>, w: &Vector3<f64>) -> BeamEnergy {
        let x = scalars(rest, v, w);
        let (value, first, second) = bending_derivatives(&x, rest);
        let (t0, k0) = (rest.tangent, rest.curvature);
        let t = v / x[0];
        // Gradients of the scalars by c' and by c''.
        let by_v = [t, t0, k0, *w, ZERO, ZERO, ZERO];
        let by_w = [ZERO, ZERO, ZERO, *v, t0, k0, w * 2.0];
        let mut out = BeamEnergy {
            energy: value,
            gradient: [ZERO; 2],
            hessian: [Matrix3::zeros(); 3],
        };
        for i in 0..SCALARS {
            out.gradient[0] += by_v[i] * first[i];
            out.gradient[1] += by_w[i] * first[i];
            let (mut column_v, mut column_w) = (ZERO, ZERO);
            for j in 0..SCALARS {
                column_v += by_v[j] * second[i][j];
                column_w += by_w[j] * second[i][j];
            }
            out.hessian[0] += column_v * by_v[i].transpose();
            out.hessian[1] += column_v * by_w[i].transpose();
            out.hessian[2] += column_w * by_w[i].transpose();
        }
        // Second derivatives of the scalars: of |c'|, c'·c'' and |c''|².
        let across = (Matrix3::identity() - t * t.transpose()) / x[0];
        out.hessian[0] += across * first[0];
        out.hessian[1] += Matrix3::identity() * first[3];
        out.hessian[2] += Matrix3::identity() * (2.0 * first[6]);
        out.energy *= self.bending;
        out.gradient = out.gradient.map(|g| g * self.bending);
        out.hessian = out.hessian.map(|h| h * self.bending);
        let stretch = x[0] - rest.first.norm();
        out.energy += 0.5 * self.axial * stretch * stretch;
        out.gradient[0] += t * (self.axial * stretch);
        out.hessian[0] += (t * t.transpose() + across * stretch) * self.axial;
        out
    }
}

const ZERO: Vector3<f64> = Vector3::new(0.0, 0.0, 0.0);

fn scalars(rest: &AtRest, v: &Vector3<f64>, w: &Vector3<f64>) -> [f64; SCALARS] {
    let (t0, k0) = (&rest.tangent, &rest.curvature);
    [
        v.norm(),
        t0.dot(v),
        k0.dot(v),
        w.dot(v),
        t0.dot(w),
        k0.dot(w),
        w.norm_squared(),
    ]
}

/// `|k - R k0|²/2` in the scalars.
///
/// With `R x = x - (x·t)/(1 + t0·t) (t0 + t)` for `x` square to `t0`: `|k|² = (|w|² - (w·v)²/λ²)/λ²`, `|R k0| =
/// |k0|` and `k·R k0 = k0·w/λ - (k0·v) (λ t0·w + w·v)/(λ² (λ + t0·v))`.
fn bending(x: &[f64; SCALARS], rest: &AtRest) -> f64 {
    let [l, t, a, m, n, p, q] = *x;
    let ll = l * l;
    0.5 * (q - m * m / ll) / ll - p / l
        + a * (l * n + m) / (ll * (l + t))
        + 0.5 * rest.curvature.norm_squared()
}

/// The first derivatives of [`bending`] by the scalars.
fn bending_gradient(x: &[f64; SCALARS]) -> [f64; SCALARS] {
    let [l, t, a, m, n, p, q] = *x;
    let (l2, l3, l4) = (l * l, l.powi(3), l.powi(4));
    let sum = l + t;
    let b = l * n + m;
    let g = 1.0 / (l2 * sum);
    let g_l = -g * (2.0 / l + 1.0 / sum);
    [
        -q / l3 + 2.0 * m * m / (l4 * l) + p / l2 + a * (n * g + b * g_l),
        -a * b * g / sum,
        b * g,
        -m / l4 + a * g,
        a * l * g,
        -1.0 / l,
        0.5 / l2,
    ]
}

/// Value, first and second derivatives of [`bending`] by the scalars.
fn bending_derivatives(
    x: &[f64; SCALARS],
    rest: &AtRest,
) -> (f64, [f64; SCALARS], [[f64; SCALARS]; SCALARS]) {
    let [l, t, a, m, n, p, q] = *x;
    let (l2, l3, l4) = (l * l, l.powi(3), l.powi(4));
    // The mixed term is a b g with b = l n + m and g = 1/(l² (l + t)).
    let sum = l + t;
    let b = l * n + m;
    let g = 1.0 / (l2 * sum);
    let g_l = -g * (2.0 / l + 1.0 / sum);
    let g_t = -g / sum;
    let g_ll = -g_l * (2.0 / l + 1.0 / sum) + g * (2.0 / l2 + 1.0 / (sum * sum));
    let g_lt = -g_t * (2.0 / l + 1.0 / sum) + g / (sum * sum);
    let g_tt = 2.0 * g / (sum * sum);
    let first = bending_gradient(x);
    let mut second = [[0.0; SCALARS]; SCALARS];
    let mut set = |i: usize, j: usize, value: f64| {
        second[i][j] = value;
        second[j][i] = value;
    };
    set(
        0,
        0,
        3.0 * q / l4 - 10.0 * m * m / (l4 * l2) - 2.0 * p / l3 + a * (2.0 * n * g_l + b * g_ll),
    );
    set(0, 1, a * (n * g_t + b * g_lt));
    set(0, 2, n * g + b * g_l);
    set(0, 3, 4.0 * m / (l4 * l) + a * g_l);
    set(0, 4, a * (g + l * g_l));
    set(0, 5, 1.0 / l2);
    set(0, 6, -1.0 / l3);
    set(1, 1, a * b * g_tt);
    set(1, 2, b * g_t);
    set(1, 3, a * g_t);
    set(1, 4, a * l * g_t);
    set(2, 3, g);
    set(2, 4, l * g);
    set(3, 3, -1.0 / l4);
    (bending(x, rest), first, second)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn rest() -> AtRest {
        let tangent = Vector3::new(0.6, 0.0, 0.8);
        AtRest {
            tangent,
            curvature: Vector3::new(0.08, 0.1, -0.06),
            first: tangent,
            second: Vector3::new(0.08, 0.1, -0.06),
        }
    }

    #[test]
    fn an_axis_at_rest_stores_nothing() {
        let beam = WallBeam {
            bending: 200.0,
            axial: 1e3,
        };
        let rest = rest();
        let there = beam.derivatives(&rest, &rest.first, &rest.second);
        assert_relative_eq!(there.energy, 0.0, epsilon = 1e-12);
        for g in there.gradient {
            assert_relative_eq!(g.norm(), 0.0, epsilon = 1e-10);
        }
    }

    /// The angle of the tangent in a plane, without small angles.
    #[test]
    fn in_a_plane_the_energy_is_that_of_the_change_of_curvature() {
        let beam = WallBeam {
            bending: 1.0,
            axial: 0.0,
        };
        let k0 = 0.1;
        let rest = AtRest {
            tangent: Vector3::x(),
            curvature: Vector3::y() * k0,
            first: Vector3::x(),
            second: Vector3::y() * k0,
        };
        for degrees in [0.0_f64, 30.0, 90.0, 150.0] {
            let (s, c) = degrees.to_radians().sin_cos();
            for turn in [-0.3, 0.0, 0.25] {
                let t = Vector3::new(c, s, 0.0);
                let w = Vector3::new(-s, c, 0.0) * turn;
                let expected = 0.5 * (turn - k0) * (turn - k0);
                assert_relative_eq!(beam.energy(&rest, &t, &w), expected, epsilon = 1e-12);
            }
        }
    }

    #[test]
    fn derivatives_agree_with_differences_over_decades_of_stiffness() {
        let rest = rest();
        for k in 0..24 {
            let x = f64::from(k);
            let beam = WallBeam {
                bending: 10f64.powi(k % 5),
                axial: 10f64.powi(k % 4),
            };
            let v =
                rest.first + Vector3::new((1.3 * x).sin(), (2.1 * x).cos(), (0.7 * x).sin()) * 0.3;
            let w =
                rest.second + Vector3::new((0.3 * x).cos(), (1.7 * x).sin(), (1.1 * x).cos()) * 0.2;
            let here = beam.derivatives(&rest, &v, &w);
            assert_relative_eq!(
                here.energy,
                beam.energy(&rest, &v, &w),
                max_relative = 1e-12
            );
            for (a, b) in here.gradient.iter().zip(beam.gradient(&rest, &v, &w)) {
                assert_relative_eq!(*a, b, epsilon = 1e-9 * here.energy.max(1.0));
            }
            let scale = 1.0 + beam.bending + beam.axial;
            let h = 1e-5;
            for c in 0..3 {
                let d = Vector3::ith(c, h);
                let e = |v: &Vector3<f64>, w: &Vector3<f64>| beam.energy(&rest, v, w);
                let slopes = [
                    (e(&(v + d), &w) - e(&(v - d), &w)) / (2.0 * h),
                    (e(&v, &(w + d)) - e(&v, &(w - d))) / (2.0 * h),
                ];
                for (slope, gradient) in slopes.iter().zip(here.gradient) {
                    assert_relative_eq!(*slope, gradient[c], epsilon = 1e-8 * scale);
                }
                let g = |v: &Vector3<f64>, w: &Vector3<f64>| beam.derivatives(&rest, v, w).gradient;
                let (a, b) = (g(&(v + d), &w), g(&(v - d), &w));
                let by_v = (a[0] - b[0]) / (2.0 * h);
                assert_relative_eq!(
                    by_v,
                    here.hessian[0].column(c).into_owned(),
                    epsilon = 1e-7 * scale
                );
                let (a, b) = (g(&v, &(w + d)), g(&v, &(w - d)));
                let mixed = (a[0] - b[0]) / (2.0 * h);
                assert_relative_eq!(
                    mixed,
                    here.hessian[1].column(c).into_owned(),
                    epsilon = 1e-7 * scale
                );
                let by_w = (a[1] - b[1]) / (2.0 * h);
                assert_relative_eq!(
                    by_w,
                    here.hessian[2].column(c).into_owned(),
                    epsilon = 1e-7 * scale
                );
            }
        }
    }
}
