//! Contact is looked for along the whole edge: how finely each stretch of it is looked at.
//!
//! The wall's energy of an edge is the integral of `k δ²/2` along it, taken by the midpoint rule over
//! cells. A cell is halved, down to [`SMALLEST_MM`], where the wall between two points may rise above
//! what both see, or where contact begins within it on a steep flank:
//!
//! - *Roof.* From two neighbouring points with distances `d1`, `d2` to the wall and slopes `g1`, `g2`
//!   along the wire, a length `h` apart, the tangents meet at `x = (d2 - d1 - g2 h)/(g1 - g2)` if
//!   `g1 > g2`: a ridge such as a carina. The distance to one tube is convex along a line and lies above
//!   its tangent, by `c x²/2` with its second derivative `c`, which is added. What the roof rises above
//!   both points is what they may not see. Before a search a ridge may lie anywhere between them, and
//!   counts with the `(g1 - g2) h/4` by which it rises in the middle.
//! - *Flank.* The midpoint rule errs by up to `k g w²/2` in the force of a cell of half-length `w` in
//!   which a depth of slope `g` begins; the contact of depth `D` that ends there has the force
//!   `k D²/(2 g)`, which errs by the square of `g w / D`.
//!
//! Cells are chosen at the beginning of a search, from the shape with which it begins, and stay while it
//! runs: the potential must not change under it. The state that is found is looked at in the same way,
//! and where the wall rises between the points by more than [`UNSEEN_MM`], cells are halved and the
//! search goes on. The corner of the wire at a node is no ridge of the wall: tangents count along the
//! mean direction of the two edges there. What the corner itself adds to the depth is reported.

use std::ops::{Range, RangeInclusive};

use nalgebra::{Matrix3, Vector3};

use super::points::ContactPoint;
use super::wall::{Contact, Sample};
use crate::vessel::LumenPoint;

/// Length in mm below which no cell is halved.
const SMALLEST_MM: f64 = 1.0 / 128.0;
/// Rise of the wall between two points, or over half a cell on a flank, up to which cells are not
/// halved, in mm: less than a tenth of the deflection under a tip that presses with 1 mN.
const FLAT_MM: f64 = 0.0015;
/// The same as a share of the depth there. The force errs by about its square.
const SHARE: f64 = 0.1;
/// Slope from which a flank is steep: contact on a flatter one reaches over several points.
const STEEP: f64 = 0.1;
/// How far beside the place where contact begins a flank still counts, in mm of depth: the wire moves
/// while an equilibrium is looked for.
const BESIDE_MM: f64 = 0.01;
/// How far from the wall a roof is still cared for when cells are chosen, in mm: what a search moves
/// the wire from the shape with which it begins.
const NEAR_MM: f64 = 0.03;
/// Rise of the wall between the points of an equilibrium above what they see, in mm, that is not
/// accepted. Between the smallest cells a slope of 1 rises by less than half of it.
const UNSEEN_MM: f64 = 0.01;

/// Largest curvature of a wall across the wire that is reckoned with, in 1/mm.
const SHARPEST: f64 = 4.0;

/// What lies between the contact points of an equilibrium.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Between {
    /// Nothing that they do not see.
    Seen,
    /// The wall rises above what they saw: there are more points now.
    Halved,
    /// The same, and there can be no more points.
    Unseen,
}

/// Why cells are looked at.
#[derive(Clone, Copy, PartialEq)]
enum Stage {
    /// A search is to begin.
    Before,
    /// An equilibrium was found.
    After,
}

/// Two neighbouring points and the way between them.
struct Pair {
    /// Slopes of the distance along the mean direction of the wire between them.
    slope: [f64; 2],
    /// The same along each point's own edge.
    own: [f64; 2],
    /// Length from each to the corner between them, in mm: all of it is the first's on one edge.
    way: [f64; 2],
    /// Depth of each in mm.
    depth: [f64; 2],
    /// Second derivatives of the distance, in 1/mm, and that mean direction.
    bent: [Matrix3<f64>; 2],
    mean: Vector3<f64>,
    /// Whether the wire is as thick at the one as at the other.
    is_even: bool,
}

/// What was seen of the wall from each point, where it was looked for; most are clear of it.
#[derive(Debug, Clone, Default)]
pub(super) struct Samples {
    /// For each point the number of what was seen.
    of: Vec<Option<u32>>,
    seen: Vec<Sample>,
}

impl Samples {
    fn len(&self) -> usize {
        self.of.len()
    }

    fn clear(&mut self) {
        self.of.clear();
        self.seen.clear();
    }

    fn get(&self, point: usize) -> Option<&Sample> {
        self.of[point].map(|number| &self.seen[number as usize])
    }

    fn push(&mut self, sample: Option<Sample>) {
        self.of.push(None);
        self.set(self.of.len() - 1, sample);
    }

