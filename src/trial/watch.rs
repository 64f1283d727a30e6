//! Watches a wire on its way: turns its state into what an operator sees.

use std::collections::VecDeque;

use nalgebra::Vector3;

use super::route::{Place, Route};
use super::screen::{Screen, Shown};
use crate::hands::{AnchorView, CatheterView, View};
use crate::scenario::model::TargetSpec;
use crate::solve::Rig;
use crate::vessel::{Tree, TubePoint};

/// Fed length in mm over which a tip that does not move counts as stopped.
const STOPPED_OVER_MM: f64 = 5.0;
/// Share of the fed length below which the tip's movement counts as none.
const STOPPED_SHARE: f64 = 0.1;
/// Lead in mm by which a loop of wire must lead the tip to count.
const LOOP_LEAD_MM: f64 = 4.0;
/// Looks in a row in which the tip must lie in the target.
const LOOKS_TO_COUNT: u32 = 3;
/// Length in mm that stays outside the guide when all is drawn back.
pub(super) const LEAST_OUTSIDE_MM: f64 = 3.0;

/// Watches one trial.
pub(super) struct Watch<'a> {
    tree: &'a Tree,
    route: &'a Route,
    /// What shows the wire, where that is not its place in space.
    screen: Option<Screen<'a>>,
    target: &'a TargetSpec,
    /// Branch that is to hold the tip for a while.
    anchor: Option<usize>,
    /// Tip positions while feeding, with the length outside, over the last stretch.
    feeding: VecDeque<(f64, Vector3<f64>)>,
    /// Tip positions of the catheter while it is fed, likewise.
    feeding_catheter: VecDeque<(f64, Vector3<f64>)>,
    looks_in_target: u32,
    near: Vec<(usize, TubePoint)>,
}

/// What is seen, and what is so.
pub(super) struct Look {
    /// What the plan sees.
    pub view: View,
    /// Where the tip lies.
    pub place: Place,
    /// The target is reached.
    pub reached: bool,
    /// A loop of wire leads the tip.
    pub looped: bool,
    /// The tip lies past a branching in a vessel that does not lead to the target.
    pub off_route: bool,
}

impl<'a> Watch<'a> {
    /// Watches in full, or on a screen.
    pub(super) fn new(
        tree: &'a Tree,
        route: &'a Route,
        target: &'a TargetSpec,
        screen: Option<Screen<'a>>,
        anchor: Option<usize>,
    ) -> Self {
        Self {
            tree,
            route,
            screen,
            target,
            anchor,
            feeding: VecDeque::new(),
            feeding_catheter: VecDeque::new(),
            looks_in_target: 0,
            near: Vec::new(),
        }
    }

    /// Forgets the movement of the tip so far, as after withdrawing or turning.
    pub(super) fn forget(&mut self) {
        self.feeding.clear();
        self.feeding_catheter.clear();
    }

    /// Looks.
    pub(super) fn look(&mut self, wire: &dyn Rig<'_>) -> Look {
        let tip = wire.tip();
        let place = self.route.place(self.tree, &tip, &mut self.near);
        let astray_mm = self.route.astray(self.tree, &place);
        let beyond = self.route.beyond_ostium(self.tree, &place);
        if beyond.is_some_and(|b| b >= self.target.beyond_ostium_mm) {
            self.looks_in_target += 1;
        } else {
            self.looks_in_target = 0;
        }
        let outside = wire.outside_mm();
        let looped = self.looped(wire, &place);
        let shown = match &mut self.screen {
            Some(screen) => screen.look(wire, self.target.astray_mm, LOOP_LEAD_MM),
            None => Shown {
                before_branching_mm: self.route.before_branching(self.tree, &place),
                next_branch: self.route.next_branch(self.tree, &place),
                towards: None,
                astray_mm,
                looped,
                tip,
            },
        };
        let view = View {
            before_branching_mm: shown.before_branching_mm,
            next_branch: shown.next_branch,
            towards: shown.towards,
            astray: shown.astray_mm >= self.target.astray_mm,
            stopped: stopped(&mut self.feeding, outside, shown.tip),
            looped: shown.looped,
            all_fed: outside >= self.target.max_fed_mm,
            all_drawn_back: outside <= LEAST_OUTSIDE_MM + 0.5,
            catheter: self.catheter(wire),
            anchor: self.anchor(wire, &place),
        };
        Look {
            view,
            place,
            reached: self.looks_in_target >= LOOKS_TO_COUNT,
            looped,
            off_route: astray_mm > 0.0,
        }
    }

