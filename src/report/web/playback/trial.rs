//! One recorded trial as the page plays it.

use serde::Serialize;

use super::chart::{Bar, Chart, Curve};
use super::ending::ending;
use super::pack::{self, Grid, rounded};
use super::thin::{WirePoint, thinned};
use crate::report::film::{MovementKind, Stage, done, place, runs};
use crate::report::outline::SceneOutline;
use crate::report::reading::tip;
use crate::report::setting::Setting;
use crate::study::StrategyLabel;
use crate::trial::result::{TrialRecord, WireShape};

/// Every how many-th point of an axis that moves is kept; the page lays the others in between.
pub const AXIS_STRIDE: usize = 4;

/// A trial in the form that the page's script reads.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlayedTrial {
    /// Number of its scene.
    pub scene: usize,
    /// Technique and wire.
    pub strategy: String,
    /// Number of the trial.
    pub trial: u32,
    /// How it ended, in words.
    pub outcome: String,
    /// Why.
    pub ending: String,
    /// Factor drawn on every lumen diameter.
    pub diameter_factor: f64,
    /// Outer diameters in mm that the points name by number.
    pub diameters_mm: Vec<f64>,
    /// Which of them belong to a catheter.
    pub catheter: Vec<bool>,
    /// Points of the wire, and of what lies beside it, at each step: two numbers a step, 16 bits.
    pub counts: String,
    /// All points, of step after step from the tip to the guide: x, y, z in steps of the box, 16 bits.
    pub places: String,
    /// A byte a point: wall force within a millimetre, see [`pack::force`].
    pub forces: String,
    /// A byte a point: the number of its diameter.
    pub sizes: String,
    /// Time in s at the hands' speeds, a number a step, as all that follow.
    pub time_s: Vec<f64>,
    /// Wire outside the guide in mm.
    pub fed_mm: Vec<f64>,
    /// Angle of the wire's hand in degrees.
    pub hand_deg: Vec<f64>,
    /// Force of the hand on the wire in mN; above 0 it pushes.
    #[serde(rename = "push_mN")]
    pub push_mn: Vec<f64>,
    /// Largest wall force on the vessel in mN, leaving the guide included.
    #[serde(rename = "wall_mN")]
    pub wall_mn: Vec<f64>,
    /// Diameter of the balloon in mm at each step; empty where it stays.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub balloon_mm: Vec<f64>,
    /// Attempt under way.
    pub attempt: Vec<u32>,
    /// Where the tip lies, by number in `where_said`.
    pub where_at: Vec<usize>,
    /// The places that occur, in words.
    pub where_said: Vec<String>,
    /// What the hands do.
    pub actions: Vec<Action>,
    /// Axes of the branches at each step where they move, in steps of the box; every [`AXIS_STRIDE`]th point of
    /// a branch and its last; empty for a vessel that stays.
    pub axes: String,
    /// Name of the technique, by which the page finds its balloon.
    pub technique: String,
    /// Curves and time line as SVG.
    pub chart: String,
    /// What is drawn there.
    #[serde(skip)]
    pub curves: Chart,
}

/// One movement of the hands, or several of a kind in a row.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Action {
    /// Step from which it goes.
    pub from: usize,
    /// Step at which it is done.
    pub to: usize,
    /// What is done.
    pub said: String,
}