    fn set(&mut self, point: usize, sample: Option<Sample>) {
        self.of[point] = sample.and_then(|sample| {
            self.seen.push(sample);
            u32::try_from(self.seen.len() - 1).ok()
        });
    }

    /// Has other points in the place of some: those that they were before, or new ones.
    fn replace(&mut self, points: RangeInclusive<usize>, by: &[Option<usize>]) {
        let new: Vec<_> = by.iter().map(|old| self.of[(*old)?]).collect();
        self.of.splice(points, new);
    }

    /// Largest depth in mm at a point and two on each side of it.
    fn deepest_near(&self, point: usize) -> f64 {
        let near = point.saturating_sub(2)..self.of.len().min(point + 3);
        let depths = near.filter_map(|k| self.get(k)).map(|s| s.depth);
        depths.fold(f64::NEG_INFINITY, f64::max)
    }

    /// The points in touch, with the wall there.
    pub(super) fn touching(&self) -> impl Iterator<Item = (usize, LumenPoint)> + '_ {
        (0..self.of.len()).filter_map(|point| {
            let sample = self.get(point).filter(|s| s.depth > 0.0);
            sample.map(|s| (point, s.wall))
        })
    }
}

impl Pair {
    /// Largest second derivative of the distance along the wire, in 1/mm; 0 or more.
    fn curved(&self) -> f64 {
        let along = self.bent.map(|h| self.mean.dot(&(h * self.mean)));
        along[0].max(along[1]).clamp(0.0, SHARPEST)
    }

    fn length(&self) -> f64 {
        self.way[0] + self.way[1]
    }

    fn higher(&self) -> f64 {
        self.depth[0].max(self.depth[1])
    }

    /// Depth of the roof over the two.
    fn roof(&self) -> Option<f64> {
        let [g1, g2] = self.slope;
        let h = self.length();
        let [d1, d2] = self.depth;
        let is_ridge = g1 - g2 > 1e-9 && g1 > 0.0 && g2 < 0.0;
        if !self.is_even || !is_ridge {
            return None;
        }
        let x = ((d2 - d1 - g2 * h) / (g1 - g2)).clamp(0.0, h);
        let flank = 0.5 * self.curved() * x.max(h - x).powi(2);
        Some(d1 + g1 * x + flank)
    }

    /// Whether a ridge between the two rises so much over half a cell, wherever it lies, that their
    /// cells are to be halved before a search.
    fn is_high(&self) -> bool {
        let rise = 0.25 * (self.slope[0] - self.slope[1]) * self.length();
        self.roof()
            .is_some_and(|roof| roof > -NEAR_MM && rise > FLAT_MM.max(SHARE * roof))
    }

    /// Whether the wall rises between the two above what they see by more than is accepted.
    fn is_unseen(&self) -> bool {
        let seen = self.higher().max(0.0);
        self.roof().is_some_and(|roof| roof - seen > UNSEEN_MM)
    }

    /// Depth at the corner between the two by either tangent, or of the roof.
    fn deepest(&self) -> f64 {
        if self.way[1] <= 0.0 {
            return self.roof().unwrap_or(f64::NEG_INFINITY);
        }
        let curved = self.curved();
        let at_corner = (0..2).map(|k| {
            let along = if k == 0 { self.own[0] } else { -self.own[1] };
            let way = self.way[k];
            self.depth[k] + along * way + 0.5 * curved * way * way
        });
        let corner = at_corner.fold(f64::NEG_INFINITY, f64::max);
        corner.max(self.roof().unwrap_or(f64::NEG_INFINITY))
    }
}