    /// What is seen of the catheter.
    fn catheter(&mut self, wire: &dyn Rig<'_>) -> Option<CatheterView> {
        let catheter = wire.catheter()?;
        let place = self.route.place(self.tree, &catheter.tip, &mut self.near);
        let branch = self.route.next_branch(self.tree, &place);
        Some(CatheterView {
            before_branching_mm: self.route.before_branching(self.tree, &place),
            bare_mm: wire.outside_mm() - catheter.outside_mm,
            towards: self.points_to(&catheter.direction, branch),
            angle_rad: catheter.angle_rad,
            all_drawn_back: catheter.outside_mm <= LEAST_OUTSIDE_MM,
            stopped: stopped(
                &mut self.feeding_catheter,
                catheter.outside_mm,
                catheter.tip,
            ),
        })
    }

    /// How much a direction is seen to point to the side on which a branch leaves.
    fn points_to(&self, direction: &Vector3<f64>, branch: usize) -> Option<f64> {
        match &self.screen {
            Some(screen) => screen.points_to(direction, branch),
            None => side(self.tree, branch).map(|side| side.dot(direction)),
        }
    }

    /// What is seen of the branch that is to hold the tip.
    fn anchor(&mut self, wire: &dyn Rig<'_>, tip: &Place) -> Option<AnchorView> {
        let anchor = self.anchor?;
        let catheter = wire.catheter()?;
        let (parent, station_mm) = self.tree.branches()[anchor].parent?;
        let ostium_mm = self.tree.progress_mm(parent, station_mm);
        let port = self.route.place(self.tree, &catheter.tip, &mut self.near);
        let inside = tip.branch == anchor;
        Some(AnchorView {
            catheter_before_mm: ostium_mm - self.tree.progress_mm(port.branch, port.station_mm),
            towards: self.points_to(&catheter.direction, anchor),
            tip_depth_mm: if inside { tip.station_mm } else { 0.0 },
        })
    }

    /// Whether a part of the wire behind the tip has come further along the vessels than the tip.
    fn looped(&mut self, wire: &dyn Rig<'_>, tip: &Place) -> bool {
        let own = self.tree.progress_mm(tip.branch, tip.station_mm);
        wire.shape().iter().any(|x| {
            let place = self.route.place(self.tree, x, &mut self.near);
            self.tree.progress_mm(place.branch, place.station_mm) > own + LOOP_LEAD_MM
        })
    }
}

/// Whether a tip at `tip`, of a device of which `outside` mm are outside the guide, has stayed
/// where it was over the last stretch of feeding.
fn stopped(feeding: &mut VecDeque<(f64, Vector3<f64>)>, outside: f64, tip: Vector3<f64>) -> bool {
    feeding.push_back((outside, tip));
    while feeding
        .get(1)
        .is_some_and(|(fed, _)| outside - fed >= STOPPED_OVER_MM)
    {
        feeding.pop_front();
    }
    feeding.front().is_some_and(|(fed, then)| {
        outside - fed >= STOPPED_OVER_MM && (tip - then).norm() < STOPPED_SHARE * (outside - fed)
    })
}

/// Unit vector across its parent to which a branch leaves; `None` where it leaves straight on.
fn side(tree: &Tree, branch: usize) -> Option<Vector3<f64>> {
    let branch = &tree.branches()[branch];
    let (parent, station) = branch.parent?;
    let along = tree.branches()[parent].centreline.tangent(station);
    let out = branch.centreline.tangent(0.0);
    (out - along * out.dot(&along)).try_normalize(1e-6)
}
