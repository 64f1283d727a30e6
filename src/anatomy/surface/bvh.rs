//! A tree of boxes over triangles: the nearest triangle, rays, and pairs whose boxes meet.

mod pairs;
mod planes;
mod triangle;

use nalgebra::Vector3;

use self::planes::Planes;
use self::triangle::{nearest_on_triangle, ray_triangle};
use super::mesh::Mesh;

/// Most triangles in a leaf.
const LEAF: usize = 4;

#[derive(Debug, Clone, Copy)]
struct Node {
    low: Vector3<f64>,
    high: Vector3<f64>,
    /// First of its triangles in the order of the tree, or its second child; its first child is
    /// the next node.
    first: u32,
    /// Number of triangles; 0 for an inner node.
    count: u32,
}

impl Node {
    #[inline]
    fn square_distance(&self, p: &Vector3<f64>) -> f64 {
        let mut sum = 0.0;
        for i in 0..3 {
            let out = (self.low[i] - p[i]).max(p[i] - self.high[i]).max(0.0);
            sum += out * out;
        }
        sum
    }

    fn meets(&self, low: &Vector3<f64>, high: &Vector3<f64>) -> bool {
        (0..3).all(|i| self.low[i] <= high[i] && low[i] <= self.high[i])
    }
}

/// What part of a triangle is nearest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// Its inside.
    Face,
    /// The edge from corner k to k + 1.
    Edge(usize),
    /// Corner k.
    Corner(usize),
}

/// The nearest point of a surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearest {
    /// Square of the distance in mm².
    pub square: f64,
    /// Number of the triangle.
    pub triangle: usize,
    /// Weights of its corners at the nearest point.
    pub weights: [f64; 3],
    /// On which part of the triangle it lies.
    pub part: Part,
    /// Where to begin to look from a point close by.
    pub hint: Hint,
}

/// A triangle near which the nearest one is likely to be: its place in the tree.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hint(u32);

/// A tree of boxes.
#[derive(Debug, Clone)]
pub struct Bvh {
    nodes: Vec<Node>,
    /// Triangles in the order of the leaves: number, and the points at their corners.
    order: Vec<u32>,
    corners: Vec<[u32; 3]>,
    points: Vec<Vector3<f64>>,
    planes: Planes,
}

impl Bvh {
    /// The tree over a surface.
    #[must_use]
    pub fn new(mesh: &Mesh) -> Self {
        let mut items: Vec<(u32, Vector3<f64>)> = (0_u32..)
            .zip(0..mesh.triangles.len())
            .map(|(number, t)| {
                let [a, b, c] = mesh.corners(t);
                (number, (a + b + c) / 3.0)
            })
            .collect();
        let mut nodes = Vec::with_capacity(items.len());
        let count = items.len();
        build(&mut nodes, &mut items, 0, count, mesh);
        let order: Vec<u32> = items.iter().map(|i| i.0).collect();
        let corners = order.iter().map(|t| mesh.triangles[*t as usize]).collect();
        let in_order = order.iter().map(|t| mesh.corners(*t as usize));
        Self {
            planes: Planes::new(in_order, &nodes[0].low, &nodes[0].high),
            nodes,
            order,
            corners,
            points: mesh.points.clone(),
        }
    }

    /// The corners of the triangle at place `i` of the tree.
    #[inline]
    fn triangle(&self, i: u32) -> [Vector3<f64>; 3] {
        self.corners[i as usize].map(|point| self.points[point as usize])
    }

    /// The nearest point of the surface; sooner with a hint from a point close by. `None` for a
    /// surface without triangles, and for a point that is no number.
    #[must_use]
    pub fn nearest(&self, p: &Vector3<f64>, hint: Option<Hint>) -> Option<Nearest> {
        self.nearest_within(p, hint, f64::INFINITY)
    }

    /// The same, of those points of the surface that are nearer than `within` mm.
    #[must_use]
    pub fn nearest_within(
        &self,
        p: &Vector3<f64>,
        hint: Option<Hint>,
        within: f64,
    ) -> Option<Nearest> {
        let hinted = hint.map(|Hint(i)| self.seen(p, i));
        let mut best = hinted.filter(|b| b.square < within * within);
        let mut limit = best.map_or(within * within, |b| b.square);
        let mut stack = [(0_u32, 0.0_f64); 64];
        let mut depth = 1;
        stack[0].1 = self.nodes[0].square_distance(p);
        let seen_from = self.planes.seen_from(p);
        while depth > 0 {
            depth -= 1;
            let (number, distance) = stack[depth];
            if distance >= limit {
                continue;
            }
            let node = &self.nodes[number as usize];
            if node.count > 0 {
                let off = self.planes.off(&seen_from, node.first);
                for (i, off) in (node.first..node.first + node.count).zip(off) {
                    if off * off >= limit {
                        continue;
                    }
                    let seen = self.seen(p, i);
                    if seen.square < limit {
                        limit = seen.square;
                        best = Some(seen);
                    }
                }
                continue;
            }
            let (a, b) = (number + 1, node.first);
            let da = self.nodes[a as usize].square_distance(p);
            let db = self.nodes[b as usize].square_distance(p);
            let (far, near) = if da <= db {
                ((b, db), (a, da))
            } else {
                ((a, da), (b, db))
            };
            stack[depth] = far;
            stack[depth + 1] = near;
            depth += 2;
        }
        best
    }

