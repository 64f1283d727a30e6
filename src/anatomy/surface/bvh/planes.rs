//! Bounds of the distance from triangles by their planes, in single precision.

use nalgebra::Vector3;

use super::LEAF;

/// The planes of all triangles in the order of the tree, of few digits: a triangle is no nearer than its
/// plane, which is told sooner than its own distance.
#[derive(Debug, Clone)]
pub(super) struct Planes {
    middle: Vector3<f64>,
    /// Half of the box around all, in mm.
    half: f64,
    /// Unit normals by coordinate, and distances from the middle; some more than there are triangles,
    /// so that a whole leaf can be asked at any place.
    normal: [Vec<f32>; 3],
    offset: Vec<f32>,
}

/// A point as planes see it: from the middle, and by how much distances may be wrong, in mm.
pub(super) struct SeenFrom {
    at: [f32; 3],
    error: f32,
}

impl Planes {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the error of this is known"
    )]
    pub(super) fn new(
        triangles: impl ExactSizeIterator<Item = [Vector3<f64>; 3]>,
        low: &Vector3<f64>,
        high: &Vector3<f64>,
    ) -> Self {
        let middle = (low + high) * 0.5;
        let mut out = Self {
            middle,
            half: (high - low).norm() * 0.5,
            normal: [(); 3].map(|()| Vec::with_capacity(triangles.len() + LEAF)),
            offset: Vec::with_capacity(triangles.len() + LEAF),
        };
        for [a, b, c] in triangles {
            // A triangle without a plane hides behind none.
            let normal = (b - a)
                .cross(&(c - a))
                .try_normalize(0.0)
                .unwrap_or_default();
            for k in 0..3 {
                out.normal[k].push(normal[k] as f32);
            }
            out.offset.push(-normal.dot(&(a - middle)) as f32);
        }
        for all in out.normal.iter_mut().chain([&mut out.offset]) {
            all.extend([0.0; LEAF]);
        }
        out
    }

    /// Errors of single precision are 2^-24 of a value for each of some ten roundings of values of up to the
    /// sum of the box and the way to the point; sixteen times that leaves room.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the error of this is known"
    )]
    #[inline]
    pub(super) fn seen_from(&self, p: &Vector3<f64>) -> SeenFrom {
        let at = p - self.middle;
        SeenFrom {
            at: [at.x as f32, at.y as f32, at.z as f32],
            error: (16.0 * f64::from(f32::EPSILON) * (self.half + at.norm())) as f32,
        }
    }

    /// A lower bound in mm of the distances from the planes of the triangles `first` and behind.
    #[inline]
    pub(super) fn off(&self, p: &SeenFrom, first: u32) -> [f64; LEAF] {
        let from = first as usize;
        let of = |all: &[f32]| -> [f32; LEAF] {
            all[from..from + LEAF].try_into().unwrap_or([0.0; LEAF])
        };
        let [x, y, z] = [
            of(&self.normal[0]),
            of(&self.normal[1]),
            of(&self.normal[2]),
        ];
        let offset = of(&self.offset);
        let mut out = [0.0; LEAF];
        for k in 0..LEAF {
            let off = x[k] * p.at[0] + y[k] * p.at[1] + z[k] * p.at[2] + offset[k];
            out[k] = f64::from((off.abs() - p.error).max(0.0));
        }
        out
    }
}
