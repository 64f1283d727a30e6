//! The point of a triangle nearest to another, and where a ray meets a triangle.

use nalgebra::Vector3;

use super::Part;

/// Square distance, weights of the corners and part of the point of a triangle nearest to `p`.
///
/// Source: C. Ericson, Real-Time Collision Detection, 2005, section 5.1.5.
#[inline]
pub(super) fn nearest_on_triangle(
    p: &Vector3<f64>,
    [a, b, c]: &[Vector3<f64>; 3],
) -> (f64, [f64; 3], Part) {
    let (ab, ac, ap) = (b - a, c - a, p - a);
    let (d1, d2) = (ab.dot(&ap), ac.dot(&ap));
    if d1 <= 0.0 && d2 <= 0.0 {
        return (ap.norm_squared(), [1.0, 0.0, 0.0], Part::Corner(0));
    }
    let bp = p - b;
    let (d3, d4) = (ab.dot(&bp), ac.dot(&bp));
    if d3 >= 0.0 && d4 <= d3 {
        return (bp.norm_squared(), [0.0, 1.0, 0.0], Part::Corner(1));
    }
    let vc = d1 * d4 - d3 * d2;
    if vc <= 0.0 && d1 >= 0.0 && d3 <= 0.0 {
        let t = d1 / (d1 - d3);
        return (
            (ap - ab * t).norm_squared(),
            [1.0 - t, t, 0.0],
            Part::Edge(0),
        );
    }
    let cp = p - c;
    let (d5, d6) = (ab.dot(&cp), ac.dot(&cp));
    if d6 >= 0.0 && d5 <= d6 {
        return (cp.norm_squared(), [0.0, 0.0, 1.0], Part::Corner(2));
    }
    let vb = d5 * d2 - d1 * d6;
    if vb <= 0.0 && d2 >= 0.0 && d6 <= 0.0 {
        let t = d2 / (d2 - d6);
        return (
            (ap - ac * t).norm_squared(),
            [1.0 - t, 0.0, t],
            Part::Edge(2),
        );
    }
    let va = d3 * d6 - d5 * d4;
    if va <= 0.0 && d4 - d3 >= 0.0 && d5 - d6 >= 0.0 {
        let t = (d4 - d3) / ((d4 - d3) + (d5 - d6));
        return (
            (bp - (c - b) * t).norm_squared(),
            [0.0, 1.0 - t, t],
            Part::Edge(1),
        );
    }
    let per = 1.0 / (va + vb + vc);
    let (v, w) = (vb * per, vc * per);
    (
        (ap - ab * v - ac * w).norm_squared(),
        [1.0 - v - w, v, w],
        Part::Face,
    )
}

/// Distance along a ray to a triangle.
///
/// Source: T. Moeller and B. Trumbore, Fast, minimum storage ray-triangle intersection, J Graphics
/// Tools 2:21-28, 1997.
pub(super) fn ray_triangle(
    from: &Vector3<f64>,
    direction: &Vector3<f64>,
    [a, b, c]: &[Vector3<f64>; 3],
) -> Option<f64> {
    let (e1, e2) = (b - a, c - a);
    let across = direction.cross(&e2);
    let determinant = e1.dot(&across);
    if determinant.abs() <= f64::MIN_POSITIVE {
        return None;
    }
    let offset = from - a;
    let u = offset.dot(&across) / determinant;
    let other = offset.cross(&e1);
    let v = direction.dot(&other) / determinant;
    let t = e2.dot(&other) / determinant;
    (u >= 0.0 && v >= 0.0 && u + v <= 1.0 && t > 0.0).then_some(t)
}
