//! What the page is told once: the vessel, the view, and what the hands have.

use serde::Serialize;

use super::moment::point;
use crate::hands::{FEED_MM, Made, Reach};
use crate::projection::Beam;
use crate::scenario::model::{Scenario, TechniqueSpec};
use crate::scenario::view::SightSpec;
use crate::trial::{DrawnTrial, Prepared, balloon};
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
    target: String,
    /// The vessel as it is.
    vessel: Vec<BranchShown>,
    /// The vessel as it is believed to be, where that is another: the roadmap.
    believed: Option<Vec<BranchShown>>,
    /// What stands in the lumen.
    bodies: Vec<BodyShown>,
    view: ViewShown,
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

#[derive(Debug, Clone, Serialize)]
struct HandsShown {
    feed_mm: f64,
    feed_mm_per_s: f64,
    turn_deg: f64,
    turn_deg_per_s: f64,
    wait_s: f64,
    reach: Reach,
    other_wire: Option<String>,
    balloon: bool,
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

/// The projection of the technique's sight, else the one in which the operator works, else one along the
/// scene's z axis.
fn view(scenario: &Scenario, technique: &TechniqueSpec) -> ViewShown {
    let angles = match (technique.sight, &scenario.view) {
        (SightSpec::Projected(angles), Some(view)) => Some((angles, view)),
        (SightSpec::Full, Some(view)) => Some((view.current, view)),
        (_, None) => None,
    };
    match angles {
        Some((angles, view)) => {
            let beam = Beam::in_scene(&angles, &view.frame.to_patient);
            ViewShown {
                label: angles.to_string(),
                right: point(&beam.right),
                up: point(&beam.up),
                along: point(&beam.along),
            }
        }
        None => ViewShown {
            label: "no [view] in the scenario: x to the right, y up".to_owned(),
            right: [1.0, 0.0, 0.0],
            up: [0.0, 1.0, 0.0],
            along: [0.0, 0.0, 1.0],
        },
    }
}

impl SceneShown {
    /// The scene of a session that was made as `made` says.
    pub(super) fn new(
        prepared: &Prepared,
        drawn: &DrawnTrial<'_>,
        reach: Reach,
        made: &Made,
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
            made: made.clone(),
            target: drawn.tree().branches()[target].name.clone(),
            vessel: branches(drawn.tree(), target),
            believed: drawn.believed().map(|tree| branches(tree, target)),
            bodies: bodies(prepared, drawn),
            view: view(scenario, technique),
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
                reach,
                other_wire: exchange.map(|exchange| exchange.wire.clone()),
                balloon: technique.aids.balloon.is_some(),
                devices: technique.plan.technique().words(technique, scenario),
            },
        }
    }
}
