//! What one projection shows of a wire: places on the roadmap that is believed, never depth.

use nalgebra::{Vector2, Vector3};

use super::moving::Image;
use super::route::{Route, TreePosition};
use crate::projection::{Roadmap, RoadmapPoint};
use crate::solve::Assembly;
use crate::vessel::Tree;

/// How far beside a vessel's shadow a point of the wire may be seen and still be taken to lie in
/// it, in mm.
const SLACK_MM: f64 = 0.5;
/// The tip is looked for on the roadmap between these shares of the length of wire outside the
/// guide, as path from the guide: a wire cuts corners, and it may lie in waves.
const PATH_SHARES: (f64, f64) = (0.6, 1.1);
/// And this much further either way, in mm.
const PATH_SLACK_MM: f64 = 5.0;
/// Length of wire in mm between two of its points that are looked at.
const EVERY_MM: f64 = 2.0;

/// The roadmap of one view with the way to the target on it.
pub(super) struct Screen<'a> {
    believed: &'a Tree,
    route: &'a Route,
    roadmap: Roadmap,
    /// Side to which each branch is seen to leave.
    sides: Vec<Option<Vector2<f64>>>,
    /// Length of the bend at the tip in mm, if it has one.
    bend_mm: Option<f64>,
    /// Path from the inlet to the guide's end in mm.
    guide_mm: f64,
    /// Where what moves is seen on the roadmap, which is a still of end diastole.
    image: Image,
    /// What was read off last, and the length outside then in mm.
    read: Option<(f64, Shown)>,
    places: Vec<RoadmapPoint>,
    /// The tip has been seen astray, and not clearly on the right way since.
    strayed: bool,
}

/// What is seen.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shown {
    pub before_branching_mm: f64,
    pub next_branch: usize,
    pub towards: Option<f64>,
    pub astray_mm: f64,
    pub looped: bool,
    /// The tip in the image, without depth; `None` where the image moves and is not read.
    pub tip: Option<Vector3<f64>>,
}

impl<'a> Screen<'a> {
    pub(super) fn new(
        believed: &'a Tree,
        route: &'a Route,
        roadmap: Roadmap,
        bend_mm: Option<f64>,
        (guide_mm, image): (f64, Image),
    ) -> Self {
        let sides = (0..believed.branches().len())
            .map(|b| roadmap.side(believed, b))
            .collect();
        Self {
            believed,
            route,
            roadmap,
            sides,
            bend_mm,
            guide_mm,
            image,
            read: None,
            places: Vec::new(),
            strayed: false,
        }
    }

    /// Looks; the tip is astray from `astray_mm` past a branching, and a loop counts when it leads
    /// the tip by `loop_lead_mm`.
    ///
    /// The live image moves with the heart, the roadmap does not. Places are read off while the heart rests,
    /// when the two agree; in between the tip is taken to be as much further as the wire was fed.
    pub(super) fn look(&mut self, wire: &Assembly<'_>, astray_mm: f64, loop_lead_mm: f64) -> Shown {
        let outside = wire.outside_mm();
        let moves = |wait_s: f64| wait_s > 0.0;
        if let (Some((then, read)), true) = (
            &self.read,
            self.image.rest_in_s(wire.time_s()).is_some_and(moves),
        ) {
            return Shown {
                before_branching_mm: read.before_branching_mm - (outside - then),
                towards: self.towards(wire, read.next_branch),
                tip: None,
                ..*read
            };
        }
        let shown = self.read_off(wire, astray_mm, loop_lead_mm);
        self.read = Some((outside, shown));
        shown
    }