impl PlayedTrial {
    /// A trial as the page plays it; `None` where it left no complete record.
    #[must_use]
    pub fn new(
        setting: &Setting,
        stage: &Stage,
        grid: &Grid,
        label: &StrategyLabel,
        record: &TrialRecord,
    ) -> Option<Self> {
        let steps = record.trace.len();
        let complete = record.hands.len() == steps && record.shapes.len() == steps;
        if steps == 0 || !complete {
            return None;
        }
        let wires = &setting.wires;
        let own = wires.iter().find(|(name, _)| *name == label.wire);
        let wire_mm = own.map_or(0.0, |wire| wire.1);
        let mut pen = Points::default();
        for shape in &record.shapes {
            pen.add(grid, shape);
        }
        let thickest_wire = wires.iter().map(|w| w.1).fold(wire_mm, f64::max);
        let (where_said, where_at) = self::places(setting, stage, record);
        let numbers = |value: &dyn Fn(usize) -> f64, decimals: i32| -> Vec<f64> {
            (0..steps).map(|i| rounded(value(i), decimals)).collect()
        };
        let trace = &record.trace;
        let mut played = Self {
            scene: 0,
            strategy: label.name.clone(),
            technique: label.technique.clone(),
            trial: record.row.trial,
            outcome: record.row.outcome.label().to_owned(),
            ending: ending(setting, record),
            diameter_factor: record.row.diameter_factor,
            catheter: (pen.diameters_mm.iter())
                .map(|d| *d > 1.001 * thickest_wire)
                .collect(),
            diameters_mm: pen.diameters_mm,
            counts: pack::words(pen.counts),
            places: pack::words(pen.places.into_iter().flatten()),
            forces: pack::text(&pen.forces),
            sizes: pack::text(&pen.sizes),
            time_s: numbers(&|i| trace[i].time_s, 3),
            fed_mm: numbers(&|i| trace[i].outside_mm, 2),
            hand_deg: numbers(&|i| trace[i].twist_base_deg, 1),
            push_mn: numbers(&|i| trace[i].push_force_mN, 4),
            wall_mn: numbers(&|i| trace[i].wall_force_max_mN, 4),
            balloon_mm: balloon(record),
            attempt: record.hands.iter().map(|h| h.attempt).collect(),
            where_at,
            where_said,
            actions: actions(setting, stage, label, record),
            axes: axes(grid, record),
            chart: String::new(),
            curves: Chart::default(),
        };
        played.curves = played.curves_of(record);
        played.chart = played.curves.svg();
        Some(played)
    }

    /// Bytes that it takes in a page, about.
    #[must_use]
    pub fn bytes(&self) -> usize {
        let packed = [
            &self.counts,
            &self.places,
            &self.forces,
            &self.sizes,
            &self.axes,
        ];
        let packed: usize = packed.iter().map(|text| text.len()).sum();
        // Seven numbers of six letters a step.
        packed + self.chart.len() + 42 * self.time_s.len()
    }

    /// The curves of a trial and what the hands do.
    fn curves_of(&self, record: &TrialRecord) -> Chart {
        let mut bars: Vec<(String, Vec<(f64, f64)>)> = Vec::new();
        for run in runs(&record.hands) {
            let name = row_name(run.kind);
            let span = (self.time_s[run.from], self.time_s[run.to]);
            match bars.iter_mut().find(|(own, _)| own == name) {
                Some((_, spans)) => spans.push(span),
                None => bars.push((name.to_owned(), vec![span])),
            }
        }
        let curve = |values: &[f64]| -> Curve {
            self.time_s
                .iter()
                .copied()
                .zip(values.iter().copied())
                .collect()
        };
        Chart {
            push: curve(&self.push_mn),
            wall: curve(&self.wall_mn),
            bars: bars
                .into_iter()
                .map(|(name, spans)| Bar { name, spans })
                .collect(),
            range: None,
        }
    }
}

/// The points of all steps.
#[derive(Default)]
struct Points {
    counts: Vec<u16>,
    places: Vec<[u16; 3]>,
    forces: Vec<u8>,
    sizes: Vec<u8>,
    diameters_mm: Vec<f64>,
}

impl Points {
    fn add(&mut self, grid: &Grid, shape: &WireShape) {
        let beside = shape.beside.as_deref().map_or_else(Vec::new, thinned);
        for points in [thinned(shape), beside] {
            self.counts
                .push(u16::try_from(points.len()).unwrap_or(u16::MAX));
            for point in points.iter().take(usize::from(u16::MAX)) {
                self.point(grid, point);
            }
        }
    }

