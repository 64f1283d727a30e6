//! Which branches pass near a point, with the foot of the point on each.

use nalgebra::Vector3;

use super::{SLACK_MM, Tree};
use crate::vessel::centreline::Curve;
use crate::vessel::foot::Foot;
use crate::vessel::grid::Cell;

impl Tree {
    /// Calls `visit` with the foot of `p` on every branch whose distance exceeds the smallest by
    /// no more than `above_least_mm`, in the order of the branches, and perhaps with others.
    #[inline]
    pub(super) fn for_each_foot(
        &self,
        p: &Vector3<f64>,
        cell: Option<Cell<'_>>,
        above_least_mm: f64,
        mut visit: impl FnMut(usize, &Foot),
    ) {
        let Some(cell) = cell else {
            self.for_each_foot_of_all(p, above_least_mm, visit);
            return;
        };
        if let [only] = cell.candidates {
            visit(
                only.branch,
                &self.curves[only.branch].foot_near(p, cell.station(only)),
            );
            return;
        }
        let (first, first_foot) = self.likely_nearest(p, &cell);
        let from_middle = self.slope * cell.from_middle.norm() + SLACK_MM;
        let mut limit = first_foot.distance(self.factor) + above_least_mm;
        let mut waiting: Option<(usize, Foot)> = None;
        for (i, c) in cell.candidates.iter().enumerate() {
            if c.rho - self.factor * c.radius - from_middle > limit {
                continue;
            }
            let foot = if i == first {
                first_foot
            } else {
                self.curves[c.branch].foot_near(p, cell.station(c))
            };
            limit = limit.min(foot.distance(self.factor) + above_least_mm);
            match &mut waiting {
                Some((branch, other)) if *branch == c.branch => {
                    if foot.rho < other.rho {
                        *other = foot;
                    }
                }
                _ => {
                    if let Some((branch, other)) = waiting.replace((c.branch, foot)) {
                        visit(branch, &other);
                    }
                }
            }
        }
        if let Some((branch, foot)) = waiting {
            visit(branch, &foot);
        }
    }

    /// The same by a look at all branches, for a point that lies in no cell.
    fn for_each_foot_of_all(
        &self,
        p: &Vector3<f64>,
        above_least_mm: f64,
        mut visit: impl FnMut(usize, &Foot),
    ) {
        let beyond_axis = |curve: &Curve| self.factor * curve.widest_mm + SLACK_MM;
        let bound = |curve: &Curve| curve.rho_at_least(p) - beyond_axis(curve);
        // Most branches of a large tree are far away.
        let is_beyond =
            |curve: &Curve, limit: f64| curve.rho_roughly_at_least(p) - beyond_axis(curve) > limit;
        let mut least: Option<(usize, f64)> = None;
        for (branch, curve) in self.curves.iter().enumerate() {
            if least.is_some_and(|(_, least)| is_beyond(curve, least)) {
                continue;
            }
            let bound = bound(curve);
            if least.is_none_or(|(_, least)| bound < least) {
                least = Some((branch, bound));
            }
        }
        let Some((first, _)) = least else {
            return;
        };
        let first_foot = self.curves[first].foot(p);
        let mut limit = first_foot.distance(self.factor) + above_least_mm;
        for (branch, curve) in self.curves.iter().enumerate() {
            if branch == first {
                visit(branch, &first_foot);
            } else if !is_beyond(curve, limit) && bound(curve) <= limit {
                let foot = curve.foot(p);
                limit = limit.min(foot.distance(self.factor) + above_least_mm);
                visit(branch, &foot);
            }
        }
    }

    /// The candidate whose tube is nearest to the middle of the cell, with the foot of `p`.
    #[inline]
    fn likely_nearest(&self, p: &Vector3<f64>, cell: &Cell<'_>) -> (usize, Foot) {
        let mut first = 0;
        let mut least = f64::INFINITY;
        for (i, c) in cell.candidates.iter().enumerate() {
            let distance = c.rho - self.factor * c.radius;
            if distance < least {
                (first, least) = (i, distance);
            }
        }
        let c = &cell.candidates[first];
        (first, self.curves[c.branch].foot_near(p, cell.station(c)))
    }

    /// Whether the cell alone shows that its point lies deeper inside than `margin_mm`.
    #[inline]
    pub(super) fn is_deep(&self, cell: &Cell<'_>, margin_mm: f64) -> bool {
        let from_middle = self.slope * cell.from_middle.norm() + SLACK_MM;
        cell.candidates
            .iter()
            .any(|c| c.rho - self.factor * c.radius + from_middle < -margin_mm)
    }
}