    /// Reads the present image.
    fn read_off(&mut self, wire: &Assembly<'_>, astray_mm: f64, loop_lead_mm: f64) -> Shown {
        let tip = self.flat(wire, &wire.tip());
        let outside = wire.outside_mm();
        self.roadmap.places(&tip, SLACK_MM, &mut self.places);
        let (low, high) = (
            self.guide_mm + PATH_SHARES.0 * outside - PATH_SLACK_MM,
            self.guide_mm + PATH_SHARES.1 * outside + PATH_SLACK_MM,
        );
        let path = |s: &RoadmapPoint| self.believed.progress_mm(s.branch, s.station_mm);
        if self.places.iter().any(|s| (low..=high).contains(&path(s))) {
            self.places.retain(|s| (low..=high).contains(&path(s)));
        }
        let seen = self.taken_to_be(astray_mm);
        let place = self.place(&seen);
        let furthest = self.places.iter().map(&path).fold(path(&seen), f64::max);
        let next_branch = self.route.next_branch(self.believed, &place);
        Shown {
            before_branching_mm: self.route.before_branching(self.believed, &place),
            next_branch,
            towards: self.towards(wire, next_branch),
            astray_mm: self.route.astray(self.believed, &place),
            looped: self.looped(wire, furthest + loop_lead_mm, loop_lead_mm),
            tip: Some(Vector3::new(tip.x, tip.y, 0.0)),
        }
    }

    /// Where the operator takes the tip to be. On the right way as long as the image allows it,
    /// and there where it lies best within the shadow. Once it is seen astray by `astray_mm`, in
    /// the place that has gone furthest astray, until every place that the image leaves lies
    /// before a branching by a lumen radius or more: a wire that is drawn back out of a wrong
    /// vessel does not jump into the right one.
    fn taken_to_be(&mut self, astray_mm: f64) -> RoadmapPoint {
        let astray = |s: &RoadmapPoint| self.route.astray(self.believed, &self.place(s));
        let by_astray = |a: &&RoadmapPoint, b: &&RoadmapPoint| astray(a).total_cmp(&astray(b));
        let depth = |s: &RoadmapPoint| s.outside_mm / s.radius_mm;
        let (least, most) = (
            self.places.iter().min_by(by_astray),
            self.places.iter().max_by(by_astray),
        );
        let clear = self.places.iter().all(|s| astray(s) <= -s.radius_mm);
        let strayed = (self.strayed && !clear) || least.is_some_and(|s| astray(s) >= astray_mm);
        let on_way = self.places.iter().filter(|s| astray(s) <= 0.0);
        let hopeful = on_way.min_by(|a, b| depth(a).total_cmp(&depth(b)));
        let seen = if strayed { most } else { hopeful.or(least) };
        let seen = seen.copied().unwrap_or(RoadmapPoint {
            branch: 0,
            station_mm: 0.0,
            outside_mm: 0.0,
            radius_mm: 1.0,
        });
        self.strayed = strayed;
        seen
    }

    /// Where a point at `p` (mm) is seen on the roadmap now.
    fn flat(&self, wire: &Assembly<'_>, p: &Vector3<f64>) -> Vector2<f64> {
        self.roadmap.flat(&self.image.seen(p, wire.time_s()))
    }

    fn place(&self, seen: &RoadmapPoint) -> TreePosition {
        self.route
            .taken_to_be(self.believed, seen.branch, seen.station_mm)
    }

    /// How much a direction is seen to point to the side on which `branch` leaves, -1 to 1.
    pub(super) fn points_to(&self, direction: &Vector3<f64>, branch: usize) -> Option<f64> {
        let side = self.sides[branch]?;
        Some(side.dot(&self.roadmap.flat(direction)))
    }

    /// The part of the chord of the tip's bend, as seen, that points to the side of `branch`.
    fn towards(&self, wire: &Assembly<'_>, branch: usize) -> Option<f64> {
        let (side, bend_mm) = (self.sides[branch]?, self.bend_mm?);
        let behind = wire.behind_tip(bend_mm);
        let chord = self.roadmap.flat(&(wire.tip() - behind));
        Some(side.dot(&chord) / bend_mm)
    }

    /// Whether a part of the wire is seen further along the roadmap than the tip, wherever on it
    /// that part may lie.
    fn looped(&mut self, wire: &Assembly<'_>, limit_mm: f64, lead_mm: f64) -> bool {
        let mut behind = lead_mm;
        while behind < wire.outside_mm() {
            let at = self.flat(wire, &wire.behind_tip(behind));
            self.roadmap.places(&at, SLACK_MM, &mut self.places);
            let path = |s: &RoadmapPoint| self.believed.progress_mm(s.branch, s.station_mm);
            if self.places.iter().all(|s| path(s) > limit_mm) {
                return true;
            }
            behind += EVERY_MM;
        }
        false
    }
}
