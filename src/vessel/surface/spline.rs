//! Uniform cubic B-splines in three dimensions: a value with two derivatives from 64 numbers.

use nalgebra::{Matrix3, Vector3};

use crate::vessel::lumen::WallPoint;

/// Weights of four neighbouring numbers, with their first and second derivatives by the place
/// between the middle two, which runs from 0 to 1.
#[inline]
fn weights(t: f64) -> [[f64; 4]; 3] {
    let s = 1.0 - t;
    let (t2, s2) = (t * t, s * s);
    [
        [
            s2 * s / 6.0,
            (3.0 * t2 * t - 6.0 * t2 + 4.0) / 6.0,
            (3.0 * s2 * s - 6.0 * s2 + 4.0) / 6.0,
            t2 * t / 6.0,
        ],
        [
            -0.5 * s2,
            0.5 * (3.0 * t2 - 4.0 * t),
            -0.5 * (3.0 * s2 - 4.0 * s),
            0.5 * t2,
        ],
        [s, 3.0 * t - 2.0, 3.0 * s - 2.0, t],
    ]
}

#[inline]
fn dot(a: &[f64; 4], b: &[f64; 4]) -> f64 {
    (a[0] * b[0] + a[1] * b[1]) + (a[2] * b[2] + a[3] * b[3])
}

/// The spline at place `t` (each 0 to 1) of the middle cell of 4 x 4 x 4 numbers, which stand in
/// `numbers` from `first` on, x fastest, `row` numbers in a row and `row` rows in a layer;
/// derivatives by lengths of `spacing`.
#[inline]
pub(super) fn at(
    numbers: &[f32],
    first: usize,
    row: usize,
    t: &Vector3<f64>,
    spacing: f64,
) -> WallPoint {
    let [wx, dx, ddx] = weights(t.x);
    let [wy, dy, ddy] = weights(t.y);
    let [wz, dz, ddz] = weights(t.z);
    let mut value = 0.0;
    let mut gradient = [0.0; 3];
    // xx, yy, zz, xy, xz, yz
    let mut second = [0.0; 6];
    for k in 0..4 {
        let (mut f, mut fx, mut fxx) = ([0.0; 4], [0.0; 4], [0.0; 4]);
        for j in 0..4 {
            let from = first + (k * row + j) * row;
            let four: [f64; 4] = match numbers[from..from + 4] {
                [a, b, c, d] => [a, b, c, d].map(f64::from),
                _ => [0.0; 4],
            };
            f[j] = dot(&wx, &four);
            fx[j] = dot(&dx, &four);
            fxx[j] = dot(&ddx, &four);
        }
        let (g, gy, gyy) = (dot(&wy, &f), dot(&dy, &f), dot(&ddy, &f));
        let (gx, gxy, gxx) = (dot(&wy, &fx), dot(&dy, &fx), dot(&wy, &fxx));
        value += wz[k] * g;
        gradient[0] += wz[k] * gx;
        gradient[1] += wz[k] * gy;
        gradient[2] += dz[k] * g;
        second[0] += wz[k] * gxx;
        second[1] += wz[k] * gyy;
        second[2] += ddz[k] * g;
        second[3] += wz[k] * gxy;
        second[4] += dz[k] * gx;
        second[5] += dz[k] * gy;
    }
    let per = 1.0 / spacing;
    let [xx, yy, zz, xy, xz, yz] = second.map(|h| h * per * per);
    WallPoint {
        distance_mm: value,
        gradient: Vector3::from(gradient) * per,
        velocity: Vector3::zeros(),
        hessian: Matrix3::new(xx, xy, xz, xy, yy, yz, xz, yz, zz),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// The spline through numbers f - f''/6 is exact for polynomials of third order (C. de Boor, A
    /// Practical Guide to Splines, chapter XII).
    #[test]
    fn a_cubic_is_met_with_its_derivatives() {
        let (h, row) = (0.25, 4);
        let f =
            |p: Vector3<f64>| p.x * p.x * p.y - 2.0 * p.z * p.z * p.x + p.x * p.y * p.z + 0.5 * p.y;
        let place = |i: usize| (i as f64 - 1.0) * h;
        let numbers: Vec<f32> = (0..64)
            .map(|i| {
                let p = Vector3::new(place(i % 4), place(i / 4 % 4), place(i / 16));
                // The sum of the second derivatives of f is 2 y - 4 x.
                #[expect(clippy::cast_possible_truncation, reason = "as the grid stores it")]
                let c = (f(p) - h * h / 6.0 * (2.0 * p.y - 4.0 * p.x)) as f32;
                c
            })
            .collect();
        let t = Vector3::new(0.3, 0.8, 0.45);
        let p = t * h;
        let found = at(&numbers, 0, row, &t, h);
        assert_relative_eq!(found.distance_mm, f(p), epsilon = 1e-7);
        let gradient = Vector3::new(
            2.0 * p.x * p.y - 2.0 * p.z * p.z + p.y * p.z,
            p.x * p.x + p.x * p.z + 0.5,
            -4.0 * p.z * p.x + p.x * p.y,
        );
        assert_relative_eq!(found.gradient, gradient, epsilon = 1e-6);
        assert_relative_eq!(found.hessian[(0, 1)], 2.0 * p.x + p.z, epsilon = 1e-5);
        assert_relative_eq!(found.hessian[(2, 2)], -4.0 * p.x, epsilon = 1e-5);
    }
}
