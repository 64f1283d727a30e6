//! A tree of boxes over triangles: the nearest triangle, rays, and pairs whose boxes meet.

use std::sync::atomic::{AtomicU64, Ordering};

use nalgebra::Vector3;

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
        let seen = AtomicU64::new(0);
        let pairs = Pairs {
            bvh: self,
            visit,
            seen: &seen,
            most,
        };
        pairs.within(0);
        seen.into_inner() <= most
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

/// The walk over all pairs of triangles whose boxes meet.
struct Pairs<'a, V> {
    bvh: &'a Bvh,
    visit: V,
    /// Pairs of boxes of the tree that were looked at so far.
    seen: &'a AtomicU64,
    most: u64,
}

/// From how many triangles on the two sides of a walk go to threads of their own.
const ON_THREADS: u32 = 1 << 12;

impl<V: Fn(usize, usize) + Sync> Pairs<'_, V> {
    /// All pairs within the part of a node.
    fn within(&self, number: u32) {
        let node = &self.bvh.nodes[number as usize];
        if node.count > 0 {
            let all = node.first..node.first + node.count;
            for i in all.clone() {
                (i + 1..all.end).for_each(|j| self.pair(i, j));
            }
            return;
        }
        let [a, b] = self.bvh.children(number);
        let across = || {
            let mut seen = 0;
            self.across(a, b, &mut seen);
            self.seen.fetch_add(seen, Ordering::Relaxed);
        };
        // The first child's nodes stand between it and the second.
        if b - a > ON_THREADS {
            rayon::join(|| rayon::join(|| self.within(a), || self.within(b)), across);
        } else {
            self.within(a);
            self.within(b);
            across();
        }
    }

    /// All pairs between the parts of two nodes.
    fn across(&self, a: u32, b: u32, seen: &mut u64) {
        *seen += 1;
        if seen.is_multiple_of(1 << 16) {
            // Many threads stop soon after all together have seen enough.
            self.seen.fetch_add(std::mem::take(seen), Ordering::Relaxed);
        }
        if self.seen.load(Ordering::Relaxed) > self.most {
            return;
        }
        let (one, other) = (&self.bvh.nodes[a as usize], &self.bvh.nodes[b as usize]);
        if !one.meets(&other.low, &other.high) {
            return;
        }
        match (one.count > 0, other.count > 0) {
            (true, true) => {
                for i in one.first..one.first + one.count {
                    let corners = box_of(&self.bvh.triangle(i));
                    if other.meets(&corners.0, &corners.1) {
                        (other.first..other.first + other.count).for_each(|j| self.pair(i, j));
                    }
                }
            }
            (true, false) => {
                for child in self.bvh.children(b) {
                    self.across(a, child, seen);
                }
            }
            (false, true) => {
                for child in self.bvh.children(a) {
                    self.across(child, b, seen);
                }
            }
            (false, false) => {
                // The larger one is divided first.
                let size = |node: &Node| (node.high - node.low).norm_squared();
                if size(one) >= size(other) {
                    for child in self.bvh.children(a) {
                        self.across(child, b, seen);
                    }
                } else {
                    for child in self.bvh.children(b) {
                        self.across(a, child, seen);
                    }
                }
            }
        }
    }

    fn pair(&self, i: u32, j: u32) {
        let (low, high) = box_of(&self.bvh.triangle(i));
        let (other_low, other_high) = box_of(&self.bvh.triangle(j));
        if (0..3).all(|k| low[k] <= other_high[k] && other_low[k] <= high[k]) {
            let number = |i: u32| self.bvh.order[i as usize] as usize;
            (self.visit)(number(i), number(j));
        }
    }
}

pub(super) fn box_of([a, b, c]: &[Vector3<f64>; 3]) -> (Vector3<f64>, Vector3<f64>) {
    (a.inf(b).inf(c), a.sup(b).sup(c))
}

/// The planes of all triangles in the order of the tree, of few digits: a triangle is no nearer than its
/// plane, which is told sooner than its own distance.
#[derive(Debug, Clone)]
struct Planes {
    middle: Vector3<f64>,
    /// Half of the box around all, in mm.
    half: f64,
    /// Unit normals by coordinate, and distances from the middle; some more than there are triangles,
    /// so that a whole leaf can be asked at any place.
    normal: [Vec<f32>; 3],
    offset: Vec<f32>,
}

/// A point as planes see it: from the middle, and by how much distances may be wrong, in mm.
struct SeenFrom {
    at: [f32; 3],
    error: f32,
}

impl Planes {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the error of this is known"
    )]
    fn new(
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
    fn seen_from(&self, p: &Vector3<f64>) -> SeenFrom {
        let at = p - self.middle;
        SeenFrom {
            at: [at.x as f32, at.y as f32, at.z as f32],
            error: (16.0 * f64::from(f32::EPSILON) * (self.half + at.norm())) as f32,
        }
    }

    /// A lower bound in mm of the distances from the planes of the triangles `first` and behind.
    #[inline]
    fn off(&self, p: &SeenFrom, first: u32) -> [f64; LEAF] {
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

/// Square distance, weights of the corners and part of the point of a triangle nearest to `p`.
///
/// Source: C. Ericson, Real-Time Collision Detection, 2005, section 5.1.5.
#[inline]
fn nearest_on_triangle(p: &Vector3<f64>, [a, b, c]: &[Vector3<f64>; 3]) -> (f64, [f64; 3], Part) {
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
fn ray_triangle(
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