    /// The point nearest to `p` of the triangle at place `i` of the tree.
    #[inline]
    fn seen(&self, p: &Vector3<f64>, i: u32) -> Nearest {
        let (square, weights, part) = nearest_on_triangle(p, &self.triangle(i));
        Nearest {
            square,
            triangle: self.order[i as usize] as usize,
            weights,
            part,
            hint: Hint(i),
        }
    }

    /// Distance along a ray (unit direction) to the first triangle it meets within `reach`.
    #[must_use]
    pub fn ray(&self, from: &Vector3<f64>, direction: &Vector3<f64>, reach: f64) -> Option<f64> {
        let inverse = direction.map(|d| 1.0 / d);
        let mut best = reach;
        let mut found = false;
        let mut stack = vec![0_u32];
        while let Some(number) = stack.pop() {
            let node = &self.nodes[number as usize];
            let (mut enter, mut leave) = (0.0_f64, best);
            for i in 0..3 {
                let a = (node.low[i] - from[i]) * inverse[i];
                let b = (node.high[i] - from[i]) * inverse[i];
                enter = enter.max(a.min(b));
                leave = leave.min(a.max(b));
            }
            if enter > leave {
                continue;
            }
            if node.count == 0 {
                stack.extend([number + 1, node.first]);
                continue;
            }
            for i in node.first..node.first + node.count {
                if let Some(t) = ray_triangle(from, direction, &self.triangle(i))
                    && t < best
                {
                    best = t;
                    found = true;
                }
            }
        }
        found.then_some(best)
    }

    /// Calls `visit` with every triangle whose box may meet the given one, until it says stop.
    pub(super) fn meeting(
        &self,
        low: &Vector3<f64>,
        high: &Vector3<f64>,
        mut visit: impl FnMut(usize) -> bool,
    ) {
        let mut stack = vec![0_u32];
        while let Some(number) = stack.pop() {
            let node = &self.nodes[number as usize];
            if !node.meets(low, high) {
                continue;
            }
            if node.count == 0 {
                stack.extend([number + 1, node.first]);
                continue;
            }
            for i in node.first..node.first + node.count {
                if visit(self.order[i as usize] as usize) {
                    return;
                }
            }
        }
    }

    /// Calls `visit` with all pairs of triangles whose boxes meet, on all threads, a pair once. Whether that
    /// was done: it stops where more than `most` pairs of boxes of the tree are looked at, as where long
    /// triangles lie side by side.
    pub(super) fn pairs(&self, most: u64, visit: impl Fn(usize, usize) + Sync) -> bool {
        pairs::visit(self, most, visit)
    }

    /// Parts of the tree that a search for the point of the surface nearest to `p` looks into, at least.
    pub(super) fn parts_to_search(&self, p: &Vector3<f64>) -> usize {
        let Some(nearest) = self.nearest(p, None) else {
            return 0;
        };
        let mut count = 0;
        let mut stack = vec![0_u32];
        while let Some(number) = stack.pop() {
            let node = &self.nodes[number as usize];
            if node.square_distance(p) < nearest.square {
                count += 1;
                if node.count == 0 {
                    stack.extend(self.children(number));
                }
            }
        }
        count
    }

    fn children(&self, number: u32) -> [u32; 2] {
        [number + 1, self.nodes[number as usize].first]
    }
}

pub(super) fn box_of([a, b, c]: &[Vector3<f64>; 3]) -> (Vector3<f64>, Vector3<f64>) {
    (a.inf(b).inf(c), a.sup(b).sup(c))
}

fn build(
    nodes: &mut Vec<Node>,
    items: &mut [(u32, Vector3<f64>)],
    from: usize,
    to: usize,
    mesh: &Mesh,
) {
    let part = &mut items[from..to];
    let mut low = Vector3::repeat(f64::INFINITY);
    let mut high = Vector3::repeat(f64::NEG_INFINITY);
    let (mut inner_low, mut inner_high) = (low, high);
    for (t, centre) in part.iter() {
        for p in mesh.corners(*t as usize) {
            low = low.inf(&p);
            high = high.sup(&p);
        }
        inner_low = inner_low.inf(centre);
        inner_high = inner_high.sup(centre);
    }
    let number = nodes.len();
    let index = |i: usize| u32::try_from(i).unwrap_or(u32::MAX);
    nodes.push(Node {
        low,
        high,
        first: index(from),
        count: index(to - from),
    });
    if to - from <= LEAF {
        return;
    }
    let axis = (inner_high - inner_low).imax();
    let middle = (to - from) / 2;
    part.select_nth_unstable_by(middle, |a, b| {
        a.1[axis].total_cmp(&b.1[axis]).then(a.0.cmp(&b.0))
    });
    build(nodes, items, from, from + middle, mesh);
    let second = nodes.len();
    build(nodes, items, from + middle, to, mesh);
    nodes[number].first = index(second);
    nodes[number].count = 0;
}
