//! Which moved axes matter at a point, where the movement is larger than the lumen: the spatial hash of the
//! tree at rest says nothing there.
//!
//! Points along every axis move with it. A tube whose nearest point is farther from its wall than the
//! nearest of all, by more than tubes blend and points are apart, does not matter.

use nalgebra::Vector3;

use super::spline::{Basis, Knots, SUPPORT};
use crate::vessel::path::{number, whole};
use crate::vessel::tree::Tree;

/// Largest distance of two points along an axis at rest, in mm.
const APART_MM: f64 = 1.0;
/// Points in a block of the search.
const BLOCK: usize = 8;
/// How far apart two points can have moved, over their distance at rest.
const STRETCHED: f64 = 1.5;

/// Points along all axes, and where they are now.
#[derive(Debug, Clone)]
pub(super) struct Near {
    branches: Vec<Points>,
    /// Control vectors with which they went last, in mm.
    moved: Vec<Vector3<f64>>,
    /// How much farther than the nearest tube one may be and still matter, in mm.
    margin_mm: f64,
}

/// Points along one axis.
#[derive(Debug, Clone)]
struct Points {
    apart_mm: f64,
    rest: Vec<(Basis, Vector3<f64>)>,
    radius: Vec<f64>,
    now: Vec<Vector3<f64>>,
    /// A sphere around each block with its lumen: middle, radius.
    blocks: Vec<(Vector3<f64>, f64)>,
}

/// A branch that matters at a point: its number and a station near the point's foot.
pub(super) type Candidate = (usize, f64);

impl Near {
    /// The points of a tree at rest; tubes blend over `blend_mm`.
    pub(super) fn new(tree: &Tree, knots: &[Knots], blend_mm: f64) -> Self {
        let of_branch = |(branch, knots): (&crate::vessel::Branch, &Knots)| {
            let line = &branch.centreline;
            let count = whole((line.length_mm() / APART_MM).ceil()).max(1);
            let apart_mm = line.length_mm() / number(count);
            let stations = || (0..=count).map(|k| apart_mm * number(k));
            let now: Vec<_> = stations().map(|s| line.position(s)).collect();
            let rest = stations().map(|s| knots.basis(s)).zip(now.iter().copied());
            Points {
                apart_mm,
                rest: rest.collect(),
                radius: stations().map(|s| line.radius(s)).collect(),
                blocks: vec![(Vector3::zeros(), 0.0); now.len().div_ceil(BLOCK)],
                now,
            }
        };
        let both = tree.branches().iter().zip(knots);
        let mut near = Self {
            branches: both.map(of_branch).collect(),
            moved: Vec::new(),
            margin_mm: 2.5 * blend_mm + STRETCHED * APART_MM,
        };
        let controls = knots.iter().map(Knots::controls).sum();
        near.follow(&vec![Vector3::zeros(); controls]);
        near
    }

    /// Lets the points go with the axes.
    pub(super) fn follow(&mut self, moved: &[Vector3<f64>]) {
        let is_first = self.moved.is_empty();
        for points in &mut self.branches {
            let Points { rest, blocks, .. } = points;
            let blocks = rest.chunks(BLOCK).zip(blocks);
            let both = (points.now.chunks_mut(BLOCK)).zip(points.radius.chunks(BLOCK));
            for ((rest, block), (now, radii)) in blocks.zip(both) {
                let (Some(first), Some(last)) = (rest.first(), rest.last()) else {
                    continue;
                };
                let of = first.0.first..last.0.first + SUPPORT;
                if !is_first && self.moved[of.clone()] == moved[of] {
                    continue;
                }
                for (now, (basis, at)) in now.iter_mut().zip(rest) {
                    *now = at + basis.at(moved);
                }
                let middle = now[now.len() / 2];
                let reach = now.iter().zip(radii).map(|(x, r)| (x - middle).norm() + r);
                *block = (middle, reach.fold(0.0, f64::max));
            }
        }
        self.moved.clear();
        self.moved.extend_from_slice(moved);
    }

    /// The branches that matter at `p`, in their order.
    pub(super) fn candidates(&self, p: &Vector3<f64>) -> impl Iterator<Item = Candidate> + use<> {
        let mut least = f64::INFINITY;
        let mut found: Vec<(usize, f64, f64)> = Vec::with_capacity(self.branches.len());
        for (number, points) in self.branches.iter().enumerate() {
            if let Some((distance, station)) = points.nearest(p, least + self.margin_mm) {
                least = least.min(distance);
                found.push((number, distance, station));
            }
        }
        let most = least + self.margin_mm;
        let matters = found.into_iter().filter(move |f| f.1 <= most);
        matters.map(|f| (f.0, f.2))
    }
}

impl Points {
    /// Distance from the wall of the ball around the nearest point, and its station, both in mm; `None`
    /// where it is above `below`.
    fn nearest(&self, p: &Vector3<f64>, below: f64) -> Option<(f64, f64)> {
        let mut best: Option<(f64, usize)> = None;
        let mut least = below;
        for (block, (middle, reach)) in self.blocks.iter().enumerate() {
            if (p - middle).norm() - reach > least {
                continue;
            }
            let from = block * BLOCK;
            let to = (from + BLOCK).min(self.now.len());
            for k in from..to {
                let distance = (p - self.now[k]).norm() - self.radius[k];
                if distance <= least {
                    least = distance;
                    best = Some((distance, k));
                }
            }
        }
        best.map(|(distance, k)| (distance, self.apart_mm * number(k)))
    }
}
