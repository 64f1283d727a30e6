//! What the page is told once: the vessel, the view, and what the hands have.

use serde::Serialize;

use super::moment::point;
use super::session::Session;
use crate::hands::{Controls, FEED_MM, INFLATED_S, Made};
use crate::projection::{Beam, CArm, Distances, Site, Subject, ViewMap, choose};
use crate::report::film::Stage;
use crate::scenario::model::TechniqueSpec;
use crate::scenario::view::{SightSpec, ViewAngles, ViewSpec};
use crate::shown::fixed;
use crate::trial::{DrawnTrial, Prepared, Reaching, balloon};
use crate::vessel::{Balloon, Centreline, Tree, obstacle};

/// Speed of a hand that turns, in degrees per second, and the turn of one movement: common practice, no
/// source.
const TURN_DEG_PER_S: f64 = 90.0;
const TURN_DEG: f64 = 5.0;
/// Wait of one movement in s.
const WAIT_S: f64 = 0.1;

/// The scene of a session.
#[derive(Debug, Clone, Serialize)]
pub(super) struct SceneShown {
    name: String,
    description: String,
    origin: String,
    made: Made,
    /// How often the person went back to an earlier moment.
    went_back: usize,
    target: String,
    /// When it counts as reached, in a sentence.
    reached_at: String,
    /// The vessel as it is.
    vessel: Vec<BranchShown>,
    /// The vessel as it is believed to be, where that is another: the roadmap.
    believed: Option<Vec<BranchShown>>,
    /// What stands in the lumen.
    bodies: Vec<BodyShown>,
    view: ViewShown,
    /// The view in which parent and target lie flat.
    square: ViewShown,
    guide: [f64; 3],
    /// What the page shows at least: places from the guide's end to the target's end, with radii.
    frame: Vec<[f64; 4]>,
    max_fed_mm: f64,
    wall_limit_mn: Option<f64>,
    hands: HandsShown,
}

#[derive(Debug, Clone, Serialize)]
struct BranchShown {
    name: String,
    /// x, y, z and radius in mm.
    line: Vec<[f64; 4]>,
    is_target: bool,
}

/// A balloon, or an obstacle of the scenario.
#[derive(Debug, Clone, Serialize)]
struct BodyShown {
    is_balloon: bool,
    /// x, y, z and radius in mm.
    line: Vec<[f64; 4]>,
}

/// The projection in which the operator works.
#[derive(Debug, Clone, Serialize)]
struct ViewShown {
    label: String,
    right: [f64; 3],
    up: [f64; 3],
    along: [f64; 3],
}

/// From where a scene is seen.
#[derive(Debug, Clone)]
pub(super) struct ViewsShown {
    operator: ViewShown,
    square: ViewShown,
}

#[derive(Debug, Clone, Serialize)]
struct HandsShown {
    feed_mm: f64,
    feed_mm_per_s: f64,
    turn_deg: f64,
    turn_deg_per_s: f64,
    wait_s: f64,
    /// Time of one movement of the balloon in s.
    inflated_s: f64,
    controls: Controls,
    other_wire: Option<String>,
    /// Diameter in mm to which the balloon is inflated at most.
    balloon_mm: Option<f64>,
    /// How the hands begin, in words.
    devices: String,
}

fn branches(tree: &Tree, target: usize) -> Vec<BranchShown> {
    let shown = |(index, branch): (usize, &crate::vessel::Branch)| {
        let line = &branch.centreline;
        BranchShown {
            name: branch.name.clone(),
            line: line.drawn_stations().map(|s| place(line, s)).collect(),
            is_target: index == target,
        }
    };
    tree.branches().iter().enumerate().map(shown).collect()
}

fn reached_at(reaching: &Reaching) -> String {
    format!(
        "It counts from {} mm beyond its whole mouth on, where {} mm fed further bring the tip at least {} mm deeper.",
        fixed(reaching.beyond_mm, 1),
        fixed(reaching.hold_mm, 1),
        fixed(reaching.share * reaching.hold_mm, 1)
    )
}

/// Length in mm of a vessel that is shown beyond where the way to the target leaves it.
const BEYOND_MM: f64 = 25.0;

/// Places along the way from the guide's end to the target's end, and a little of what goes straight on.
fn frame(prepared: &Prepared, tree: &Tree) -> Vec<[f64; 4]> {
    let guide = &prepared.scenario().guide;
    let mut places = Vec::new();
    let mut leaves_mm = f64::INFINITY;
    for index in prepared.on_the_way() {
        let branch = &tree.branches()[index];
        let is_first = branch.name == guide.branch;
        let from_mm = if is_first { guide.station_mm } else { 0.0 };
        let shown = |station_mm: &f64| (from_mm..=leaves_mm + BEYOND_MM).contains(station_mm);
        let line = &branch.centreline;
        places.extend(line.drawn_stations().filter(shown).map(|s| place(line, s)));
        if is_first {
            break;
        }
        leaves_mm = branch.parent.map_or(0.0, |(_, station_mm)| station_mm);
    }
    places
}

/// A place on an axis with the lumen's radius there, in mm to a thousandth.
fn place(line: &Centreline, station_mm: f64) -> [f64; 4] {
    let [x, y, z] = point(&line.position(station_mm));
    [x, y, z, (line.radius(station_mm) * 1e3).round() / 1e3]
}

