//! The vessel that goes straight on from a place, over the forks behind it.

use nalgebra::Vector3;

use super::centreline::Centreline;
use super::tree::Tree;
use crate::shown::listed;

/// The way straight on from a station of a branch: to the branch's end, on into the branch that
/// turns least there, and so on to a tip. A tree from a file is cut into branches at its forks, so
/// that one vessel is several branches.
#[derive(Debug, Clone)]
pub struct Onward<'t> {
    tree: &'t Tree,
    /// Branch, station at which it is entered, and length of the way before it, in mm.
    stretches: Vec<(usize, f64, f64)>,
    length_mm: f64,
}

impl<'t> Onward<'t> {
    /// The way from `station_mm` of `branch`, never into branch `avoided`.
    #[must_use]
    pub fn new(tree: &'t Tree, branch: usize, station_mm: f64, avoided: usize) -> Self {
        let mut stretches = Vec::new();
        let mut length_mm = 0.0;
        let mut next = Some((branch, station_mm));
        while let Some((at, from_mm)) = next {
            stretches.push((at, from_mm, length_mm));
            length_mm += tree.branches()[at].centreline.length_mm() - from_mm;
            next = straightest(tree, at, avoided).map(|child| (child, 0.0));
        }
        Self {
            tree,
            stretches,
            length_mm,
        }
    }

    /// Its whole length in mm.
    #[must_use]
    pub fn length_mm(&self) -> f64 {
        self.length_mm
    }

    /// Point in mm after `way_mm`; beyond the end that at the end.
    #[must_use]
    pub fn position(&self, way_mm: f64) -> Vector3<f64> {
        let (line, station_mm) = self.at(way_mm);
        line.position(station_mm)
    }

    /// Radius of the lumen in mm after `way_mm`.
    #[must_use]
    pub fn radius(&self, way_mm: f64) -> f64 {
        let (line, station_mm) = self.at(way_mm);
        line.radius(station_mm)
    }

    /// The line on which the place after `way_mm` lies, and its station there in mm.
    fn at(&self, way_mm: f64) -> (&Centreline, f64) {
        let behind = self.stretches.partition_point(|s| s.2 <= way_mm);
        let (branch, from_mm, before_mm) = self.stretches[behind.saturating_sub(1)];
        let line = &self.tree.branches()[branch].centreline;
        (line, from_mm + way_mm - before_mm)
    }

    /// The names of its branches in order, as messages list them.
    #[must_use]
    pub fn names(&self) -> String {
        let names = self.stretches.iter();
        let names: Vec<&str> = names
            .filter(|(branch, from_mm, _)| {
                *from_mm < self.tree.branches()[*branch].centreline.length_mm()
            })
            .map(|(branch, ..)| self.tree.branches()[*branch].name.as_str())
            .collect();
        listed(&names)
    }
}

/// The branch that turns least among those that leave within one lumen radius of a branch's end.
fn straightest(tree: &Tree, branch: usize, avoided: usize) -> Option<usize> {
    let line = &tree.branches()[branch].centreline;
    let length_mm = line.length_mm();
    let at_end = |(parent, station): (usize, f64)| {
        parent == branch && station >= length_mm - line.radius(length_mm)
    };
    let turn = |child: usize| tree.branches()[child].take_off_rad;
    (0..tree.branches().len())
        .filter(|child| *child != avoided && tree.branches()[*child].parent.is_some_and(at_end))
        .min_by(|a, b| turn(*a).total_cmp(&turn(*b)))
}
