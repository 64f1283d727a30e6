//! Where the tip is on its way to the target, from geometry alone.

use nalgebra::Vector3;

use crate::vessel::{NEAR_MM, Tree, TubePoint};

/// The branches that lead from an inlet to the target, with the stations at which they are left.
#[derive(Debug, Clone)]
pub struct Route {
    target: usize,
    /// For each branch of the tree that lies on the way: station in mm at which it is left; the
    /// target itself is never left.
    leave: Vec<Option<f64>>,
    /// The target and the branches that it leads to.
    within: Vec<bool>,
}

/// A point's place in the tree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TreePosition {
    /// Branch whose tube holds the point best (the least distance to its wall).
    pub branch: usize,
    /// Station on that branch in mm.
    pub station_mm: f64,
    /// The point lies in the target, or in a branch that it leads to, and outside every other tube.
    pub in_target_alone: bool,
    /// Way from the target's start in mm if the point lies in it or in a branch that it leads to.
    pub target_station_mm: Option<f64>,
}

/// How far along the vessels a point has come; see [`Route::way_made`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WayMade {
    /// Branch in which it has made the least way.
    pub branch: usize,
    /// Station there in mm.
    pub station_mm: f64,
    /// Way that it has made for certain, in mm from the inlet.
    pub least_mm: f64,
    /// Most that it can have made, in mm from the inlet.
    pub most_mm: f64,
}

impl Route {
    /// The way to branch `target`.
    #[must_use]
    pub fn to(tree: &Tree, target: usize) -> Self {
        let branches = tree.branches();
        let mut within = vec![false; branches.len()];
        for (index, branch) in branches.iter().enumerate() {
            within[index] = index == target || branch.parent.is_some_and(|(up, _)| within[up]);
        }
        let mut leave = vec![None; branches.len()];
        leave[target] = Some(f64::INFINITY);
        let mut at = target;
        while let Some((parent, station)) = branches[at].parent {
            leave[parent] = Some(station);
            at = parent;
        }
        Self {
            target,
            leave,
            within,
        }
    }

    /// Where `p` lies; `near` is memory to work in.
    #[must_use]
    pub fn place(
        &self,
        tree: &Tree,
        p: &Vector3<f64>,
        near: &mut Vec<(usize, TubePoint)>,
    ) -> TreePosition {
        tree.tubes_near(p, near);
        if near.is_empty() {
            near.extend((0..tree.branches().len()).map(|b| (b, tree.tube(b, p))));
        }
        let best = near
            .iter()
            .min_by(|a, b| a.1.distance_mm.total_cmp(&b.1.distance_mm))
            .copied();
        let (branch, point) = best.unwrap_or((self.target, tree.tube(self.target, p)));
        let inside = || near.iter().filter(|(_, t)| t.distance_mm < 0.0);
        // In the target itself if anywhere within it.
        let within = inside().filter(|(b, _)| self.within[*b]);
        let in_target = within.min_by_key(|(b, _)| *b != self.target).copied();
        let elsewhere = inside().any(|(b, _)| !self.within[*b]);
        // A tip that presses on the wall may lie a little outside every tube.
        let is_near = self.within[branch] && point.distance_mm < NEAR_MM;
        let at_wall = is_near.then_some((branch, point));
        TreePosition {
            branch,
            station_mm: point.station_mm,
            in_target_alone: in_target.is_some() && !elsewhere,
            target_station_mm: in_target
                .or(at_wall)
                .map(|(b, t)| self.way_in_target(tree, b, t.station_mm)),
        }
    }

    /// Way in mm from the target's start to a station of a branch that it leads to.
    fn way_in_target(&self, tree: &Tree, branch: usize, station_mm: f64) -> f64 {
        tree.progress_mm(branch, station_mm) - tree.progress_mm(self.target, 0.0)
    }

