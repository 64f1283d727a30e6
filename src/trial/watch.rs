//! Watches a wire on its way: turns its state into what an operator sees.

use std::f64::consts::FRAC_PI_2;

use nalgebra::Vector3;

use super::mouths::Mouths;
use super::moving::Image;
use super::reaching::{Hold, Holding, Reaching, ToGo};
use super::route::{Route, TreePosition};
use super::screen::{Screen, Shown};
use super::standstill::{Standstill, as_commanded};
use crate::hands::{AnchorView, CatheterView, View};
use crate::scenario::model::{BendSpec, TargetSpec};
use crate::solve::Assembly;
use crate::vessel::{Lumen, Tree, TubePoint};

/// Lead in mm by which a loop of wire must lead the tip to be seen by the hands, who then give the
/// attempt up. How a trial has ended is decided by the scenario's own length.
const LOOP_LEAD_MM: f64 = 4.0;
/// Length in mm that stays outside the guide when all is drawn back.
pub(super) const LEAST_OUTSIDE_MM: f64 = 3.0;

/// Watches one trial.
pub(super) struct Watch<'a> {
    tree: &'a Tree,
    lumen: &'a dyn Lumen,
    /// Where mouths end in this scenario, and the factor on all diameters in this tree.
    mouths: (&'a Mouths, f64),
    route: &'a Route,
    /// What shows the wire, where that is not its place in space.
    screen: Option<Screen<'a>>,
    /// What is seen of a vessel that moves.
    image: Image,
    target: &'a TargetSpec,
    /// Branch that is to hold the tip for a while.
    anchor: Option<usize>,
    standstill: Standstill,
    /// Length outside the guide in mm from which on the tip has stayed where it was, as seen last.
    stopped_from_mm: Option<f64>,
    catheter_standstill: Standstill,
    hold: Hold,
    /// Lead in mm that the bend of the wire's own tip gives to its bow.
    own_lead_mm: f64,
    /// Where the whole mouth of each branch ends, in mm, once a wire has come there.
    mouths_mm: Vec<Option<f64>>,
    near: Vec<(usize, TubePoint)>,
}

/// Observed and true state.
pub(super) struct Look {
    /// What the plan sees.
    pub view: View,
    /// Where the tip lies.
    pub place: TreePosition,
    /// How deep in the target, and how the hold goes.
    pub holding: Holding,
    /// What is left to do in the target.
    pub to_go: Option<ToGo>,
    /// The point of the wire that leads.
    pub lead: Lead,
    /// It leads the tip by more than the scenario's length, and than the tip's own bend does.
    pub is_led: bool,
    /// How far past a branching the tip lies in a vessel that does not lead to the target, in mm;
    /// 0 or less where it does not.
    pub astray_mm: f64,
    /// Wire outside the guide in mm from which on the tip has not moved, if it has stopped.
    pub stopped_from_mm: Option<f64>,
}

impl Look {
    /// The tip lies past a branching in a vessel that does not lead to the target.
    pub fn off_route(&self) -> bool {
        self.astray_mm > 0.0
    }
}

/// The point of a wire that has come furthest along the vessels, as far as that is certain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lead {
    /// By how much it leads the tip, in mm of way from the inlet; 0 or less where the tip leads.
    pub mm: f64,
    /// Branch in which it lies.
    pub branch: usize,
    /// Station there in mm.
    pub station_mm: f64,
}