/// What stands in the lumen of a trial's tree: obstacles, and the technique's balloon.
fn bodies(prepared: &Prepared, drawn: &DrawnTrial<'_>) -> Vec<BodyShown> {
    let tree = drawn.tree();
    let shown = |is_balloon: bool, body: &Balloon| BodyShown {
        is_balloon,
        line: body
            .outline()
            .map(|(p, radius_mm)| {
                let [x, y, z] = point(&p);
                [x, y, z, (radius_mm * 1e3).round() / 1e3]
            })
            .collect(),
    };
    let obstacles = prepared.scenario().obstacles.iter();
    let obstacles = obstacles.filter_map(|spec| Some(shown(false, &obstacle(tree, spec)?)));
    let balloon = balloon(tree, prepared.target_branch(), drawn.technique());
    obstacles
        .chain(balloon.map(|balloon| shown(true, &balloon)))
        .collect()
}

/// The view that is recommended for the branching of the target, of those a few degrees apart.
fn recommended(prepared: &Prepared, view: &ViewSpec) -> Option<ViewAngles> {
    const STEP_DEG: usize = 3;
    let c_arm = CArm {
        to_patient: view.frame.to_patient,
        distances: Some(Distances {
            source_object_mm: view.source_object_mm,
            source_detector_mm: view.source_detector_mm,
        }),
        reach: view.reach,
    };
    let branch = prepared.tree().branches()[prepared.target_branch()]
        .name
        .clone();
    let subject = Subject::Branching { branch };
    let site = Site::new(prepared.tree(), &subject, view.near_mm).ok()?;
    let map = ViewMap::new(&site, &c_arm, STEP_DEG).ok()?;
    Some(choose(&site, &c_arm, &map, view.current).recommended.view)
}

/// The view in which parent and target lie flat: the way on to the right, the target up.
fn square(prepared: &Prepared) -> ViewShown {
    let axes = Stage::new(prepared).axes;
    let row = |k: usize| point(&axes.row(k).transpose());
    ViewShown {
        label: "the branching flat in the picture, the target upwards".to_owned(),
        right: row(0),
        up: row(1),
        along: row(2),
    }
}

/// The projection of the technique's sight, else the one recommended for the branching, else the one in which that
/// lies flat.
fn view(prepared: &Prepared, technique: &TechniqueSpec, square: &ViewShown) -> ViewShown {
    let angles = match (technique.sight, &prepared.scenario().view) {
        (SightSpec::Projected(angles), Some(view)) => Some((angles, view, "")),
        (SightSpec::Full, Some(view)) => Some(match recommended(prepared, view) {
            Some(angles) => (angles, view, ", the view recommended for this branching"),
            None => (view.current, view, ""),
        }),
        (_, None) => None,
    };
    match angles {
        Some((angles, view, why)) => {
            let beam = Beam::in_scene(&angles, &view.frame.to_patient);
            ViewShown {
                label: format!("{angles}{why}"),
                right: point(&beam.right),
                up: point(&beam.up),
                along: point(&beam.along),
            }
        }
        None => ViewShown {
            label: format!("{}; the scenario has no [view]", square.label),
            ..square.clone()
        },
    }
}

impl ViewsShown {
    /// The views of the scene of a technique.
    pub(super) fn new(prepared: &Prepared, technique: &TechniqueSpec) -> Self {
        let square = square(prepared);
        Self {
            operator: view(prepared, technique, &square),
            square,
        }
    }
}

impl SceneShown {
    /// The scene of a session, with the `views` of its technique.
    pub(super) fn new(
        prepared: &Prepared,
        drawn: &DrawnTrial<'_>,
        views: &ViewsShown,
        controls: Controls,
        session: &Session,
    ) -> Self {
        let scenario = prepared.scenario();
        let technique = drawn.technique();
        let target = prepared.target_branch();
        let solver = &scenario.solver;
        let exchange = technique.aids.exchange.as_ref();
        Self {
            name: scenario.name.clone(),
            description: scenario.description.clone(),
            origin: scenario.origin.clone(),
            made: session.made().clone(),
            went_back: session.went_back(),
            target: drawn.tree().branches()[target].name.clone(),
            reached_at: reached_at(prepared.reaching()),
            vessel: branches(drawn.tree(), target),
            believed: drawn.believed().map(|tree| branches(tree, target)),
            bodies: bodies(prepared, drawn),
            view: views.operator.clone(),
            square: views.square.clone(),
            guide: point(&prepared.guide_tip().exit),
            frame: frame(prepared, drawn.tree()),
            max_fed_mm: scenario.target.max_fed_mm,
            wall_limit_mn: scenario.target.wall_force_limit_mn,
            hands: HandsShown {
                feed_mm: FEED_MM,
                feed_mm_per_s: solver.feed_speed_mm_per_s,
                turn_deg: TURN_DEG,
                turn_deg_per_s: TURN_DEG_PER_S,
                wait_s: WAIT_S,
                controls,
                other_wire: exchange.map(|exchange| exchange.wire.clone()),
                inflated_s: INFLATED_S,
                balloon_mm: technique.aids.balloon.as_ref().map(|b| b.diameter_mm),
                devices: technique.plan.technique().words(technique, scenario),
            },
        }
    }
}