    /// Way in mm from the inlet that a point has made for certain, and the most that it can have
    /// made. Within the mouth of a branch, which ends at `mouth_mm` of it, a point has made its way
    /// in the parent and perhaps in the branch. The branch and station of the former come with
    /// them. `near` is memory to work in.
    #[must_use]
    pub fn way_made(
        &self,
        tree: &Tree,
        p: &Vector3<f64>,
        near: &mut Vec<(usize, TubePoint)>,
        mut mouth_mm: impl FnMut(usize) -> f64,
    ) -> WayMade {
        let place = self.place(tree, p, near);
        let way_mm = tree.progress_mm(place.branch, place.station_mm);
        let mut made = WayMade {
            branch: place.branch,
            station_mm: place.station_mm,
            least_mm: way_mm,
            most_mm: way_mm,
        };
        let inside = near.iter().filter(|(_, t)| t.distance_mm < 0.0);
        let best = (place.branch, place.station_mm);
        for (mut branch, mut station_mm) in
            std::iter::once(best).chain(inside.map(|(b, t)| (*b, t.station_mm)))
        {
            // From the branch to its parent, as long as the point lies in a mouth.
            loop {
                let way_mm = tree.progress_mm(branch, station_mm);
                made.most_mm = made.most_mm.max(way_mm);
                if way_mm < made.least_mm {
                    made.least_mm = way_mm;
                    (made.branch, made.station_mm) = (branch, station_mm);
                }
                match tree.branches()[branch].parent {
                    Some((parent, _)) if station_mm < mouth_mm(branch) => {
                        station_mm = tree.tube(parent, p).station_mm;
                        branch = parent;
                    }
                    _ => break,
                }
            }
        }
        made
    }

    /// The place that a point has if it is taken to lie at a station of a branch.
    #[must_use]
    pub fn taken_to_be(&self, tree: &Tree, branch: usize, station_mm: f64) -> TreePosition {
        let in_target = self.within[branch];
        let depth_mm = self.way_in_target(tree, branch, station_mm);
        TreePosition {
            branch,
            station_mm,
            in_target_alone: in_target,
            target_station_mm: in_target.then_some(depth_mm),
        }
    }

    /// How far a place lies before the branching that is to be taken next, in mm; negative past
    /// it, in the target, and in branches off the route.
    #[must_use]
    pub fn before_branching(&self, tree: &Tree, place: &TreePosition) -> f64 {
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
    pub fn next_branch(&self, tree: &Tree, place: &TreePosition) -> usize {
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
    pub fn astray(&self, tree: &Tree, place: &TreePosition) -> f64 {
        if place.target_station_mm.is_some() {
            return 0.0;
        }
        match self.leave[place.branch] {
            Some(leave) => place.station_mm - leave,
            None => place.station_mm - tree.branches()[place.branch].ostium_mm,
        }
    }

    /// Whether a branch leads to the target, or is it or behind it.
    #[must_use]
    pub fn on_the_way(&self, branch: usize) -> bool {
        self.leave[branch].is_some() || self.within[branch]
    }

    /// Way in mm from the target's start to a place, if it lies in the target, or in a branch that
    /// it leads to, and outside every other vessel.
    #[must_use]
    pub fn depth_mm(&self, place: &TreePosition) -> Option<f64> {
        place.target_station_mm.filter(|_| place.in_target_alone)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::load;

    /// A side branch that runs back at 160 degrees from 40 mm of a straight vessel of 3 mm.
    fn backward() -> Tree {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
        let scenario = load(&folder.join("backward-branch.toml")).expect("shipped");
        Tree::build(&scenario.scenario.vessel).expect("shipped")
    }

    fn made(tree: &Tree, p: Vector3<f64>) -> WayMade {
        let mouth_mm = |branch| tree.whole_mouth_mm(tree, branch);
        Route::to(tree, 1).way_made(tree, &p, &mut Vec::new(), mouth_mm)
    }

    #[test]
    fn a_point_in_a_mouth_has_come_as_far_as_its_place_in_the_parent_for_certain() {
        let tree = backward();
        let side = &tree.branches()[1].centreline;
        // On the branch's axis, outside the parent's tube but before the end of the whole mouth.
        let at = 6.0;
        let in_mouth = made(&tree, side.position(at));
        assert!((in_mouth.most_mm - 46.0).abs() < 1e-9);
        let ahead = 40.0 + at * 160.0_f64.to_radians().cos();
        assert!((in_mouth.least_mm - ahead).abs() < 1e-6, "{in_mouth:?}");
        assert_eq!(in_mouth.branch, 0);
        let deep = made(&tree, side.position(20.0));
        assert!((deep.least_mm - 60.0).abs() < 1e-9 && (deep.most_mm - 60.0).abs() < 1e-9);
        let on = made(&tree, tree.branches()[0].centreline.position(70.0));
        assert!((on.least_mm - 70.0).abs() < 1e-9 && (on.most_mm - 70.0).abs() < 1e-9);
    }

    #[test]
    fn a_tip_at_the_wall_of_the_target_is_in_it_and_not_alone_in_it() {
        let tree = backward();
        let line = &tree.branches()[1].centreline;
        let outside = line.position(20.0) + line.normal(20.0) * 1.02;
        let place = Route::to(&tree, 1).place(&tree, &outside, &mut Vec::new());
        assert!(!place.in_target_alone);
        assert!((place.target_station_mm.expect("near it") - 20.0).abs() < 1e-6);
    }
}