impl<'a> Watch<'a> {
    /// Watches in full, or on a screen.
    pub(super) fn new(
        (tree, lumen): (&'a Tree, &'a dyn Lumen),
        mouths: (&'a Mouths, f64),
        route: &'a Route,
        target: &'a TargetSpec,
        reaching: Reaching,
        (screen, image): (Option<Screen<'a>>, Image),
        anchor: Option<usize>,
    ) -> Self {
        Self {
            tree,
            lumen,
            mouths,
            route,
            screen,
            image,
            target,
            anchor,
            standstill: Standstill::default(),
            stopped_from_mm: None,
            catheter_standstill: Standstill::default(),
            hold: Hold::new(reaching),
            own_lead_mm: 0.0,
            mouths_mm: vec![None; tree.branches().len()],
            near: Vec::new(),
        }
    }

    /// What counts as reached.
    pub(super) fn reaching(&self) -> &Reaching {
        self.hold.reaching()
    }

    /// Takes note of the bend at the tip of the wire that is used.
    pub(super) fn know_bend(&mut self, bend: Option<&BendSpec>) {
        self.own_lead_mm = bend.map_or(0.0, own_lead_mm);
    }

    /// Forgets the movement of the tip so far, as after a turn.
    pub(super) fn turned(&mut self) {
        self.standstill.forget();
        self.stopped_from_mm = None;
        self.catheter_standstill.forget();
    }

    /// Forgets also how the tip has held, as after wire was withdrawn.
    pub(super) fn withdrawn(&mut self) {
        self.turned();
        self.hold.forget();
    }

    /// Looks.
    pub(super) fn look(&mut self, wire: &Assembly<'_>) -> Look {
        let tip = self.lumen.at_rest(&wire.tip());
        let place = self.route.place(self.tree, &tip, &mut self.near);
        let astray_mm = self.route.astray(self.tree, &place);
        let outside = as_commanded(wire.outside_mm());
        let depth_mm = self.route.depth_mm(&place);
        let holding = self.hold.look(outside, depth_mm);
        let lead = self.lead(wire, &tip);
        let shown = match &mut self.screen {
            Some(screen) => screen.look(wire, self.target.astray_mm, LOOP_LEAD_MM),
            None => Shown {
                before_branching_mm: self.route.before_branching(self.tree, &place),
                next_branch: self.route.next_branch(self.tree, &place),
                towards: None,
                astray_mm,
                looped: lead.mm > LOOP_LEAD_MM,
                tip: Some(tip),
            },
        };
        if let Some(tip) = shown.tip {
            self.stopped_from_mm = self.standstill.look(outside, tip);
        }
        let stopped_from_mm = self.stopped_from_mm;
        let view = View {
            before_branching_mm: shown.before_branching_mm,
            next_branch: shown.next_branch,
            towards: shown.towards,
            astray: shown.astray_mm >= self.target.astray_mm,
            stopped: stopped_from_mm.is_some(),
            looped: shown.looped,
            all_fed: outside >= self.target.max_fed_mm,
            all_drawn_back: outside <= LEAST_OUTSIDE_MM + 0.5,
            catheter: self.catheter(wire),
            balloon: None,
            anchor: self.anchor(wire, &place),
            rest_in_s: self.image.rest_in_s(wire.time_s()),
        };
        Look {
            view,
            place,
            holding,
            to_go: depth_mm.map(|depth_mm| self.reaching().left(depth_mm, holding)),
            lead,
            is_led: lead.mm > self.target.prolapse_lead_mm + self.own_lead_mm,
            astray_mm,
            stopped_from_mm,
        }
    }

    /// What is seen of the catheter.
    fn catheter(&mut self, wire: &Assembly<'_>) -> Option<CatheterView> {
        let catheter = wire.catheter()?;
        let tip = self.lumen.at_rest(&catheter.tip);
        let place = self.route.place(self.tree, &tip, &mut self.near);
        let branch = self.route.next_branch(self.tree, &place);
        let outside_mm = as_commanded(catheter.outside_mm);
        Some(CatheterView {
            before_branching_mm: self.route.before_branching(self.tree, &place),
            bare_mm: as_commanded(wire.outside_mm() - outside_mm),
            towards: self.points_to(&catheter.direction, branch),
            angle_rad: catheter.angle_rad,
            all_drawn_back: outside_mm <= LEAST_OUTSIDE_MM,
            stopped: self.catheter_standstill.look(outside_mm, tip).is_some(),
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
    fn anchor(&mut self, wire: &Assembly<'_>, tip: &TreePosition) -> Option<AnchorView> {
        let anchor = self.anchor?;
        let catheter = wire.catheter()?;
        let (parent, station_mm) = self.tree.branches()[anchor].parent?;
        let ostium_mm = self.tree.progress_mm(parent, station_mm);
        let port = self.lumen.at_rest(&catheter.tip);
        let port = self.route.place(self.tree, &port, &mut self.near);
        let inside = tip.branch == anchor;
        Some(AnchorView {
            catheter_before_mm: ostium_mm - self.tree.progress_mm(port.branch, port.station_mm),
            towards: self.points_to(&catheter.direction, anchor),
            tip_depth_mm: if inside { tip.station_mm } else { 0.0 },
        })
    }

    /// The point of the wire that leads: of all points the one that has come furthest for certain,
    /// against the furthest that the tip can have come.
    fn lead(&mut self, wire: &Assembly<'_>, tip: &Vector3<f64>) -> Lead {
        let (tree, lumen, mouths_mm) = (self.tree, self.lumen, &mut self.mouths_mm);
        let (mouths, factor) = self.mouths;
        // Mouths are those of the vessel at rest, as all places are.
        let still = if lumen.giving().is_some() {
            tree as &dyn Lumen
        } else {
            lumen
        };
        let mut mouth_mm = |branch: usize| {
            *mouths_mm[branch].get_or_insert_with(|| mouths.whole_mm((tree, still), factor, branch))
        };
        let own = self
            .route
            .way_made(tree, tip, &mut self.near, &mut mouth_mm);
        let mut lead = Lead {
            mm: 0.0,
            branch: own.branch,
            station_mm: own.station_mm,
        };
        for x in wire.shape() {
            let x = lumen.at_rest(&x);
            let made = self.route.way_made(tree, &x, &mut self.near, &mut mouth_mm);
            let mm = made.least_mm - own.most_mm;
            if mm > lead.mm {
                lead = Lead {
                    mm,
                    branch: made.branch,
                    station_mm: made.station_mm,
                };
            }
        }
        lead
    }
}

/// Lead in mm that the bow of a bent tip has over the tip itself, lying free: a bend of radius R
/// and angle a beyond 90 degrees reaches R ahead, and its end R sin a and back along its straight
/// end.
fn own_lead_mm(bend: &BendSpec) -> f64 {
    let angle = bend.angle_rad.abs();
    if angle <= FRAC_PI_2 {
        return 0.0;
    }
    let end = -bend.from_tip_mm * angle.cos();
    (bend.length_mm / angle * (1.0 - angle.sin()) + end).max(0.0)
}

/// Unit vector across its parent to which a branch leaves; `None` where it leaves straight on.
fn side(tree: &Tree, branch: usize) -> Option<Vector3<f64>> {
    let branch = &tree.branches()[branch];
    let (parent, station) = branch.parent?;
    let along = tree.branches()[parent].centreline.tangent(station);
    let out = branch.centreline.tangent(0.0);
    (out - along * out.dot(&along)).try_normalize(1e-6)
}