impl<const S: usize> Contact<'_, S> {
    /// Chooses the cells for a search that begins at the unknowns `q`.
    pub fn choose_points(&mut self, q: &[f64]) {
        let joined = self.join_cells();
        let refined = self.refine(q, Stage::Before);
        if joined.is_some() || refined {
            self.forget_grips();
        }
        if let Some((edges, before)) = joined {
            self.carry_over(edges, &before);
        }
    }

    /// Looks between the points in the equilibrium at the unknowns `q`, and halves cells where the
    /// wall rises there; the search has to go on then.
    pub fn uncover(&mut self, q: &[f64]) -> Between {
        if self.refine(q, Stage::After) {
            self.forget_grips();
            Between::Halved
        } else if self.is_unseen {
            Between::Unseen
        } else {
            Between::Seen
        }
    }

    /// Halves cells until no more ask for it; returns whether any was.
    fn refine(&mut self, q: &[f64], stage: Stage) -> bool {
        let mut samples = std::mem::take(&mut self.samples);
        match stage {
            Stage::Before => {
                samples.clear();
                for index in 0..self.points.len() {
                    samples.push(self.sample(index, q, false));
                }
            }
            Stage::After => self.sample_again(q, &mut samples),
        }
        let mut refined = false;
        loop {
            self.look_at_neighbours(q, &mut samples);
            let halved = self.wanted(q, stage, &samples);
            if halved.is_empty() {
                break;
            }
            refined = true;
            self.halve(q, &halved, &mut samples);
        }
        if stage == Stage::Before || refined {
            self.see(q, &samples);
        } else {
            samples.clear();
        }
        self.samples = samples;
        refined
    }

    /// Looks from all points in an equilibrium, but for those from which the wall is known there.
    fn sample_again(&mut self, q: &[f64], samples: &mut Samples) {
        let last = (samples.len() == self.points.len()).then(|| std::mem::take(samples));
        samples.clear();
        self.look(q);
        let mut next = 0;
        for index in 0..self.points.len() {
            if let Some(touch) = self.in_touch(next, q).filter(|(i, _)| *i == index) {
                next += 1;
                samples.push(Some(touch.1));
                continue;
            }
            let last = last.as_ref().and_then(|last| last.get(index));
            let moved = last.and_then(|last| self.moved_on(index, q, last));
            let now = moved.or_else(|| self.sample(index, q, false));
            samples.push(now);
        }
    }

    /// Looks at points that are clear of the wall where a neighbour may be one flank of a ridge.
    fn look_at_neighbours(&mut self, q: &[f64], samples: &mut Samples) {
        for i in 1..samples.len() {
            for (seen, other) in [(i - 1, i), (i, i - 1)] {
                let (Some(sample), None) = (samples.get(seen), samples.get(other)) else {
                    continue;
                };
                let apart = self.points[seen].reach_mm() + self.points[other].reach_mm();
                let edge = self.points[seen].edge;
                let slope = sample.wall.gradient.dot(&edge_direction::<S>(q, edge));
                if sample.depth + slope.abs() * apart > -2.0 * NEAR_MM {
                    let now = self.sample(other, q, true);
                    samples.set(other, now);
                }
            }
        }
    }

    /// The points whose cells are to be halved, ascending. Takes note of the deepest place between
    /// two points, and whether the wall rises unseen between two that cannot be halved.
    fn wanted(&mut self, q: &[f64], stage: Stage, samples: &Samples) -> Vec<usize> {
        let mut wanted = Vec::new();
        let points = &self.points;
        let mut ask = |index: usize| {
            let can = !points[index].is_tip() && points[index].weight > 1.9 * SMALLEST_MM;
            if can && wanted.last() != Some(&index) {
                wanted.push(index);
            }
            can
        };
        self.between_mm = f64::NEG_INFINITY;
        self.is_unseen = false;
        for (i, point) in points.iter().enumerate() {
            let Some(sample) = samples.get(i) else {
                continue;
            };
            if stage == Stage::Before {
                let slope = edge_direction::<S>(q, point.edge).dot(&sample.wall.gradient);
                let rise = slope.abs() * point.reach_mm();
                let begins_here = sample.depth.abs() < rise + BESIDE_MM;
                if slope.abs() > STEEP
                    && begins_here
                    && rise > FLAT_MM.max(SHARE * samples.deepest_near(i))
                {
                    ask(i);
                }
            }
            let Some((pair, next)) = pair::<S>(q, points, samples, i) else {
                continue;
            };
            if stage == Stage::After {
                self.between_mm = self.between_mm.max(pair.deepest());
            }
            let is_high = match stage {
                Stage::Before => pair.is_high(),
                Stage::After => pair.is_unseen(),
            };
            if is_high {
                let [first, second] = [point, next].map(ContactPoint::reach_mm);
                let mut any = first >= 0.75 * second && ask(i);
                any |= second >= 0.75 * first && ask(i + 1);
                self.is_unseen |= !any;
            }
        }
        wanted
    }

    /// Halves the cells of those points and looks from the new ones.
    fn halve(&mut self, q: &[f64], which: &[usize], samples: &mut Samples) {
        let (Some(&first), Some(&last)) = (which.first(), which.last()) else {
            return;
        };
        let mut which = which.iter().copied().peekable();
        let mut halves = Vec::new();
        let mut of = Vec::new();
        for index in first..=last {
            let point = &self.points[index];
            if which.next_if_eq(&index).is_some() {
                halves.extend(point.halves());
                of.extend([None, None]);
            } else {
                halves.push(*point);
                of.push(Some(index));
            }
        }
        self.points.splice(first..=last, halves);
        let new: Vec<_> = of
            .iter()
            .enumerate()
            .filter(|(_, of)| of.is_none())
            .collect();
        samples.replace(first..=last, &of);
        for (k, _) in new {
            let sample = self.sample(first + k, q, true);
            samples.set(first + k, sample);
        }
    }

    /// Puts halved cells together again, from the first edge that has any to the last. Returns those
    /// two edges, and their points before.
    fn join_cells(&mut self) -> Option<([usize; 2], Vec<ContactPoint>)> {
        let is_halved = |p: &ContactPoint| p.cell.level > 0;
        let first = self.points.iter().find(|p| is_halved(p))?.edge;
        let last = self.points.iter().rfind(|p| is_halved(p))?.edge;
        let range = self.of_edges([first, last]);
        let mut joined: Vec<ContactPoint> = Vec::new();
        for point in &self.points[range.clone()] {
            let whole = whole(point);
            // Parts of the same cell have the same whole, but for rounding.
            let is_there = joined.last().is_some_and(|last| {
                let apart = whole.fraction - last.fraction;
                point.cell.level > 0 && last.edge == whole.edge && apart < whole.cell.half
            });
            if !is_there {
                joined.push(whole);
            }
        }
        let before = self.points.splice(range, joined).collect();
        Some(([first, last], before))
    }

    /// Lets every point from the first edge of two to the last remember the friction of the nearest
    /// point of its edge among those `before`.
    fn carry_over(&mut self, edges: [usize; 2], before: &[ContactPoint]) {
        let range = self.of_edges(edges);
        let mut at = 0;
        for point in &mut self.points[range] {
            let apart = |other: &ContactPoint| (other.fraction - point.fraction).abs();
            while before[at].edge < point.edge {
                at += 1;
            }
            while before.get(at + 1).is_some_and(|next| {
                next.edge == point.edge && !point.is_tip() && apart(next) <= apart(&before[at])
            }) {
                at += 1;
            }
            point.remember(&before[at]);
        }
    }

    /// Where the points from one edge to another stand.
    fn of_edges(&self, [first, last]: [usize; 2]) -> Range<usize> {
        let from = self.points.partition_point(|p| p.edge < first);
        from..self.points.partition_point(|p| p.edge <= last)
    }
}

