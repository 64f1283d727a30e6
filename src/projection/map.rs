//! All views of a site, and the best among them.

use nalgebra::Matrix3;

use super::beam::Beam;
use super::camera::{Camera, Distances, ProjectionError};
use super::measure::{Measurer, Measures};
use super::site::Site;
use super::views::{CUSTOMARY, Customary};
use crate::scenario::view::{ReachSpec, ViewAngles};

/// The map covers at least these angles either way in degrees: every line through the isocentre.
const SPAN_DEG: i32 = 90;
/// A second view that is this near to the most nearly square one in rad is as good: 10 degrees,
/// which cost a reconstruction 1.5 % of its precision (1/sin 80).
const AS_SQUARE_RAD: f64 = 0.174_53;
/// Largest foreshortening of either daughter and overlap of the branch with which both daughters
/// count as seen: a fifth, a choice of ours.
pub const BOTH_LIMIT: f64 = 0.2;

/// The C-arm that looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CArm {
    /// Turns scene coordinates into patient coordinates.
    pub to_patient: Matrix3<f64>,
    /// Where the source stands; `None` for a parallel beam.
    pub distances: Option<Distances>,
    /// Views that can be reached.
    pub reach: ReachSpec,
}

impl CArm {
    /// The C-arm in a view of a site.
    #[must_use]
    pub fn at(&self, site: &Site, view: &ViewAngles) -> Camera {
        Camera {
            beam: Beam::in_scene(view, &self.to_patient),
            isocentre: site.isocentre,
            distances: self.distances,
        }
    }

    /// Checks that all of a site lies in front of the source in every view.
    ///
    /// # Errors
    /// [`ProjectionError::SourceInside`].
    pub fn check(&self, site: &Site) -> Result<(), ProjectionError> {
        let distance_mm = site.reach_mm();
        match self.distances {
            Some(d) if d.source_object_mm <= distance_mm => Err(ProjectionError::SourceInside {
                distance_mm,
                source_object_mm: d.source_object_mm,
            }),
            _ => Ok(()),
        }
    }
}

/// A view with its measures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredView {
    /// The view.
    pub view: ViewAngles,
    /// Its measures.
    pub measures: Measures,
    /// Whether the C-arm can reach it.
    pub reachable: bool,
}

/// Measures of every view at whole degrees.
#[derive(Debug, Clone, PartialEq)]
pub struct ViewMap {
    /// Primary angles in degrees, rising.
    pub primary_deg: Vec<i32>,
    /// Secondary angles in degrees, rising.
    pub secondary_deg: Vec<i32>,
    /// The views, a row of all primary angles for each secondary angle.
    pub views: Vec<MeasuredView>,
}

impl ViewMap {
    /// Measures the site in all views `step_deg` apart (at least 1): primary and secondary angle
    /// from -90 to 90 degrees, further where the C-arm reaches further.
    ///
    /// # Errors
    /// [`ProjectionError::SourceInside`] where the source stands in the scene.
    pub fn new(site: &Site, c_arm: &CArm, step_deg: usize) -> Result<Self, ProjectionError> {
        c_arm.check(site)?;
        let reach = c_arm.reach.primary_rad.map(f64::to_degrees);
        #[expect(
            clippy::cast_possible_truncation,
            reason = "angles of a checked scenario lie within half a turn"
        )]
        let (low, high) = (
            (reach[0].floor() as i32).min(-SPAN_DEG),
            (reach[1].ceil() as i32).max(SPAN_DEG),
        );
        let step = step_deg.max(1);
        let primary_deg: Vec<i32> = (low..=high).step_by(step).collect();
        let secondary_deg: Vec<i32> = (-SPAN_DEG..=SPAN_DEG).step_by(step).collect();
        let mut measurer = Measurer::new(site);
        let mut views = Vec::with_capacity(primary_deg.len() * secondary_deg.len());
        for &secondary in &secondary_deg {
            for &primary in &primary_deg {
                let view = ViewAngles::from_degrees(f64::from(primary), f64::from(secondary));
                views.push(measured(&mut measurer, site, c_arm, view));
            }
        }
        Ok(Self {
            primary_deg,
            secondary_deg,
            views,
        })
    }
}

fn measured(
    measurer: &mut Measurer<'_>,
    site: &Site,
    c_arm: &CArm,
    view: ViewAngles,
) -> MeasuredView {
    MeasuredView {
        view,
        measures: measurer.measure(&c_arm.at(site, &view)),
        reachable: c_arm.reach.holds(&view),
    }
}

/// What the map answers.
#[derive(Debug, Clone, PartialEq)]
pub struct ChosenViews {
    /// The best view of all.
    pub best: MeasuredView,
    /// The best view that can be reached: the recommended one.
    pub recommended: MeasuredView,
    /// The customary views, the best first.
    pub customary: Vec<(Customary, MeasuredView)>,
    /// The view in which the operator works now.
    pub current: MeasuredView,
    /// The reachable view most nearly square to the recommended one, and the angle between the
    /// two in rad.
    pub second: (MeasuredView, f64),
    /// The reachable view that shows both daughters best; `None` for a stretch.
    pub both: Option<MeasuredView>,
}

impl ChosenViews {
    /// Whether [`ChosenViews::both`] shows both daughters within [`BOTH_LIMIT`].
    #[must_use]
    pub fn shows_both(&self) -> bool {
        self.both
            .is_some_and(|v| v.measures.worst_of_daughters() <= BOTH_LIMIT)
    }
}

/// Chooses among the views of `map`. Of views that are equally good the first counts, in order
/// of secondary and then primary angle.
///
/// A region without any view at whole degrees leaves the current view as the recommended one.
#[must_use]
pub fn choose(site: &Site, c_arm: &CArm, map: &ViewMap, current: ViewAngles) -> ChosenViews {
    let mut measurer = Measurer::new(site);
    let current = measured(&mut measurer, site, c_arm, current);
    let least = |of: &mut dyn Iterator<Item = MeasuredView>,
                 value: &dyn Fn(&MeasuredView) -> f64| {
        of.min_by(|a, b| value(a).total_cmp(&value(b)))
    };
    let cost = |v: &MeasuredView| v.measures.cost();
    let mut reachable = map.views.iter().copied().filter(|v| v.reachable);
    let recommended = least(&mut reachable, &cost).unwrap_or(current);
    let best = least(&mut map.views.iter().copied(), &cost).unwrap_or(current);
    let mut customary: Vec<(Customary, MeasuredView)> = CUSTOMARY
        .iter()
        .map(|&c| (c, measured(&mut measurer, site, c_arm, c.angles())))
        .collect();
    customary.sort_by(|a, b| cost(&a.1).total_cmp(&cost(&b.1)));
    let beam = |v: &MeasuredView| Beam::in_scene(&v.view, &c_arm.to_patient);
    let first = beam(&recommended);
    let angle = |v: &MeasuredView| first.angle_to(&beam(v));
    let reachable = || map.views.iter().copied().filter(|v| v.reachable);
    let widest = reachable().map(|v| angle(&v)).fold(0.0, f64::max);
    let mut square = reachable().filter(|v| angle(v) >= widest - AS_SQUARE_RAD);
    let second = least(&mut square, &cost).unwrap_or(current);
    let worst = |v: &MeasuredView| v.measures.worst_of_daughters();
    let both = site.mouth.and_then(|_| least(&mut reachable(), &worst));
    ChosenViews {
        best,
        recommended,
        customary,
        current,
        second: (second, angle(&second)),
        both,
    }
}
