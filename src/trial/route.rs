//! Where the tip is on its way to the target, from geometry alone.

use nalgebra::Vector3;

use crate::vessel::{Tree, TubePoint};

/// The branches that lead from an inlet to the target, with the stations at which they are left.
#[derive(Debug, Clone)]
pub struct Route {
    target: usize,
    /// For each branch of the tree that lies on the way: station in mm at which it is left; the
    /// target itself is never left.
    leave: Vec<Option<f64>>,
}

/// A point's place in the tree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Branch whose tube holds the point best (the least distance to its wall).
    pub branch: usize,
    /// Station on that branch in mm.
    pub station_mm: f64,
    /// The point lies in the target and outside every other tube.
    pub in_target_alone: bool,
    /// Station on the target in mm if the point lies in it.
    pub target_station_mm: Option<f64>,
}

impl Route {
    /// The way to branch `target`.
    #[must_use]
    pub fn to(tree: &Tree, target: usize) -> Self {
        let mut leave = vec![None; tree.branches().len()];
        leave[target] = Some(f64::INFINITY);
        let mut at = target;
        while let Some((parent, station)) = tree.branches()[at].parent {
            leave[parent] = Some(station);
            at = parent;
        }
        Self { target, leave }
    }

    /// Where `p` lies; `near` is memory to work in.
    #[must_use]
    pub fn place(
        &self,
        tree: &Tree,
        p: &Vector3<f64>,
        near: &mut Vec<(usize, TubePoint)>,
    ) -> Place {
        tree.tubes_near(p, near);
        if near.is_empty() {
            near.extend((0..tree.branches().len()).map(|b| (b, tree.tube(b, p))));
        }
        let best = near
            .iter()
            .min_by(|a, b| a.1.distance_mm.total_cmp(&b.1.distance_mm))
            .copied();
        let (branch, point) = best.unwrap_or((self.target, tree.tube(self.target, p)));
        let in_target = near
            .iter()
            .find(|(b, t)| *b == self.target && t.distance_mm < 0.0);
        let elsewhere = near
            .iter()
            .any(|(b, t)| *b != self.target && t.distance_mm < 0.0);
        Place {
            branch,
            station_mm: point.station_mm,
            in_target_alone: in_target.is_some() && !elsewhere,
            target_station_mm: in_target.map(|(_, t)| t.station_mm),
        }
    }

    /// The place that a point has if it is taken to lie at a station of a branch.
    #[must_use]
    pub fn taken_to_be(&self, branch: usize, station_mm: f64) -> Place {
        let in_target = branch == self.target;
        Place {
            branch,
            station_mm,
            in_target_alone: in_target,
            target_station_mm: in_target.then_some(station_mm),
        }
    }

    /// How far a place lies before the branching that is to be taken next, in mm; negative past
    /// it, in the target, and in branches off the route.
    #[must_use]
    pub fn before_branching(&self, tree: &Tree, place: &Place) -> f64 {
        if let Some(station) = place.target_station_mm {
            return -station;
        }
        match self.leave[place.branch] {
            Some(leave) => leave - place.station_mm,
            None => -self.astray(tree, place),
        }
    }

    /// The branch of the route that has to be entered next from a place: from the route itself
    /// the one that comes behind, from a branch off it the one that was missed, in the target the
    /// target.
    #[must_use]
    pub fn next_branch(&self, tree: &Tree, place: &Place) -> usize {
        let parent = |b: usize| tree.branches()[b].parent.map(|(parent, _)| parent);
        let mut at = place.branch;
        while self.leave[at].is_none() {
            match parent(at) {
                Some(up) => at = up,
                None => return self.target,
            }
        }
        let mut next = self.target;
        while let Some(up) = parent(next) {
            if up == at {
                return next;
            }
            next = up;
        }
        self.target
    }

    /// Where something that was to go past the target's branching, and lies at `point`, left the way
    /// there: branch and station in mm. `None` where it lies in the vessel that goes on past the
    /// branching, or in what leaves that.
    #[must_use]
    pub fn left_at(&self, tree: &Tree, point: &Vector3<f64>) -> Option<(usize, f64)> {
        let (trunk, branching_mm) = tree.branches()[self.target].parent?;
        let (mut branch, seen) = tree.nearest_tube(point, &mut Vec::new());
        let mut station_mm = seen.station_mm;
        while branch == self.target || self.leave[branch].is_none() {
            (branch, station_mm) = tree.branches()[branch].parent?;
        }
        (branch != trunk || station_mm <= branching_mm).then_some((branch, station_mm))
    }

    /// How far a place is past the last right branching, in mm: along the vessel that goes on, or
    /// beyond the ostium of a branch off the route; 0 or less on the way and in the target.
    #[must_use]
    pub fn astray(&self, tree: &Tree, place: &Place) -> f64 {
        if place.target_station_mm.is_some() {
            return 0.0;
        }
        match self.leave[place.branch] {
            Some(leave) => place.station_mm - leave,
            None => place.station_mm - tree.branches()[place.branch].ostium_mm,
        }
    }

    /// How far a place lies beyond the target's ostium, in mm, if it lies in the target alone.
    #[must_use]
    pub fn beyond_ostium(&self, tree: &Tree, place: &Place) -> Option<f64> {
        let station = place.target_station_mm.filter(|_| place.in_target_alone)?;
        Some(station - tree.branches()[self.target].ostium_mm)
    }
}