    fn point(&mut self, grid: &Grid, point: &WirePoint) {
        self.places.push(grid.steps(&point.place_mm));
        self.forces.push(pack::force(point.force_mn));
        let same = |d: &f64| (d - point.diameter_mm).abs() < 1e-6;
        let known = self.diameters_mm.iter().position(same);
        let size = known.unwrap_or_else(|| {
            self.diameters_mm.push(point.diameter_mm);
            self.diameters_mm.len() - 1
        });
        self.sizes.push(u8::try_from(size).unwrap_or(u8::MAX));
    }
}

/// The places of the tip in words: each once, and which holds at each step.
fn places(setting: &Setting, stage: &Stage, record: &TrialRecord) -> (Vec<String>, Vec<usize>) {
    let mut said: Vec<String> = Vec::new();
    let mut at = Vec::new();
    let rest = &setting.outline;
    // Without the wall, of which there is a copy for each step else.
    let mut branches = SceneOutline {
        branches: rest.branches.clone(),
        bodies: Vec::new(),
        wall: None,
        target: rest.target.clone(),
        guide_end_mm: rest.guide_end_mm,
        guide_direction: rest.guide_direction,
    };
    for (step, row) in record.trace.iter().enumerate() {
        if let Some(axes) = record.axes.get(step) {
            branches = branches.moved(axes);
        }
        let words = place(&branches, stage, &tip(row));
        let known = said.iter().position(|s| *s == words);
        at.push(known.unwrap_or_else(|| {
            said.push(words);
            said.len() - 1
        }));
    }
    (said, at)
}

fn actions(
    setting: &Setting,
    stage: &Stage,
    label: &StrategyLabel,
    record: &TrialRecord,
) -> Vec<Action> {
    let aids = stage.aids.iter().find(|a| a.technique == label.technique);
    let other = aids.and_then(|a| a.other_wire);
    let other = other.and_then(|wire| setting.wires.get(wire));
    let other_name = other.map_or("", |wire| &wire.0);
    let runs = runs(&record.hands);
    let said = runs.iter().map(|run| Action {
        from: run.from,
        to: run.to,
        said: done(
            &record.hands,
            std::slice::from_ref(run),
            (run.from, run.to),
            other_name,
        ),
    });
    said.collect()
}

/// Diameter of the balloon at each step; empty where it stays.
fn balloon(record: &TrialRecord) -> Vec<f64> {
    let all = || record.hands.iter().map(|h| rounded(h.balloon_mm, 3));
    let first = all().next().unwrap_or(0.0);
    let stays = all().all(|diameter| (diameter - first).abs() < 1e-9);
    if stays { Vec::new() } else { all().collect() }
}

/// How the row of the time line is called on which a kind of movement stands.
fn row_name(kind: MovementKind) -> &'static str {
    match kind {
        MovementKind::Feed => "wire fed",
        MovementKind::Withdraw => "withdrawn",
        MovementKind::Turn => "wire turned",
        MovementKind::FeedCatheter => "catheter fed",
        MovementKind::TurnCatheter => "catheter turned",
        MovementKind::Steer => "tip steered",
        MovementKind::AimGuide => "guide pointed",
        MovementKind::ChangeWire => "wire changed",
        MovementKind::Inflate => "balloon inflated",
        MovementKind::Deflate => "balloon deflated",
        MovementKind::Wait => "waited",
    }
}

/// The axes of all branches at all steps.
fn axes(grid: &Grid, record: &TrialRecord) -> String {
    let points = record.axes.iter().flat_map(|axes| &axes.branches_mm);
    let kept = points.flat_map(|branch| {
        let last = branch.len().saturating_sub(1);
        let numbered = branch.iter().enumerate();
        numbered.filter(move |(i, _)| i % AXIS_STRIDE == 0 || *i == last)
    });
    pack::words(kept.flat_map(|(_, p)| grid.steps(p)))
}