/// Point number `first` and the next as a pair, with the next, where both have been looked from and
/// lie near enough to the wall for a ridge between them.
fn pair<'p, const S: usize>(
    q: &[f64],
    points: &'p [ContactPoint],
    samples: &Samples,
    first: usize,
) -> Option<(Pair, &'p ContactPoint)> {
    let (p, next) = (&points[first], points.get(first + 1)?);
    let (a, b) = (samples.get(first)?, samples.get(first + 1)?);
    // The wall rises by no more than it is far along the wire, but for where a lumen narrows.
    let apart = 2.0 * (p.reach_mm() + next.reach_mm());
    if 0.5 * (a.depth + b.depth + apart) < -NEAR_MM {
        return None;
    }
    let edges = [p.edge, next.edge].map(|edge| edge_vector::<S>(q, edge));
    let same = p.edge == next.edge;
    let rises = a.wall.gradient.dot(&edges[0]) > 0.0;
    let falls = b.wall.gradient.dot(&edges[1]) < 0.0;
    if same && !(rises && falls) {
        return None;
    }
    let lengths = [edges[0].norm(), edges[1].norm()];
    let directions = [edges[0] / lengths[0], edges[1] / lengths[1]];
    let mean = if same {
        directions[0]
    } else {
        (directions[0] + directions[1]).normalize()
    };
    let along = |s: &Sample, t: &Vector3<f64>| s.wall.gradient.dot(t);
    let pair = Pair {
        slope: [along(a, &mean), along(b, &mean)],
        own: [along(a, &directions[0]), along(b, &directions[1])],
        way: if same {
            [(next.fraction - p.fraction) * lengths[0], 0.0]
        } else {
            [(1.0 - p.fraction) * lengths[0], next.fraction * lengths[1]]
        },
        depth: [a.depth, b.depth],
        bent: [a.wall.hessian, b.wall.hessian],
        mean,
        is_even: p.layer == next.layer,
    };
    Some((pair, next))
}

/// The cell of base length that holds a point's.
fn whole(point: &ContactPoint) -> ContactPoint {
    if point.cell.level == 0 {
        return *point;
    }
    let factor = f64::from(1u32 << point.cell.level);
    let half = factor * point.cell.half;
    let number = (point.fraction / (2.0 * half)).floor();
    let mut whole = *point;
    whole.fraction = (2.0 * number + 1.0) * half;
    whole.weight *= factor;
    whole.cell.half = half;
    whole.cell.level = 0;
    whole
}

fn edge_vector<const S: usize>(q: &[f64], edge: usize) -> Vector3<f64> {
    let node = |i: usize| Vector3::new(q[S * i], q[S * i + 1], q[S * i + 2]);
    node(edge + 1) - node(edge)
}

fn edge_direction<const S: usize>(q: &[f64], edge: usize) -> Vector3<f64> {
    edge_vector::<S>(q, edge).normalize()
}
