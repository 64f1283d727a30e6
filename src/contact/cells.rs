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

use std::ops::Range;

use super::neighbours::{FLAT_MM, NEAR_MM, SHARE, neighbours};
use super::points::ContactPoint;
use super::samples::{Samples, edge_direction};
use super::wall::Contact;

/// Length in mm below which no cell is halved.
const SMALLEST_MM: f64 = 1.0 / 128.0;
/// Slope from which a flank is steep: contact on a flatter one reaches over several points.
const STEEP: f64 = 0.1;
/// How far beside the place where contact begins a flank still counts, in mm of depth: the wire moves
/// while an equilibrium is looked for.
const BESIDE_MM: f64 = 0.01;

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

impl<const S: usize> Contact<'_, S> {
    /// Chooses the cells for a search that begins at the unknowns `q`.
    pub fn choose_points(&mut self, q: &[f64]) {
        let joined = self.join_cells();
        let refined = self.refine(q, Stage::Before);
        if joined.is_some() || refined {
            self.forget_active();
        }
        if let Some((edges, before)) = joined {
            self.carry_over(edges, &before);
        }
    }

    /// Looks between the points in the equilibrium at the unknowns `q`, and halves cells where the
    /// wall rises there; the search has to go on then.
    pub fn uncover(&mut self, q: &[f64]) -> Between {
        if self.refine(q, Stage::After) {
            self.forget_active();
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
            let Some((pair, next)) = neighbours::<S>(q, points, samples, i) else {
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
