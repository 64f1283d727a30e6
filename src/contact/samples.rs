//! What is seen of the wall from the contact points where cells are looked at.

use std::ops::RangeInclusive;

use nalgebra::Vector3;

use super::points::{ClearanceBound, LOOK_AHEAD_MM};
use super::wall::Contact;
use crate::vessel::WallPoint;

/// The wall near a contact point.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sample {
    /// The wall from there.
    pub wall: WallPoint,
    /// Where the point was, in mm.
    at: Vector3<f64>,
    /// Depth of the surface in the wall in mm; negative where it is clear of it.
    pub depth: f64,
}

/// What was seen of the wall from each point, where it was looked for; most are clear of it.
#[derive(Debug, Clone, Default)]
pub(super) struct Samples {
    /// For each point the number of what was seen.
    of: Vec<Option<u32>>,
    seen: Vec<Sample>,
}

impl Samples {
    pub(super) fn len(&self) -> usize {
        self.of.len()
    }

    pub(super) fn clear(&mut self) {
        self.of.clear();
        self.seen.clear();
    }

    pub(super) fn get(&self, point: usize) -> Option<&Sample> {
        self.of[point].map(|number| &self.seen[number as usize])
    }

    pub(super) fn push(&mut self, sample: Option<Sample>) {
        self.of.push(None);
        self.set(self.of.len() - 1, sample);
    }

    pub(super) fn set(&mut self, point: usize, sample: Option<Sample>) {
        self.of[point] = sample.and_then(|sample| {
            self.seen.push(sample);
            u32::try_from(self.seen.len() - 1).ok()
        });
    }

    /// Has other points in the place of some: those that they were before, or new ones.
    pub(super) fn replace(&mut self, points: RangeInclusive<usize>, by: &[Option<usize>]) {
        let new: Vec<_> = by.iter().map(|old| self.of[(*old)?]).collect();
        self.of.splice(points, new);
    }

    /// Largest depth in mm at a point and two on each side of it.
    pub(super) fn deepest_near(&self, point: usize) -> f64 {
        let near = point.saturating_sub(2)..self.of.len().min(point + 3);
        let depths = near.filter_map(|k| self.get(k)).map(|s| s.depth);
        depths.fold(f64::NEG_INFINITY, f64::max)
    }

    /// The points in touch, with the wall there.
    pub(super) fn touching(&self) -> impl Iterator<Item = (usize, WallPoint)> + '_ {
        (0..self.of.len()).filter_map(|point| {
            let sample = self.get(point).filter(|s| s.depth > 0.0);
            sample.map(|s| (point, s.wall))
        })
    }
}

impl<const S: usize> Contact<'_, S> {
    /// Looks at the wall from one point at `q`; `None` where it and all that it stands for is clear
    /// of the wall, unless the point is to be looked from `anyway`.
    pub(super) fn sample(&mut self, index: usize, q: &[f64], anyway: bool) -> Option<Sample> {
        /// How far it is looked for the wall from a point beside one that is near to it, in mm.
        const ANYWAY_MM: f64 = 2.0;
        let point = &self.points[index];
        let at = Self::position(point, q);
        let clear = point.wall.clear;
        if !anyway
            && clear.is_some_and(|clear| clear.covers(&at, point.reach_mm(), self.wall_gone_mm))
        {
            return None;
        }
        let radius = self.surface_of(point.layer).radius;
        let ahead = if anyway { ANYWAY_MM } else { LOOK_AHEAD_MM };
        let wall = self.lumen.near_wall(&at, self.time_s, radius + ahead);
        let gap = wall.map_or(ahead, |w| -(w.distance_mm + radius));
        self.points[index].wall.clear =
            (gap > 0.0).then(|| ClearanceBound::of_wall(at, gap, self.wall_gone_mm));
        wall.map(|wall| Sample {
            wall,
            at,
            depth: -gap,
        })
    }

    /// What was seen last from a point that is still clear of the wall and has hardly moved since, as
    /// it is at `q`.
    pub(super) fn moved_on(&self, index: usize, q: &[f64], last: &Sample) -> Option<Sample> {
        /// Way in mm over which a distance of the curvature of a lumen of 1 mm changes by less than
        /// a thousandth of a millimetre beside its slope.
        const HARDLY_MM: f64 = 0.03;
        let at = Self::position(&self.points[index], q);
        let way = at - last.at;
        let depth = last.depth + last.wall.gradient.dot(&way);
        let holds = last.depth < 0.0 && depth < 0.0 && way.norm_squared() < HARDLY_MM * HARDLY_MM;
        holds.then_some(Sample { depth, ..*last })
    }

    /// What was seen last at `q` from a point in touch, and which it is; the points in touch are
    /// numbered.
    pub(super) fn in_touch(&self, number: usize, q: &[f64]) -> Option<(usize, Sample)> {
        let &(index, wall) = self.seen.touching.get(number)?;
        let point = &self.points[index];
        let depth = wall.distance_mm + self.surface_of(point.layer).radius;
        let at = Self::position(point, q);
        Some((index, Sample { wall, at, depth }))
    }

    /// Takes note of what was seen from all points at `q`.
    pub(super) fn see(&mut self, q: &[f64], samples: &Samples) {
        self.seen.q.clear();
        self.seen.q.extend_from_slice(q);
        self.seen.touching.clear();
        self.seen.touching.extend(samples.touching());
    }
}

#[inline]
pub(super) fn edge_vector<const S: usize>(q: &[f64], edge: usize) -> Vector3<f64> {
    let node = |i: usize| Vector3::new(q[S * i], q[S * i + 1], q[S * i + 2]);
    node(edge + 1) - node(edge)
}

#[inline]
pub(super) fn edge_direction<const S: usize>(q: &[f64], edge: usize) -> Vector3<f64> {
    edge_vector::<S>(q, edge).normalize()
}
