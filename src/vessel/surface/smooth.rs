//! Signed distance to the smooth surface through the points of a mesh.
//!
//! A mesh of a vessel is a smooth surface seen at its points; its facets are of the mesh, not of
//! the vessel, and a wire must not catch on them. The surface meant here is curved between the
//! points: with q the point of the nearest triangle nearest to p, λ its weights at the corners vᵢ,
//! and nᵢ the normals there,
//!
//! s = q + ½ Σ λᵢ (πᵢ(q) - q),  πᵢ(q) = q - nᵢ (nᵢ · (q - vᵢ)),  d = (p - s) · n,  n ∥ Σ λᵢ nᵢ.
//!
//! Source: T. Boubekeur and M. Alexa, Phong tessellation, ACM Trans Graph 27(5), 2008; with the
//! factor ½ in place of their ¾ the surface through the corners is exact for every surface of
//! second order. Along an edge both depend on its two ends only, so d is continuous across edges.
//! An error of size e in the point (because the nearest point of the curved surface lies beside
//! that of the triangle) changes d by e² times the curvature only.
//!
//! Edges that turn by more than [`CREASE_DEG`] are real: the rim of a flat end, a knife-edge
//! carina. There the distance is that to the mesh itself.

use std::sync::Arc;

use nalgebra::Vector3;

use crate::anatomy::surface::{Bvh, Hint, Mesh, Nearest, Part};

/// Turn of an edge in degrees above which it is a real one.
const CREASE_DEG: f64 = 70.0;
/// Steps that move the nearest point of the triangle towards that of the curved surface.
const REFINEMENTS: usize = 2;
/// The curved distance counts where it differs from that to the mesh by less than this share of
/// the triangle's size.
const BULGE: f64 = 0.5;

/// A mesh that answers with the signed distance to the smooth surface through its points.
#[derive(Debug, Clone)]
pub(super) struct SmoothSurface {
    mesh: Arc<Mesh>,
    bvh: Bvh,
    neighbours: Vec<[u32; 3]>,
    /// Unit normals of the triangles.
    flat: Vec<Vector3<f64>>,
    /// Normals at the corners, as sums of those of the triangles weighted by their angles.
    corner_normals: Vec<Vector3<f64>>,
    /// The same on the triangle's side of a crease, and for which corner of which triangle, as three
    /// times its number and that of the corner, rising.
    at_creases: Vec<Vector3<f64>>,
    creased: Vec<u32>,
    /// Whether each edge, and each corner, is on a crease.
    creases: Vec<[bool; 3]>,
    corner_creases: Vec<bool>,
    /// Longest edge of each triangle in mm.
    sizes: Vec<f64>,
}

/// The signed distance at a point.
#[derive(Debug, Clone, Copy)]
pub(super) struct Signed {
    /// In mm, negative inside.
    pub distance: f64,
    /// Direction in which it grows, of length 1.
    pub normal: Vector3<f64>,
    /// Distance to the mesh itself in mm, 0 or more.
    pub to_mesh: f64,
    /// Where to begin to look from a point close by.
    pub hint: Option<Hint>,
}

impl SmoothSurface {
    pub(super) fn new(mesh: &Arc<Mesh>) -> Self {
        let neighbours = mesh.neighbours();
        let bvh = Bvh::new(mesh);
        let flat: Vec<Vector3<f64>> = (0..mesh.triangles.len())
            .map(|t| {
                mesh.area_normal(t)
                    .try_normalize(0.0)
                    .unwrap_or_else(Vector3::z)
            })
            .collect();
        let least_cosine = CREASE_DEG.to_radians().cos();
        let other = |t: usize, k: usize| flat.get(neighbours[t][k] as usize).copied();
        let creases: Vec<[bool; 3]> = (0..flat.len())
            .map(|t| [0, 1, 2].map(|k| other(t, k).is_none_or(|n| n.dot(&flat[t]) < least_cosine)))
            .collect();
        let mut corner_normals = vec![Vector3::zeros(); mesh.points.len()];
        let mut corner_creases = vec![false; mesh.points.len()];
        for (t, corners) in mesh.triangles.iter().enumerate() {
            for k in 0..3 {
                let i = corners[k] as usize;
                corner_normals[i] += flat[t] * angle(mesh, t, k);
                corner_creases[i] = corner_creases[i] || creases[t][k] || creases[t][(k + 2) % 3];
            }
        }
        let corners = (0_u32..).zip(mesh.triangles.iter().flatten());
        let creased: Vec<u32> = corners
            .filter(|(_, i)| corner_creases[**i as usize])
            .map(|(number, _)| number)
            .collect();
        let at_creases = creased
            .iter()
            .map(|number| {
                let (t, k) = (*number as usize / 3, *number as usize % 3);
                around(mesh, &neighbours, &creases, &flat, t, k)
            })
            .collect();
        let sizes = (0..flat.len())
            .map(|t| {
                let [a, b, c] = mesh.corners(t);
                (b - a).norm().max((c - b).norm()).max((a - c).norm())
            })
            .collect();
        Self {
            mesh: Arc::clone(mesh),
            bvh,
            neighbours,
            flat,
            corner_normals,
            at_creases,
            creased,
            creases,
            corner_creases,
            sizes,
        }
    }

    pub(super) fn mesh(&self) -> &Mesh {
        &self.mesh
    }

    /// The signed distance at `p`; sooner with a hint from a point close by. Infinite if the mesh is
    /// `within` mm or more away.
    pub(super) fn at(&self, p: &Vector3<f64>, hint: Option<Hint>, within: f64) -> Signed {
        match self.bvh.nearest_within(p, hint, within) {
            Some(near) => self.signed(p, &near),
            None => Signed {
                distance: f64::INFINITY,
                normal: Vector3::zeros(),
                to_mesh: f64::INFINITY,
                hint,
            },
        }
    }

    fn signed(&self, p: &Vector3<f64>, near: &Nearest) -> Signed {
        let t = near.triangle;
        let [a, b, c] = self.mesh.corners(t);
        let [u, v, w] = near.weights;
        let offset = p - (a * u + b * v + c * w);
        let to_mesh = near.square.sqrt();
        let (pseudo, crease) = match near.part {
            Part::Face => (self.mesh.area_normal(t), false),
            Part::Edge(k) => {
                let other = self.flat.get(self.neighbours[t][k] as usize);
                (
                    self.flat[t] + other.unwrap_or(&self.flat[t]),
                    self.creases[t][k],
                )
            }
            Part::Corner(k) => {
                let i = self.mesh.triangles[t][k] as usize;
                (self.corner_normals[i], self.corner_creases[i])
            }
        };
        let sign = if offset.dot(&pseudo) < 0.0 { -1.0 } else { 1.0 };
        let (distance, normal) = self.curved(p, t, near.weights);
        let flat = sign * to_mesh;
        if crease || (distance - flat).abs() > BULGE * self.sizes[t] {
            let normal = (offset * sign).try_normalize(0.0).unwrap_or(normal);
            return Signed {
                distance: flat,
                normal,
                to_mesh,
                hint: Some(near.hint),
            };
        }
        Signed {
            distance,
            normal,
            to_mesh,
            hint: Some(near.hint),
        }
    }

    /// Unit normals at the corners of a triangle; they differ between the two sides of a crease.
    fn normals(&self, t: usize) -> [Vector3<f64>; 3] {
        [0, 1, 2].map(|k| {
            let i = self.mesh.triangles[t][k] as usize;
            let sum = if self.corner_creases[i] {
                let number = u32::try_from(3 * t + k).unwrap_or(u32::MAX);
                let found = self.creased.binary_search(&number);
                found.ok().map(|place| self.at_creases[place])
            } else {
                Some(self.corner_normals[i])
            };
            sum.and_then(|sum| sum.try_normalize(0.0))
                .unwrap_or(self.flat[t])
        })
    }

    /// Distance to the curved surface over a triangle, and its normal.
    fn curved(&self, p: &Vector3<f64>, t: usize, weights: [f64; 3]) -> (f64, Vector3<f64>) {
        let corners = self.mesh.corners(t);
        let normals = self.normals(t);
        let (e1, e2) = (corners[1] - corners[0], corners[2] - corners[0]);
        let (g11, g12, g22) = (e1.norm_squared(), e1.dot(&e2), e2.norm_squared());
        let gram = g11 * g22 - g12 * g12;
        let mut weights = weights;
        for step in 0.. {
            let q = corners[0] * weights[0] + corners[1] * weights[1] + corners[2] * weights[2];
            let mut s = q;
            let mut n = Vector3::zeros();
            for k in 0..3 {
                s -= normals[k] * (0.5 * weights[k] * normals[k].dot(&(q - corners[k])));
                n += normals[k] * weights[k];
            }
            let n = n.try_normalize(0.0).unwrap_or(normals[0]);
            let from = p - s;
            let distance = from.dot(&n);
            if step == REFINEMENTS || gram <= 0.0 {
                return (distance, n);
            }
            let aside = from - n * distance;
            let (r1, r2) = (aside.dot(&e1), aside.dot(&e2));
            let v = weights[1] + (r1 * g22 - r2 * g12) / gram;
            let w = weights[2] + (r2 * g11 - r1 * g12) / gram;
            let v = v.clamp(0.0, 1.0);
            let w = w.clamp(0.0, 1.0 - v);
            weights = [1.0 - v - w, v, w];
        }
        (0.0, normals[0])
    }
}

/// Angle of a triangle at its corner k in rad.
fn angle(mesh: &Mesh, t: usize, k: usize) -> f64 {
    let corners = mesh.corners(t);
    let (a, b) = (
        corners[(k + 1) % 3] - corners[k],
        corners[(k + 2) % 3] - corners[k],
    );
    a.cross(&b).norm().atan2(a.dot(&b))
}

/// Sum of the normals, weighted by their angles, of the triangles about corner k of triangle t
/// that are reached without stepping over a crease.
///
/// Source of the weights: J. A. Baerentzen and H. Aanaes, Signed distance computation using the
/// angle weighted pseudonormal, IEEE Trans Vis Comput Graph 11:243-253, 2005.
fn around(
    mesh: &Mesh,
    neighbours: &[[u32; 3]],
    creases: &[[bool; 3]],
    flat: &[Vector3<f64>],
    t: usize,
    k: usize,
) -> Vector3<f64> {
    let point = mesh.triangles[t][k];
    let mut sum = flat[t] * angle(mesh, t, k);
    // Over the edge that leaves the corner one way round, then over the one that arrives at it.
    for leaving in [true, false] {
        let (mut here, mut corner) = (t, k);
        for _ in 0..mesh.triangles.len() {
            let edge = if leaving { corner } else { (corner + 2) % 3 };
            let next = neighbours[here][edge] as usize;
            if creases[here][edge] || next == t || next >= flat.len() {
                break;
            }
            let Some(at) = mesh.triangles[next].iter().position(|i| *i == point) else {
                break;
            };
            sum += flat[next] * angle(mesh, next, at);
            (here, corner) = (next, at);
        }
    }
    sum
}
